//! Tests and paths that the page on the wire names, above all in its table of threats: each exists.

use super::{Source, quoted, read, root, sources, table};

/// A lower-case path such as `link::noise::any_bytes`: a test, or a module of tests.
fn is_test_name(text: &str) -> bool {
    let is_word = |word: &str| {
        !word.is_empty()
            && word.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
    };
    text.contains("::") && text.split("::").all(is_word)
}

/// A path from the top, such as `tests/upload/floods.rs`.
fn is_path(text: &str) -> bool {
    text.contains('/') && text.chars().all(|c| c.is_ascii_alphanumeric() || "_-./".contains(c))
}

/// Whether a file has a function of this name under `#[test]`.
fn has_test(text: &str, name: &str) -> bool {
    let lines: Vec<_> = text.lines().map(str::trim).collect();
    let head = format!("fn {name}(");
    lines.iter().enumerate().any(|(index, line)| {
        let attributes = lines[..index].iter().rev().take_while(|line| line.starts_with("#["));
        line.starts_with(&head) && attributes.into_iter().any(|line| *line == "#[test]")
    })
}

/// Whether this is the file of a module, whose path may lack its beginning.
fn is_module(path: &str, module: &str) -> bool {
    let module = format!("/{}", module.replace("::", "/"));
    path.ends_with(&format!("{module}.rs")) || path.ends_with(&format!("{module}/mod.rs"))
}

/// Whether a name is that of a test, or of a module with tests.
pub(super) fn is_test_found(files: &[Source], name: &str) -> bool {
    let (module, last) = name.rsplit_once("::").unwrap_or_default();
    files.iter().any(|file| {
        is_module(&file.path, module) && has_test(&file.text, last)
            || is_module(&file.path, name) && file.text.contains("#[test]")
    })
}

#[test]
fn every_test_and_path_named_on_the_wire_page_exists() {
    let files = sources("");
    let page = read("docs/wire.md");
    let names = quoted(&page);
    let is_missing = |name: &&String| {
        is_test_name(name) && !is_test_found(&files, name)
            || is_path(name) && !root().join(name.as_str()).exists()
    };
    let missing: Vec<_> = names.iter().filter(is_missing).collect();
    assert_eq!(missing, Vec::<&String>::new(), "docs/wire.md names what does not exist");
}

#[test]
fn every_threat_names_a_test_or_says_that_there_is_none() {
    for row in table(&read("docs/wire.md"), "") {
        let [number, _, _, shown] = row.as_slice() else { panic!("{row:?}: four cells") };
        let named = quoted(shown);
        assert!(named.iter().all(|it| is_test_name(it) || is_path(it)), "{number}: {named:?}");
        let is_told = shown.contains("none") || shown.starts_with("as T");
        assert!(!named.is_empty() || is_told, "{number}: neither a test nor none");
    }
}

#[test]
fn a_name_without_a_test_is_not_found() {
    let text = "#[test]\n#[cfg(unix)]\nfn cut() {\n}\n\nfn helper() {\n}\n";
    let file = Source { path: "tests/link/noise.rs".into(), text: text.into() };
    let files = [file];
    assert!(is_test_found(&files, "link::noise::cut") && is_test_found(&files, "link::noise"));
    for wrong in ["link::noise::helper", "link::noise::cu", "noise::hearsay", "ink::noise"] {
        assert!(is_test_name(wrong) && !is_test_found(&files, wrong), "{wrong}");
    }
}
