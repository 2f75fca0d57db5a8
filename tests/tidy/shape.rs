//! Size and layout of files and functions.

use super::{Source, root, sources};

/// Longest file.
const FILE_LINES_MAX: usize = 600;

/// Longest median of all files.
const FILE_LINES_MEDIAN: usize = 150;

/// Longest function, from its `fn` to its closing brace.
const FUNCTION_LINES_MAX: usize = 70;

fn all() -> Vec<Source> {
    ["firmware", "sim", "host-tool", "tests"].into_iter().flat_map(sources).collect()
}

#[test]
fn files_stay_small() {
    let mut lengths = Vec::new();
    for source in all() {
        let lines = source.text.lines().count();
        assert!(lines <= FILE_LINES_MAX, "{}: {lines} lines", source.path);
        lengths.push(lines);
    }
    lengths.sort_unstable();
    let median = lengths[lengths.len() / 2];
    assert!(median <= FILE_LINES_MEDIAN, "the median file has {median} lines");
}

#[test]
fn files_open_with_a_description() {
    for source in all() {
        assert!(source.text.starts_with("//! "), "{} does not open with `//!`", source.path);
    }
}

/// A module with submodules is a folder with a `mod.rs`, never a file beside a folder.
#[test]
fn a_module_is_a_file_or_a_folder() {
    for source in all() {
        let folder = root().join(source.path.trim_end_matches(".rs"));
        assert!(!folder.is_dir(), "{} belongs into its folder, as mod.rs", source.path);
    }
}

#[test]
fn functions_stay_small() {
    for source in all() {
        for (name, lines) in functions(&source.text) {
            assert!(lines <= FUNCTION_LINES_MAX, "{}: {name}: {lines} lines", source.path);
        }
    }
}

/// Names and lengths of the functions of a formatted file: a body ends at the first closing brace
/// with the indent of its `fn`.
pub(super) fn functions(text: &str) -> Vec<(String, usize)> {
    let lines: Vec<&str> = text.lines().collect();
    let mut found = Vec::new();
    for (index, line) in lines.iter().enumerate() {
        let Some(name) = function_name(line) else { continue };
        let indent = &line[..line.len() - line.trim_start().len()];
        let close = format!("{indent}}}");
        let rest = &lines[index..];
        // No body: only a declaration. A closing brace on the same line: a short function.
        let head = rest.iter().position(|line| line.ends_with(['{', '}', ';'])).unwrap_or(0);
        let last = if rest[head].ends_with('{') {
            rest.iter().position(|line| *line == close).expect("the end of a function")
        } else {
            head
        };
        found.push((name, last + 1));
    }
    found
}

fn function_name(line: &str) -> Option<String> {
    let mut words = line.split_whitespace();
    loop {
        match words.next()? {
            "fn" => break,
            "pub" | "const" | "async" | "unsafe" | "extern" | "\"C\"" => {}
            word if word.starts_with("pub(") => {}
            _ => return None,
        }
    }
    let name = words.next()?;
    let end = name.find(['(', '<'])?;
    Some(name[..end].to_owned())
}

#[test]
fn functions_are_measured() {
    let text = "impl A {\n    pub(crate) const fn b<T>(\n        a: T,\n    ) {\n        if c {\n        \
                }\n    }\n    fn d() {}\n    fn e();\n    fn f(\n    ) -> u8;\n}\nfn g() {\n    fn h() {}\n\n}\n\
                fn i() {\n}\n";
    let found = functions(text);
    let expected = [("b", 6), ("d", 1), ("e", 1), ("f", 2), ("g", 4), ("h", 1), ("i", 2)];
    assert_eq!(found, expected.map(|(name, lines)| (name.to_owned(), lines)));
}
