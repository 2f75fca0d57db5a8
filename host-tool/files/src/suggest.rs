//! Suggestions for misspelt words.

/// Suggestions that are less similar than this are noise.
const SIMILARITY_MIN: f64 = 0.7;

/// The candidate most similar to a word; `None` if none is similar enough.
pub fn nearest<'c>(
    word: &str,
    candidates: impl IntoIterator<Item = &'c str>,
) -> Option<&'c str> {
    let word = word.to_lowercase();
    let similarity = |candidate: &str| {
        let candidate = candidate.to_lowercase();
        let edits = strsim::normalized_damerau_levenshtein(&word, &candidate);
        // A common prefix counts for more than the same letters elsewhere.
        f64::max(edits, strsim::jaro_winkler(&word, &candidate) - 0.15)
    };
    candidates
        .into_iter()
        .map(|candidate| (similarity(candidate), candidate))
        .filter(|(similarity, _)| *similarity >= SIMILARITY_MIN)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn typing_errors_get_a_suggestion_and_other_words_do_not() {
        let keys = ["to_celsius", "kelvin_per_minute", "minutes"];
        assert_eq!(nearest("to_celcius", keys), Some("to_celsius"));
        assert_eq!(nearest("Minutes", keys), Some("minutes"));
        assert_eq!(nearest("minute", keys), Some("minutes"));
        assert_eq!(nearest("glass", keys), None);
    }
}
