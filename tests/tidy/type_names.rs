//! Names of types in the product code: each is defined once in the whole workspace, boards included,
//! and an error is called one.

use std::collections::BTreeMap;

use super::{Source, boards, members, product};

/// The product code of every package and board.
fn packages() -> Vec<Source> {
    let folders = members().into_iter().chain(boards()).filter(|it| !it.starts_with("tests"));
    folders.flat_map(|folder| product(&format!("{folder}/src/"))).collect()
}

/// The type that a line defines. An alias with an indent is an associated type: its name is the
/// trait's.
fn defined(line: &str) -> Option<&str> {
    let word = line.trim_start();
    let word = match word.strip_prefix("pub") {
        Some(rest) if rest.starts_with(['(', ' ']) => rest.split_once(' ')?.1,
        _ => word,
    };
    let (kind, name) = word.split_once(' ')?;
    let type_alias = kind == "type" && !line.starts_with(char::is_whitespace);
    if !type_alias && !["struct", "enum", "trait", "union"].contains(&kind) {
        return None;
    }
    let end = name.find(|c: char| !(c.is_alphanumeric() || c == '_'));
    Some(&name[..end.unwrap_or(name.len())])
}

/// Types that are defined more than once, with their files.
fn duplicates(sources: &[Source]) -> Vec<String> {
    let mut files: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for source in sources {
        for name in source.code().filter_map(|(_, line)| defined(line)) {
            files.entry(name).or_default().push(&source.path);
        }
    }
    let twice = files.iter().filter(|(_, files)| files.len() > 1);
    twice.map(|(name, files)| format!("{name}: {}", files.join(", "))).collect()
}

/// Types that are errors and are not called so.
fn misnamed_errors(source: &Source) -> Vec<String> {
    let lines: Vec<_> = source.code().map(|(_, line)| line).collect();
    let mut names = Vec::new();
    for (index, line) in lines.iter().enumerate() {
        if line.contains("#[derive(") && line.contains("thiserror::Error") {
            names.extend(lines[index..].iter().find_map(|line| defined(line)));
        } else if let Some((_, name)) = line.split_once("::error::Error for ") {
            names.push(name.split([' ', '<', '{']).next().unwrap_or_default());
        }
    }
    names.retain(|name| !name.ends_with("Error"));
    names.iter().map(|name| format!("{}: {name}", source.path)).collect()
}

#[test]
fn every_type_name_is_defined_once() {
    let sources = packages();
    assert!(sources.iter().any(|source| source.text.contains("pub struct Controller")));
    assert_eq!(duplicates(&sources), Vec::<String>::new(), "say what each of them is");
}

#[test]
fn errors_are_called_errors() {
    let wrong: Vec<_> = packages().iter().flat_map(misnamed_errors).collect();
    assert_eq!(wrong, Vec::<String>::new(), "the name of an error type ends in `Error`");
}

#[test]
fn planted_names_are_found() {
    let source = |path: &str, text: &str| Source { path: path.into(), text: text.into() };
    let first =
        source("a.rs", "pub(crate) struct Log<T> {\n}\nenum Kind {}\ntype Bytes = [u8; 2];\n");
    let second =
        source("b.rs", "    pub trait Log: Copy {}\nimpl A {\n    type Bytes = u8;\n}\n");
    assert_eq!(duplicates(&[first, second]), ["Log: a.rs, b.rs"]);
    let derived =
        "#[derive(Debug, thiserror::Error)]\n#[error(\"no\")]\npub enum Refused {\n}\n";
    let written =
        "impl std::error::Error for Failure {}\nimpl core::error::Error for MyError {}\n";
    let found = misnamed_errors(&source("c.rs", &format!("{derived}{written}")));
    assert_eq!(found, ["c.rs: Refused", "c.rs: Failure"]);
}
