//! The safety page: a row for every trip cause, in order, with a test that exists, is named like the
//! cause and tests it; and the same advice after a trip as the tools print.

use saggar_core::Cause;

use super::{quoted, read, table};

#[test]
fn every_cause_has_its_row_and_its_test() {
    let rows = table(&read("docs/safety.md"), "cause");
    let names: Vec<_> = rows.iter().map(|row| row[0].as_str()).collect();
    assert_eq!(names, Cause::ALL.map(Cause::name));
    for (row, cause) in rows.iter().zip(Cause::ALL) {
        assert_eq!(row.len(), 6, "{}: six cells", cause.name());
        assert!(row.iter().all(|cell| !cell.is_empty()), "{}: an empty cell", cause.name());
        let tests = quoted(&row[5]);
        let [path] = tests.as_slice() else { panic!("{}: one test", cause.name()) };
        assert_test_exists(path, cause);
    }
}

fn assert_test_exists(path: &str, cause: Cause) {
    let (module, name) = path.rsplit_once("::").expect("module::test");
    assert_eq!(name, cause.name().replace(' ', "_"), "named as the cause is");
    let text = read(&format!("tests/{}.rs", module.replace("::", "/")));
    let head = format!("#[test]\nfn {name}() {{");
    let (_, body) = text.split_once(&head).unwrap_or_else(|| panic!("{path} is no test"));
    let (body, _) = body.split_once("\n}").expect("an end");
    assert!(body.contains(&format!("Cause::{cause:?}")), "{path} is not about {cause:?}");
}

#[test]
fn every_cause_has_its_advice_on_the_page() {
    let rows = table(&read("docs/safety.md"), "trip");
    let expected = Cause::ALL.map(|cause| vec![cause.name(), cause.advice()]);
    assert_eq!(rows, expected);
}

/// The list that the table is compared with contains every variant of the type.
#[test]
fn the_list_of_causes_is_complete() {
    let text = read("firmware/core/src/interlock/cause.rs");
    let (_, body) = text.split_once("pub enum Cause {").expect("the type");
    let (body, _) = body.split_once("\n}").expect("its end");
    let named = body.lines().filter_map(|line| line.trim().strip_suffix(','));
    let named: Vec<_> = named.filter(|name| !name.contains(' ')).collect();
    assert_eq!(named, Cause::ALL.map(|cause| format!("{cause:?}")));
}

/// A page for every cause, named and titled like it, with the same four questions answered.
#[test]
fn every_cause_has_its_page() {
    let summary = read("docs/SUMMARY.md");
    for cause in Cause::ALL {
        let path = format!("causes/{}.md", cause.name().replace(' ', "-"));
        let page = read(&format!("docs/{path}"));
        let title = page.lines().next().unwrap_or_default().trim_start_matches("# ");
        assert_eq!(title.to_lowercase(), cause.name(), "{path}");
        assert!(
            summary.contains(&format!("[{title}]({path})")),
            "{path} is not in the summary"
        );
        let mut rest = page.as_str();
        for heading in
            ["What happened", "What to check", "How to clear it at the device", "Exercise"]
        {
            let marker = format!("\n## {heading}\n\n");
            let (_, after) =
                rest.split_once(&marker).unwrap_or_else(|| panic!("{path}: {heading}"));
            assert!(!after.trim_start().starts_with('#'), "{path}: nothing below {heading}");
            rest = after;
        }
    }
}
