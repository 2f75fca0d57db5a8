//! The key tables of the reference pages are up to date and complete.

use std::fs;

use saggar_schedule::document::{markdown, sections};
use saggar_schedule::fault_list::kinds_markdown;
use saggar_schedule::keys::FileKind;

use super::docs;

const OPEN: &str = "<!-- keys: ";
const CLOSE: &str = "<!-- end of keys -->";

/// In place of a section: the kinds of faults.
const KINDS: &str = "kinds";

/// The page with its tables generated, and the paths of the sections that it describes.
fn regenerated(page: &str, kind: &str, file: FileKind) -> (String, Vec<String>) {
    let all = sections(file.keys());
    let (mut text, mut described) = (String::new(), Vec::new());
    let mut lines = page.lines();
    while let Some(line) = lines.next() {
        text += &format!("{line}\n");
        let Some(head) = line.strip_prefix(OPEN) else { continue };
        let head = head.strip_suffix(" -->").unwrap();
        let path = head.strip_prefix(kind).expect(head).trim_start();
        if path == KINDS {
            assert!(lines.any(|line| line == CLOSE), "the table of {head} has no end");
            text += &format!("{}{CLOSE}\n", kinds_markdown());
            described.push(path.to_owned());
            continue;
        }
        let (_, keys) = all.iter().find(|(known, _)| known == path).expect(head);
        assert!(lines.any(|line| line == CLOSE), "the table of {head} has no end");
        text += &format!("{}{CLOSE}\n", markdown(keys));
        described.push(path.to_owned());
    }
    (text, described)
}

#[test]
fn reference_pages_have_the_current_key_tables() {
    let overwrite = std::env::var_os("SAGGAR_BOOK").is_some_and(|value| value == "overwrite");
    for (page, kind, file) in [
        ("schedules.md", "schedule", FileKind::Schedule),
        ("furnace-profiles.md", "profile", FileKind::Profile),
        ("commands.md", "faults", FileKind::Faults),
    ] {
        let path = docs().join(page);
        let text = fs::read_to_string(&path).unwrap();
        let (wanted, described) = regenerated(&text, kind, file);
        if overwrite {
            fs::write(&path, &wanted).unwrap();
        } else {
            assert_eq!(
                text, wanted,
                "{page} is out of date: SAGGAR_BOOK=overwrite updates its tables"
            );
        }
        let kinds = described.iter().any(|path| path == KINDS);
        assert_eq!(kinds, file == FileKind::Faults, "{page} does not list the kinds of faults");
        for (section, _) in sections(file.keys()) {
            // The two sensors have the same keys.
            let known = described.contains(&section) || section == "limit_sensor";
            assert!(known, "{page} does not describe `{section}`");
        }
    }
}
