//! What somebody probably meant.

/// Below this likeness a suggestion is noise.
const LIKENESS_MIN: f64 = 0.7;

/// The candidate that is most like a word, if any is like it at all.
pub fn nearest<'c>(
    word: &str,
    candidates: impl IntoIterator<Item = &'c str>,
) -> Option<&'c str> {
    let word = word.to_lowercase();
    let likeness = |candidate: &str| {
        let candidate = candidate.to_lowercase();
        let edits = strsim::normalized_damerau_levenshtein(&word, &candidate);
        // A shared beginning counts for more than the same letters elsewhere.
        f64::max(edits, strsim::jaro_winkler(&word, &candidate) - 0.15)
    };
    candidates
        .into_iter()
        .map(|candidate| (likeness(candidate), candidate))
        .filter(|(likeness, _)| *likeness >= LIKENESS_MIN)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn finds_slips_of_the_finger_and_nothing_else() {
        let keys = ["to_celsius", "kelvin_per_minute", "minutes"];
        assert_eq!(nearest("to_celcius", keys), Some("to_celsius"));
        assert_eq!(nearest("Minutes", keys), Some("minutes"));
        assert_eq!(nearest("minute", keys), Some("minutes"));
        assert_eq!(nearest("glass", keys), None);
    }
}
