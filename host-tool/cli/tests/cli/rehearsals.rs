//! `rehearse`: conditions, report folders, and reports that cannot be written.

use std::fs;

use serde_json::Value;

use super::bench::{Bench, GOOD, RunOutput, good_furnace};

/// A firing of half an hour that takes almost no time to rehearse.
pub(super) const SHORT: &str = r#"name = "Short"
furnace = "furnace.toml"

[work]
body = "alumina"
wall_millimetre = 0.5
area_square_millimetre = 220

[[stage]]
ramp = { to_celsius = 300, kelvin_per_minute = 10 }

[[stage]]
soak = { minutes = 2, band_kelvin = 5 }
"#;

pub(super) fn json(result: &RunOutput) -> Value {
    serde_json::from_str(&result.out).unwrap_or_else(|_| panic!("{result:#?}"))
}

pub(super) fn fact(verdict: &Value, label: &str) -> String {
    let facts = verdict["facts"].as_array().unwrap();
    let fact = facts.iter().find(|fact| fact["label"] == label);
    fact.unwrap_or_else(|| panic!("no {label}: {facts:#?}"))["value"].as_str().unwrap().into()
}

pub(super) fn folders(bench: &Bench) -> Vec<String> {
    let entries = fs::read_dir(bench.path("rehearsals")).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<String> = names.collect();
    names.sort();
    names
}

#[test]
fn default_conditions_are_not_mentioned() {
    let result = Bench::with(SHORT).run(&["rehearse", "job.toml", "--no-report"]);
    assert_eq!(result.code, 0, "{result:#?}");
    let mut lines = result.out.lines().skip(1);
    assert_eq!(lines.next(), Some("PASS: all 5 checks passed"));
    assert_eq!(lines.next(), Some(""));
}

#[test]
fn other_conditions_are_named_and_have_their_own_folder() {
    let bench = Bench::with(SHORT);
    bench.write("weak.toml", good_furnace().replace("rated_watt = 1200", "rated_watt = 900"));
    let plain = bench.run(&["rehearse", "job.toml", "--json"]);
    let page = fs::read(bench.path("rehearsals/job/report.html")).unwrap();
    let arguments = [
        "rehearse",
        "job.toml",
        "--mains",
        "70",
        "--fault",
        "limit-open@2.5",
        "--seed",
        "3",
        "--furnace",
        "weak.toml",
    ];
    let result = bench.run(&arguments);
    assert_eq!(result.code, 1, "{result:#?}");
    let text = result.out.replace("\n     ", " ");
    let conditions = "with mains at 70 %, limit-open@2.5, seed 3, profile weak.toml\n";
    assert!(text.contains(conditions), "{text}");
    assert_eq!(folders(&bench), ["job", "job+mains70+limit-open@2.5+seed3+weak"]);
    assert_eq!(fs::read(bench.path("rehearsals/job/report.html")).unwrap(), page);

    let verdict = json(&bench.run(&[&arguments[..], &["--json"]].concat()));
    let profile = fact(&verdict, "Furnace profile");
    assert!(profile.starts_with("weak.toml, SHA-256 "), "{profile}");
    assert_ne!(fact(&json(&plain), "Furnace profile")[24..], profile[21..]);
    assert_eq!(fact(&verdict, "Rated power"), "900 W");
    assert_eq!(fact(&verdict, "Mains"), "70 % of nominal, 161 V");
    assert_eq!(fact(&verdict, "Fault"), "limit-open@2.5");
}

/// On a terminal of 24 lines the first line of a verdict scrolls off.
#[test]
fn the_verdict_ends_with_pass_or_fail_and_says_why_nothing_is_cleared() {
    let bench = Bench::with(SHORT);
    let last = |more: &[&str]| {
        let result = bench.run(&[&["rehearse", "job.toml"][..], more].concat());
        let lines: Vec<&str> = result.out.lines().collect();
        let first = lines[1].to_owned();
        let end = lines.iter().rposition(|line| **line == first).unwrap();
        assert!(end > 1, "the first line stands at the end once more: {result:#?}");
        lines[end..].join("\n")
    };
    let report = "Report: rehearsals/job/report.html";
    let cleared = last(&[]);
    let path = "rehearsals/job/clearance.json";
    assert!(cleared.starts_with("PASS: "), "{cleared}");
    assert!(cleared.ends_with(&format!("\n{report}\nCleared for upload: {path}")), "{cleared}");
    for (more, why) in [
        (&["--mains", "95"][..], "--mains was not 100 %"),
        (&["--no-operator"], "--no-operator was given"),
        (&["--fault", "pump-dead@0"], "a fault was injected"),
        (&["--fault", "control-open@1", "--mains", "95"], "the verdict is FAIL; a fault was"),
        (&["--no-report"], "--no-report was given"),
    ] {
        let end = last(more);
        let (_, text) = end.split_once("\nNot cleared for upload: ").unwrap();
        assert!(text.starts_with(why), "{end}");
        if let Some(report) = end.lines().find_map(|line| line.strip_prefix("Report: ")) {
            let page = fs::read_to_string(bench.path(report)).unwrap();
            let text = text.replace("\n  ", " ");
            assert!(page.contains(&format!("<dd>not cleared: {text}</dd>")), "{text}");
        }
    }
}

/// A soak that is lost early, after a vacuum stage, which makes no step; and a soak that is never
/// reached.
const LOST: &str = r#"name = "Lost"
furnace = "furnace.toml"

[work]
body = "alumina"
wall_millimetre = 0.5
area_square_millimetre = 220

[[stage]]
ramp = { to_celsius = 40, kelvin_per_minute = 5 }

[[stage]]
vacuum = { from_celsius = 350, to_hectopascal = 50, within_minutes = 3, until_end_of = "hot" }

[[stage]]
soak = { minutes = 15, band_kelvin = 3, patience_minutes = 1 }
name = "warm"

[[stage]]
ramp = { to_celsius = 400, kelvin_per_minute = 10 }

[[stage]]
soak = { minutes = 2, band_kelvin = 5 }
name = "hot"
"#;

#[test]
fn a_soak_that_is_lost_is_named_with_its_overshoot() {
    let bench = Bench::with(LOST);
    // With the most feed-forward that `check` accepts at low temperatures it overshoots at these gains.
    let (right, wrong) = (
        "hold_watt = 0\njoule_per_kelvin = 480\n",
        "hold_watt = 60\njoule_per_kelvin = 2000\n",
    );
    let good = good_furnace();
    assert!(good.contains(right));
    bench.write("furnace.toml", good.replace(right, wrong));
    let result = bench.run(&["rehearse", "job.toml", "--no-report"]);
    assert_eq!(result.code, 1, "{result:#?}");
    let text = result.out.replace("\n     ", " ");
    assert!(
        text.contains(
            "FAIL Ending: stage 3 \"warm\" was outside its band for longer than its "
        ),
        "{text}"
    );
    assert!(text.contains(" K above its 40 °C at minute "), "{text}");
    let verdict = json(&bench.run(&["rehearse", "job.toml", "--no-report", "--json"]));
    let findings = verdict["findings"].as_array().unwrap();
    let stage = serde_json::json!({ "number": 3, "name": "warm" });
    for (subject, limit) in [("Overshoot", 10.0), ("Soak band", 3.0)] {
        let found = findings.iter().find(|found| found["subject"] == subject).unwrap();
        assert_eq!((&found["outcome"], &found["limit"]), (&"fail".into(), &limit.into()));
        assert!(found["measured"].as_f64().unwrap() > limit, "{found}");
        assert_eq!(found["stage"], stage, "{found}");
        let sentence = found["sentence"].as_str().unwrap();
        assert!(sentence.ends_with(", in stage 3 \"warm\"."), "{sentence}");
    }
    assert_eq!(findings[0]["stage"], stage);
}

#[test]
fn many_faults_give_a_valid_folder_name() {
    let bench = Bench::with(SHORT);
    let mut arguments = vec!["rehearse", "job.toml"];
    for fault in [
        "control-open@4000.5",
        "control-short@4000.5",
        "control-drift@4000.5",
        "limit-open@4000.5",
        "element-open@4000.5",
        "switch-stuck@4000.5",
        "closure-lost@4000.5",
        "seal-leaks@4000.5",
        "pump-dead@4000.5",
        "tick-late@4000.5",
    ] {
        arguments.extend(["--fault", fault]);
    }
    assert_eq!(bench.run(&arguments).code, 0);
    let names = folders(&bench);
    assert!(names.len() == 1 && names[0].len() == "job+12345678".len(), "{names:?}");
}

#[test]
fn a_fault_after_the_end_is_reported_as_not_struck() {
    let bench = Bench::with(SHORT);
    let arguments = ["rehearse", "job.toml", "--no-report", "--fault", "pump-dead@45"];
    let verdict = json(&bench.run(&[&arguments[..], &["--json"]].concat()));
    let minute = (verdict["duration_second"].as_f64().unwrap() / 60.0).round();
    let missed = format!("did not strike, the firing ended at minute {minute}");
    assert_eq!(fact(&verdict, "Fault"), format!("pump-dead@45: {missed}"));
    let result = bench.run(&arguments);
    assert_eq!(result.code, 0, "{result:#?}");
    let missed = format!("pump-dead@45 did not strike: the firing ended at minute {minute}\n");
    assert!(result.out.contains(&missed), "{}", result.out);
}

#[test]
fn the_file_and_standard_output_are_the_same_bytes() {
    let bench = Bench::with(SHORT);
    let result = bench.run(&["rehearse", "job.toml", "--json"]);
    let file = fs::read_to_string(bench.path("rehearsals/job/verdict.json")).unwrap();
    assert_eq!(result.out, file);
    let verdict = json(&result);
    let findings = verdict["findings"].as_array().unwrap();
    let duration = findings.iter().find(|finding| finding["subject"] == "Duration").unwrap();
    let ended = verdict["events"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (&ended["kind"], &ended["at_second"]),
        (&"ended".into(), &verdict["duration_second"])
    );
    // The verdict takes it from the trace, which has a row per second.
    let off = ended["at_second"].as_f64().unwrap() - duration["measured"].as_f64().unwrap();
    assert!(off.abs() <= 1.0, "{ended} {duration}");
}

#[test]
fn an_unusable_report_folder_is_refused_before_the_rehearsal() {
    let bench = Bench::with(SHORT);
    bench.write("taken", "a file");
    fs::create_dir_all(bench.path("half/trace.csv")).unwrap();
    for (folder, why) in [
        ("taken", "no report: the folder taken cannot be created: a file has the name"),
        ("taken/deeper", "a file has the name of the folder"),
        ("half", "half/trace.csv cannot be written: a folder has this name: move the folder"),
    ] {
        let result = bench.run(&["rehearse", "job.toml", "--out", folder]);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
        let err = result.err.replace("\n  ", " ");
        assert!(err.contains(why) && !err.contains("os error"), "{err}");
    }
    assert_eq!(fs::read_dir(bench.path("half")).unwrap().count(), 1);
}

/// A limit on the file size lets the small files through, but not the trace, so writing fails after
/// the firing.
#[cfg(unix)]
#[test]
fn the_verdict_is_printed_even_if_the_report_cannot_be_written() {
    let bench = Bench::with(SHORT);
    for (more, start) in [("", "Short on Dunlin\nPASS: "), (" --json", "{\n  \"ok\": true")] {
        let line = format!(
            "trap '' XFSZ; ulimit -f 8; exec {} rehearse job.toml --out here{more}",
            env!("CARGO_BIN_EXE_saggar")
        );
        let output = std::process::Command::new("sh")
            .args(["-c", &line])
            .current_dir(bench.path("."))
            .output()
            .unwrap();
        let (out, err) = (
            String::from_utf8(output.stdout).unwrap(),
            String::from_utf8(output.stderr).unwrap(),
        );
        assert_eq!(output.status.code(), Some(2), "{out}\n{err}");
        assert!(out.starts_with(start), "{out}");
        let err = err.replace("\n  ", " ");
        assert!(err.starts_with("saggar: no report: here/report.html cannot be written: "));
        assert!(err.contains("allows no file of this size"), "{err}");
        assert_eq!(fs::read_dir(bench.path("here")).unwrap().count(), 0, "nothing is left");
    }
}

#[test]
fn with_fahrenheit_no_celsius_is_left_in_verdict_and_chart() {
    let bench = Bench::with(GOOD);
    let result = bench.run(&["rehearse", "job.toml", "--fahrenheit", "--out", "here"]);
    assert!(result.out.contains("°F") && !result.out.contains("°C"), "{}", result.out);
    let words = |c: char| !c.is_alphanumeric() && c != '/';
    assert!(result.out.split(words).all(|word| word != "K"), "{}", result.out);
    for name in ["report.html", "chart.svg"] {
        let text = fs::read_to_string(bench.path("here").join(name)).unwrap();
        assert!(text.contains("°F") && !text.contains("°C"), "{name}");
        assert!(!text.contains(" K/min") && !text.contains("\u{a0}K"), "{name}");
    }
    bench.run(&["compile", "job.toml", "-o", "job.programme"]);
    let shown = bench.run(&["show", "job.programme", "--fahrenheit"]).out;
    assert!(shown.contains("   1  ramp to 572 °F at 18 °F/min\n"), "{shown}");
    assert!(shown.contains("soak 30 min within 9 °F, patience 15 min"), "{shown}");
}

#[test]
fn a_verdict_fits_a_narrow_screen() {
    let bench = Bench::with(SHORT);
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_saggar"))
        .args(["rehearse", "job.toml", "--no-report", "--mains", "90", "--seed", "7"])
        .current_dir(bench.path("."))
        .env("COLUMNS", "50")
        .output()
        .unwrap();
    let out = String::from_utf8(output.stdout).unwrap();
    for line in out.lines() {
        assert!(line.chars().count() <= 50, "{line}");
    }
    let lines: Vec<&str> = out.lines().collect();
    for pair in lines.windows(2) {
        let number = pair[0].ends_with(|c: char| c.is_ascii_digit());
        let next = pair[1].split_whitespace().next().unwrap_or_default();
        let unit = ["K", "°C", "mm", "%", "min.", "kWh.", "MPa", "K."].contains(&next);
        assert!(!(number && unit), "{out}");
    }
}

/// A vacuum stage makes no step of its own: after it, stage and step numbers differ.
#[test]
fn stages_keep_the_numbers_of_their_file() {
    let bench = Bench::with(GOOD);
    let verdict = json(&bench.run(&["rehearse", "job.toml", "--out", "here", "--json"]));
    let stages = verdict["stages"].as_array().unwrap();
    let numbers: Vec<(u64, u64)> = stages
        .iter()
        .map(|stage| (stage["number"].as_u64().unwrap(), stage["step"].as_u64().unwrap()))
        .collect();
    assert_eq!(numbers, [(1, 1), (3, 2), (4, 3), (5, 4), (6, 5)]);
    let events = verdict["events"].as_array().unwrap();
    let began: Vec<&str> = events
        .iter()
        .filter(|event| event["kind"] == "step_began")
        .map(|event| event["text"].as_str().unwrap())
        .collect();
    let expected = [
        "Stage 1 began: Ramp",
        "Stage 3 began: Ramp",
        "Stage 4 began: infiltrate",
        "Stage 5 began: Cool",
        "Stage 6 began: Opening",
    ];
    assert_eq!(began, expected);
    let page = fs::read_to_string(bench.path("here/report.html")).unwrap();
    let chart = fs::read_to_string(bench.path("here/chart.svg")).unwrap();
    for text in [&page, &chart] {
        assert!(text.contains("<title>4 infiltrate: soak") && text.contains(">4 infiltrate<"));
        assert!(!text.contains(">2 Ramp<"), "2 is the vacuum");
    }
    assert!(page.contains("Stage 4 began: infiltrate."));
    assert!(page.contains("<td class=\"n\">4</td><th scope=\"row\">infiltrate</th>"));
    assert!(page.contains("A vacuum stage has no row of its own"));
}
