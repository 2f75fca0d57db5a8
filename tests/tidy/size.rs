//! Size of packages. `cargo test -p saggar-tests packages_stay_small -- --nocapture` prints
//! them as a table.

use super::shape::functions;
use super::{boards, members, product, without_tests};

/// Most lines of product code in a package, without blanks, comments and tests.
const PRODUCT_LINES_MAX: usize = 6_000;

/// Lines of code in a text without tests.
fn code_lines(text: &str) -> usize {
    let lines = text.lines().map(str::trim);
    lines.filter(|line| !line.is_empty() && !line.starts_with("//")).count()
}

#[test]
fn packages_stay_small() {
    println!("| package | product lines | files | median file | longest function |");
    println!("| --- | --- | --- | --- | --- |");
    let mut all = (0, 0);
    for package in members().into_iter().chain(boards()).filter(|it| !it.starts_with("tests")) {
        let files = product(&format!("{package}/src/"));
        let lines: usize = files.iter().map(|file| code_lines(&file.text)).sum();
        let mut lengths: Vec<_> = files.iter().map(|file| file.text.lines().count()).collect();
        lengths.sort_unstable();
        let functions = files.iter().flat_map(|file| functions(&file.text));
        let longest = functions.map(|(_, lines)| lines).max().unwrap_or(0);
        let (count, median) = (files.len(), lengths[lengths.len() / 2]);
        println!("| `{package}` | {lines} | {count} | {median} | {longest} |");
        all = (all.0 + lines, all.1 + count);
        assert!(
            lines <= PRODUCT_LINES_MAX,
            "{package} has {lines} lines of product code, and no package may have more than \
             {PRODUCT_LINES_MAX}: give a part of it a package of its own"
        );
    }
    println!("| all | {} | {} | | |", all.0, all.1);
}

#[test]
fn product_lines_are_counted() {
    let text = "//! A file.\n\nuse a::B;\n\n/// A comment.\nfn f() {\n    // Another.\n    g(\"//\");\n\n}\n\n\
                impl A {\n    #[cfg(test)]\n    fn h() {\n        let a = [B {\n        }];\n    }\n    fn i() {}\n}\n\n\
                #[cfg(test)]\n#[path = \"t.rs\"]\nmod t;\n#[cfg(test)]\nmod tests {\n    use super::*;\n\n    \
                fn j() {\n    }\n}\nfn k() {}\n";
    let product = without_tests(text);
    assert_eq!(product.lines().count(), text.lines().count(), "lines keep their numbers");
    // The `use`, three of `f`, three of the `impl`, and `k`.
    assert_eq!(code_lines(&product), 8, "{product}");
}
