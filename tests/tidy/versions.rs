//! The page on formats: every version in its table is that of the code, and every constant of a version
//! in product code has its row.

use super::{quoted, read, sources, table};

/// The number that a source file gives to a constant; for an array of bytes its last one.
fn value_of(text: &str, constant: &str) -> Option<u32> {
    let (_, rest) = text.split_once(&format!("const {constant}: "))?;
    let (_, value) = rest.split_once(" = ")?;
    let value = value.split(';').next()?;
    match value.rsplit_once("\\x") {
        Some((_, hex)) => u32::from_str_radix(hex.trim_end_matches('"'), 16).ok(),
        None => value.parse().ok(),
    }
}

#[test]
fn every_version_on_the_page_is_that_of_the_code() {
    let rows = table(&read("docs/formats.md"), "format");
    assert!(rows.len() >= 8, "{rows:?}");
    for row in rows {
        let [name, version, place, _] = row.as_slice() else { panic!("{row:?}: four cells") };
        let [constant, path] = &quoted(place)[..] else {
            panic!("{name}: a constant and a file")
        };
        let found = value_of(&read(path), constant);
        assert_eq!(found.map(|found| found.to_string()).as_ref(), Some(version), "{name}");
    }
}

#[test]
fn every_version_of_the_code_is_on_the_page() {
    let page = read("docs/formats.md");
    let is_version = |line: &str| {
        let line =
            line.trim_start().trim_start_matches("pub(super) ").trim_start_matches("pub ");
        line.strip_prefix("const ").is_some_and(|rest| {
            let name = rest.split(':').next().unwrap_or_default();
            (name == "VERSION" || name.ends_with("_VERSION") || name == "PROTOCOL")
                && rest.chars().any(|c| c.is_ascii_digit())
                && !rest.contains('[')
        })
    };
    for file in sources("") {
        let product = file.path.contains("/src/") && !file.path.starts_with("tests/");
        if product && file.text.lines().any(is_version) {
            assert!(page.contains(&file.path), "{} has a version without a row", file.path);
        }
    }
}

#[test]
fn values_are_read_from_the_code() {
    assert_eq!(value_of("pub const A: u8 = 7;\n", "A"), Some(7));
    assert_eq!(value_of("const M: [u8; 8] = *b\"NAME\\x0a\";\n", "M"), Some(10));
    assert_eq!(value_of("const A: u8 = B;\n", "A"), None);
}
