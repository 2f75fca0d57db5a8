//! Compares a command's output with the output that a page shows.

/// Whether `found` matches `shown`, where a line `...` stands for any lines and `[..]` for any part
/// of a line.
pub(crate) fn matches(shown: &[String], found: &str) -> bool {
    let found: Vec<&str> = found.lines().collect();
    let shown: Vec<&str> = shown.iter().map(String::as_str).collect();
    lines(&shown, &found)
}

fn lines(shown: &[&str], found: &[&str]) -> bool {
    match (shown, found) {
        ([], []) => true,
        (["...", rest @ ..], _) => (0..=found.len()).any(|skip| lines(rest, &found[skip..])),
        ([one, rest @ ..], [this, others @ ..]) => line(one, this) && lines(rest, others),
        ([], [_, ..]) | ([_, ..], []) => false,
    }
}

fn line(shown: &str, found: &str) -> bool {
    match shown.split_once("[..]") {
        None => shown == found,
        Some((before, after)) => found.strip_prefix(before).is_some_and(|rest| {
            rest.char_indices().any(|(at, _)| line(after, &rest[at..])) || line(after, "")
        }),
    }
}

#[test]
fn ellipses_match_anything_and_all_else_is_exact() {
    let shown = |text: &str| text.lines().map(str::to_owned).collect::<Vec<_>>();
    assert!(matches(&shown("a\n...\nd"), "a\nb\nc\nd\n"));
    assert!(matches(&shown("a\n...\nd"), "a\nd\n"));
    assert!(!matches(&shown("a\n...\nd"), "a\nb\nd\ne\n"));
    assert!(!matches(&shown("a\nd"), "a\nb\nd\n"));
    assert!(!matches(&shown(""), "a\n"));
    assert!(matches(&shown("at [..] °C"), "at 1120 °C\n"));
    assert!(!matches(&shown("at [..] °C"), "at 1120 K\n"));
}
