//! The name of a report's folder: always a single plain name below `rehearsals`.

use std::ffi::OsStr;

use sha2::{Digest as _, Sha256};

use saggar_files::{hex, is_forbidden_in_name, short};

/// Maximum length (bytes): file systems allow 255, and the path of the files inside must not become
/// too long.
const BYTES_MAX: usize = 160;

/// Names that some systems reserve for devices, in any folder, in either case, with any ending.
const DEVICES: [&str; 6] = ["CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$"];

/// A folder name from the schedule's file name without its ending and the conditions that differ from
/// the defaults. If that is no plain name: the plain part of the file name and a digest of both;
/// `None` if it has no plain part.
pub fn folder_name(stem: &OsStr, differs: &str) -> Option<String> {
    let between = if differs.is_empty() { "" } else { "+" };
    let whole = stem.to_str().map(|stem| format!("{stem}{between}{differs}"));
    if let Some(whole) = whole.filter(|name| is_plain(name)) {
        return Some(whole);
    }
    let lossy = stem.to_string_lossy();
    let replaced: String = lossy.chars().map(|c| if fits(c) { c } else { '_' }).collect();
    let start = replaced.trim_start().trim_end_matches(ends_badly);
    if start.is_empty() {
        return None;
    }
    let mark = if is_device(start) { "_" } else { "" };
    let mut hash = Sha256::new();
    hash.update(stem.as_encoded_bytes());
    hash.update(between);
    hash.update(differs);
    let digest = hex(&hash.finalize());
    let digits = short(&digest);
    let room = BYTES_MAX - mark.len() - "+".len() - digits.len();
    let start = &start[..start.floor_char_boundary(room)];
    Some(format!("{mark}{start}+{digits}"))
}

/// A name that every file system stores unchanged, and that is not a path.
fn is_plain(name: &str) -> bool {
    (1..=BYTES_MAX).contains(&name.len())
        && name.chars().all(fits)
        && !name.starts_with(char::is_whitespace)
        && !name.ends_with(ends_badly)
        && !is_device(name)
}

/// A character that is allowed in names on every system; the replacement character is not text.
fn fits(c: char) -> bool {
    !is_forbidden_in_name(c)
        && !matches!(
            c,
            '<' | '>' | ':' | '"' | '/' | '\\' | '|' | '?' | '*' | char::REPLACEMENT_CHARACTER
        )
}

/// Some systems drop dots and spaces at the end; `.` and `..` are folders.
fn ends_badly(c: char) -> bool {
    c == '.' || c.is_whitespace()
}

fn is_device(name: &str) -> bool {
    let first = name.split('.').next().unwrap_or_default().trim_end().to_ascii_uppercase();
    let numbered = ["COM", "LPT"].iter().any(|kind| {
        let number = first.strip_prefix(kind).map(|rest| rest.chars().collect::<Vec<_>>());
        matches!(number.as_deref(), Some(['0'..='9' | '¹' | '²' | '³']))
    });
    numbered || DEVICES.contains(&first.as_str())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_plain_name_stays_as_it_is() {
        for (stem, differs, name) in [
            ("job", "", "job"),
            ("job", "mains70+limit-open@2.5", "job+mains70+limit-open@2.5"),
            ("Müller 2.1", "", "Müller 2.1"),
            ("console", "", "console"),
            ("com10", "", "com10"),
        ] {
            assert_eq!(folder_name(OsStr::new(stem), differs).as_deref(), Some(name));
        }
    }

    #[test]
    fn two_odd_names_do_not_share_a_folder() {
        let name = |stem: &str, differs| folder_name(OsStr::new(stem), differs);
        let all = [name("a:b", ""), name("a?b", ""), name("a_b", ""), name("a:b", "seed2")];
        for (index, one) in all.iter().enumerate() {
            assert!(one.as_ref().is_some_and(|one| one.starts_with("a_b")), "{all:?}");
            assert!(all[..index].iter().all(|other| other != one), "{all:?}");
        }
    }

    #[test]
    fn where_nothing_is_plain_there_is_no_name() {
        for stem in ["", ".", "..", "...", " . "] {
            assert_eq!(folder_name(OsStr::new(stem), ""), None, "{stem:?}");
        }
        let blank = folder_name(OsStr::new("\u{a0}"), "").expect("a name");
        assert!(blank.starts_with("_+"), "{blank}");
    }

    #[cfg(unix)]
    #[test]
    fn bytes_that_are_no_text_make_a_name_by_their_digest() {
        use std::os::unix::ffi::OsStrExt as _;
        let name = |bytes: &[u8]| folder_name(OsStr::from_bytes(bytes), "").expect("a name");
        let (one, other) = (name(b"caf\xe9"), name(b"caf\xe8"));
        assert!(one.starts_with("caf_+") && other.starts_with("caf_+") && one != other);
    }

    proptest! {
        #[test]
        fn a_name_is_always_plain(stem in "\\PC{0,90}|[. a:/\\\\\0-\x1f]{0,12}", differs in "[+a-z@.]{0,200}") {
            if let Some(name) = folder_name(OsStr::new(&stem), &differs) {
                prop_assert!(is_plain(&name), "{name:?}");
                let mut parts = std::path::Path::new(&name).components();
                let one = matches!(parts.next(), Some(std::path::Component::Normal(part)) if part == name.as_str());
                prop_assert!(one && parts.next().is_none(), "{name:?}");
            }
        }
    }
}
