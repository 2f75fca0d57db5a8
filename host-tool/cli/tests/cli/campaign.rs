//! `campaign`: a sample, one case alone, and the table in a page.

use super::bench::{Bench, GOOD, docs};

/// A case whose trip follows at once.
const CASE: &str = "clean-alumina/control-open/7";

/// A page with a place for one table.
const PAGE: &str =
    "# Page\n\n<!-- campaign: singles -->\nold\n<!-- end of campaign -->\n\nThe rest.\n";

#[test]
fn a_case_tells_its_story() {
    let bench = Bench::with(GOOD);
    let result = bench.run(&["campaign", "singles", "--case", CASE]);
    assert_eq!(result.code, 0, "{result:#?}");
    for text in [
        "singles clean-alumina/control-open/7, seed 1",
        "injected: control-open@",
        "tripped: sensor open",
        "end: tripped: sensor open",
        "above what was asked",
        "saggar rehearse docs/schedules/clean-alumina.toml",
        "Nothing wrong was found",
    ] {
        assert!(result.out.contains(text), "{text}: {result:#?}");
    }
}

#[test]
fn a_case_of_every_campaign_can_be_fired_alone() {
    let bench = Bench::with(GOOD);
    for (kind, id) in [
        ("doubles", "infiltrate-alumina/contactor-welded+pump-dead/10"),
        ("cuts", "infiltrate-alumina/tick=4321"),
        ("healthy", "seed=10000001"),
        ("seeds", "seed=10000003"),
        ("decade", "firings=4"),
    ] {
        let result = bench.run(&["campaign", kind, "--case", id]);
        assert_eq!(result.code, 0, "{kind}: {result:#?}");
        assert!(result.out.starts_with(&format!("{kind} {id}, seed 1")), "{result:#?}");
        let wrong = bench.run(&["campaign", kind, "--case", "seed=x"]);
        assert!(wrong.code == 2 && wrong.err.contains("no case"), "{kind}: {wrong:#?}");
    }
}

/// The rehearsal that a story names trips in the same tick.
#[test]
fn the_rehearsal_of_a_case_is_the_same_firing() {
    let bench = Bench::with(GOOD);
    let told = bench.run(&["campaign", "singles", "--case", CASE, "--json"]);
    let told: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    let tripped_s = told["tripped_at_seconds"].as_f64().unwrap();
    let top = docs().join("..");
    let arguments = told["rehearse"].as_str().unwrap();
    let arguments: Vec<String> = arguments
        .split(' ')
        .map(|word| match word.starts_with("docs/") {
            true => top.join(word).display().to_string(),
            false => word.to_owned(),
        })
        .collect();
    let mut all = vec!["rehearse", "--no-report", "--json"];
    all.extend(arguments.iter().map(String::as_str));
    let fired = bench.run(&all);
    let fired: serde_json::Value = serde_json::from_str(&fired.out).unwrap();
    let events = fired["events"].as_array().unwrap();
    let at_s = |event: &serde_json::Value| event["at_second"].as_f64().unwrap();
    assert!(events.iter().any(|event| (at_s(event) - tripped_s).abs() < 0.05), "{fired:#}");
}

#[test]
fn a_sample_gives_counts_for_programs() {
    let bench = Bench::with(GOOD);
    let part = &["campaign", "singles", "--every", "15000", "--seed", "3", "--json"];
    let result = bench.run(part);
    let found: serde_json::Value = serde_json::from_str(&result.out).unwrap();
    let number = |key: &str| found[key].as_u64().unwrap();
    assert!(number("cases") >= 36_000 && number("fired") < 20, "{found:#}");
    assert_eq!(number("fired"), number("chosen"));
    assert_eq!((number("seed"), found["shard"].as_str()), (3, Some("1/1")));
    let rows = found["rows"].as_array().unwrap();
    let firings: u64 = rows.iter().map(|row| row["firings"].as_u64().unwrap()).sum();
    assert_eq!(firings, number("fired"));
    assert_eq!(result.code == 0, found["failed"].as_array().unwrap().is_empty());
}

#[test]
fn what_cannot_be_run_is_refused() {
    let bench = Bench::with(GOOD);
    for (arguments, why) in [
        (&["bodies"][..], "invalid value 'bodies'"),
        (&["singles", "--shard", "0/3"], "such as 2/8"),
        (&["singles", "--shard", "4/3"], "such as 2/8"),
        (&["singles", "--shard", "two"], "such as 2/8"),
        (&["singles", "--every", "0"], "a whole number from 1 on"),
        (&["singles", "--cases", "5"], "take a sample with --every or --shard"),
        (&["singles", "--seed", "-1"], "give a whole number"),
        (&["singles", "--case", "infiltrate-alumina"], "an id looks like"),
        (&["singles", "--case", "infiltrate-alumina/control-open/25"], "has no case"),
        (&["singles", "--case", "job/control-open/1"], "has no case `job/control-open/1`"),
        (&["singles", "--case", "clean-alumina/pump-dead/1"], "has no case"),
        (&["singles", "--case", CASE, "--shard", "1/2"], "cannot be used with"),
    ] {
        let result = bench.run(&[&["campaign"], arguments].concat());
        let err = result.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(result.code == 2 && err.contains(why), "{arguments:?}: {result:#?}");
        assert_eq!(result.out, "", "{arguments:?}");
    }
}

#[test]
fn a_table_replaces_the_old_one_and_nothing_else() {
    let bench = Bench::with(GOOD);
    bench.write("page.md", PAGE);
    let result = bench.run(&["campaign", "singles", "--every", "15000", "--table", "page.md"]);
    assert!(result.out.contains("Table written into page.md"), "{result:#?}");
    let page = std::fs::read_to_string(bench.path("page.md")).unwrap();
    let (before, rest) = page.split_once("<!-- campaign: singles -->\n").unwrap();
    let (table, after) = rest.split_once("<!-- end of campaign -->").unwrap();
    assert_eq!((before, after), ("# Page\n\n", "\n\nThe rest.\n"));
    assert!(table.contains("a sample of the 3") && table.contains("seed 1"), "{table}");
    assert!(table.contains("| all | ") && !table.contains("old"), "{table}");
    assert!(table.contains("Diagnostic coverage: software detects"), "{table}");
}

/// Nothing is fired for a table that has no place, and the page stays as it is.
#[test]
fn a_page_in_an_odd_state_is_refused_before_anything_is_fired() {
    let bench = Bench::with(GOOD);
    bench.write("none.md", "# Page\n");
    bench.write("open.md", "<!-- campaign: singles -->\nold\n");
    bench.write("twice.md", PAGE.repeat(2));
    bench.write("fixed.md", PAGE);
    let mut fixed = std::fs::metadata(bench.path("fixed.md")).unwrap().permissions();
    fixed.set_readonly(true);
    std::fs::set_permissions(bench.path("fixed.md"), fixed).unwrap();
    for (page, why) in [
        ("missing.md", "there is no such file"),
        (".", "this is a folder"),
        ("none.md", "it has no line `<!-- campaign: singles -->`"),
        ("open.md", "it has no line `<!-- campaign: singles -->`"),
        ("twice.md", "more than once"),
        ("fixed.md", "it is read-only"),
    ] {
        let before = std::fs::read(bench.path(page)).ok();
        let began = std::time::Instant::now();
        let result = bench.run(&["campaign", "singles", "--table", page]);
        let err = result.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(result.code == 2 && err.contains(why), "{page}: {result:#?}");
        assert!(began.elapsed().as_secs() < 20, "{page}: it fired first");
        assert_eq!(std::fs::read(bench.path(page)).ok(), before, "{page}");
    }
}
