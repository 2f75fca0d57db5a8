//! Rules for the source tree. Facts that a document states are read from that document, so that
//! they are written down once.

mod arrows;
mod campaign_page;
mod circles;
mod core_rules;
mod features;
mod house;
mod named_tests;
mod permit;
mod pins;
mod safety;
mod shape;
mod size;
mod streams;
mod type_names;
mod uses;
mod versions;

use std::fs;
use std::path::{Path, PathBuf};

/// The top of the tree.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("a workspace").to_path_buf()
}

/// The text of a file, by its path from the top.
fn read(path: &str) -> String {
    let full = root().join(path);
    fs::read_to_string(&full).unwrap_or_else(|why| panic!("{}: {why}", full.display()))
}

/// Folders of the packages of the workspace.
fn members() -> Vec<String> {
    let workspace = read("Cargo.toml");
    let (_, members) = workspace.split_once("members = [").expect("the members");
    let (members, _) = members.split_once(']').expect("their end");
    members.split('"').skip(1).step_by(2).map(str::to_owned).collect()
}

/// Folders of the packages that are images for bare metal.
fn boards() -> Vec<String> {
    let entries = fs::read_dir(root().join("firmware/boards")).expect("boards");
    let folders = entries.map(|entry| entry.expect("an entry").path());
    let mut found: Vec<_> = folders
        .filter(|folder| folder.join("Cargo.toml").exists())
        .map(|folder| folder.strip_prefix(root()).expect("below the top").display().to_string())
        .collect();
    found.sort();
    assert!(!found.is_empty(), "no boards");
    found
}

/// One source file.
struct Source {
    /// Path from the top, with slashes.
    path: String,
    text: String,
}

impl Source {
    /// Lines without their `//` comments. A `//` inside a string cuts the line short, which does not
    /// matter to any of these rules.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        self.text
            .lines()
            .enumerate()
            .map(|(index, line)| (index + 1, line.split("//").next().unwrap_or_default()))
    }
}

/// All Rust files below a folder, by path.
fn sources(under: &str) -> Vec<Source> {
    let mut found = Vec::new();
    collect(&root().join(under), &mut found);
    found.sort_by(|a, b| a.path.cmp(&b.path));
    assert!(!found.is_empty(), "no sources under {under}");
    found
}

/// Parts of the paths of files that hold only tests, or what tests share.
const TESTS: [&str; 3] = ["/tests/", "/tests.rs", "/fixture.rs"];

/// The product code below a folder: its files, without tests.
fn product(under: &str) -> Vec<Source> {
    let mut files = sources(under);
    files.retain(|source| !TESTS.iter().any(|name| source.path.contains(name)));
    for source in &mut files {
        source.text = without_tests(&source.text);
    }
    files
}

/// A formatted text with the lines that are only for tests blanked out.
fn without_tests(text: &str) -> String {
    let mut lines: Vec<_> = text.lines().collect();
    let mut rest = lines.iter_mut();
    let marks = ["#[cfg(test)]", "#[cfg(all(test, "];
    while let Some(mark) = rest.find(|line| marks.iter().any(|it| line.trim().starts_with(it)))
    {
        let (indent, _) = std::mem::take(mark).split_once('#').unwrap_or_default();
        let close = format!("{indent}}}");
        let mut inside = false;
        for line in rest.by_ref().map(std::mem::take) {
            let attribute = !inside && line.trim_start().starts_with("#[");
            inside |= line.ends_with('{');
            if !attribute && !inside || line == close {
                break;
            }
        }
    }
    lines.join("\n")
}

fn collect(folder: &Path, found: &mut Vec<Source>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        if path.is_dir() {
            if !(name.starts_with('.') || name == "target" || name == "book") {
                collect(&path, found);
            }
        } else if name.ends_with(".rs") {
            let from_top = path.strip_prefix(root()).expect("below the top");
            let parts: Vec<_> = from_top.iter().map(|part| part.to_string_lossy()).collect();
            let text = fs::read_to_string(&path).expect("readable");
            found.push(Source { path: parts.join("/"), text });
        }
    }
}

/// Header cells of the first table whose header begins with this cell.
fn table_head(text: &str, first_head: &str) -> Vec<String> {
    let heads = text.lines().filter(|line| line.starts_with('|')).map(cells);
    let head = heads.into_iter().find(|cells| cells[0] == first_head);
    head.unwrap_or_else(|| panic!("no table that begins with \"{first_head}\""))
}

/// Rows of that table.
fn table(text: &str, first_head: &str) -> Vec<Vec<String>> {
    let rows: Vec<_> = text
        .lines()
        .skip_while(|line| !(line.starts_with('|') && cells(line)[0] == first_head))
        .skip(2)
        .take_while(|line| line.starts_with('|'))
        .map(cells)
        .collect();
    assert!(!rows.is_empty(), "no table that begins with \"{first_head}\"");
    rows
}

fn cells(line: &str) -> Vec<String> {
    let inner = line.trim().trim_start_matches('|').trim_end_matches('|');
    inner.split('|').map(|cell| cell.trim().to_owned()).collect()
}

/// The texts in backticks in a cell.
fn quoted(cell: &str) -> Vec<String> {
    cell.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}
