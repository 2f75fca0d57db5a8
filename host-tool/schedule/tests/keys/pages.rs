//! The tables of the reference pages are those of the keys.

use std::fs;

use saggar_schedule::document::{markdown, sections};
use saggar_schedule::keys::FileKind;

use super::docs;

const OPEN: &str = "<!-- keys: ";
const CLOSE: &str = "<!-- end of keys -->";

/// A page with its tables made anew, and the sections that have one.
fn anew(page: &str, kind: &str, file: FileKind) -> (String, Vec<String>) {
    let all = sections(file.keys());
    let (mut text, mut told) = (String::new(), Vec::new());
    let mut lines = page.lines();
    while let Some(line) = lines.next() {
        text += &format!("{line}\n");
        let Some(head) = line.strip_prefix(OPEN) else { continue };
        let head = head.strip_suffix(" -->").unwrap();
        let path = head.strip_prefix(kind).expect(head).trim_start();
        let (_, keys) = all.iter().find(|(known, _)| known == path).expect(head);
        assert!(lines.any(|line| line == CLOSE), "the table of {head} has no end");
        text += &format!("{}{CLOSE}\n", markdown(keys));
        told.push(path.to_owned());
    }
    (text, told)
}

#[test]
fn the_pages_have_the_tables_of_the_keys() {
    let overwrite = std::env::var_os("SAGGAR_BOOK").is_some_and(|value| value == "overwrite");
    for (page, kind, file) in [
        ("schedules.md", "schedule", FileKind::Schedule),
        ("furnace-profiles.md", "profile", FileKind::Profile),
    ] {
        let path = docs().join(page);
        let text = fs::read_to_string(&path).unwrap();
        let (wanted, told) = anew(&text, kind, file);
        if overwrite {
            fs::write(&path, &wanted).unwrap();
        } else {
            assert_eq!(text, wanted, "{page}: SAGGAR_BOOK=overwrite writes its tables anew");
        }
        for (section, _) in sections(file.keys()) {
            // The two sensors have the same keys.
            let known = told.contains(&section) || section == "limit_sensor";
            assert!(known, "{page} does not tell of `{section}`");
        }
    }
}
