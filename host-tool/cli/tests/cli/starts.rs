//! `rehearse` with a furnace that is still warm: evenly, or as another rehearsal left it.

use std::fs;

use super::bench::{Bench, good_furnace};
use super::rehearsals::{SHORT, fact, folders, json};

/// A column of the first and of the last row of a trace.
fn ends(bench: &Bench, folder: &str, column: &str) -> (f64, f64) {
    let text = fs::read_to_string(bench.path(folder).join("trace.csv")).unwrap();
    let mut lines = text.lines();
    let at = lines.next().unwrap().split(',').position(|name| name == column).unwrap();
    let values: Vec<f64> =
        lines.map(|line| line.split(',').nth(at).unwrap().parse().unwrap()).collect();
    (values[0], values[values.len() - 1])
}

#[test]
fn a_start_as_warm_as_the_room_changes_nothing() {
    let bench = Bench::with(SHORT);
    let verdict = |more: &[&str]| {
        bench.run(&[&["rehearse", "job.toml", "--no-report", "--json"], more].concat())
    };
    let cold = verdict(&[]);
    let room = json(&cold)["start_celsius"].as_f64().unwrap().to_string();
    assert_eq!(verdict(&["--start", &room]).out, cold.out);
    assert_eq!(verdict(&["--start=23"]).out, cold.out);
}

#[test]
fn a_warm_start_is_in_the_trace_and_named_and_clears_nothing() {
    let bench = Bench::with(SHORT);
    let result = bench.run(&["rehearse", "job.toml", "--start", "150"]);
    assert!(result.out.contains("\nwith the furnace at 150 °C at the start\n"), "{result:#?}");
    assert!(result.out.contains("--start was given"), "{result:#?}");
    assert_eq!(folders(&bench), ["job+start150"]);
    let folder = "rehearsals/job+start150";
    for (column, celsius) in [("sensor_celsius", 150.0), ("muffle_celsius", 150.0)] {
        let (first, _) = ends(&bench, folder, column);
        assert!((first - celsius).abs() < 3.0, "{column}: {first}");
    }
    assert!(ends(&bench, folder, "piece_celsius").0 < 100.0, "the work is put in cold");
    let verdict = fs::read_to_string(bench.path(folder).join("verdict.json")).unwrap();
    let verdict: serde_json::Value = serde_json::from_str(&verdict).unwrap();
    assert!((verdict["start_celsius"].as_f64().unwrap() - 150.0).abs() < 3.0);
    assert!(fact(&verdict, "Start").contains("at the sensor, piece at"));
    let page = fs::read_to_string(bench.path(folder).join("report.html")).unwrap();
    assert!(page.contains("with the furnace at 150"), "the page names the start");
    let said = bench.run(&["rehearse", "job.toml", "--start", "150", "--fahrenheit"]).out;
    assert!(said.contains("with the furnace at 302 °F at the start"), "{said}");
}

#[test]
fn a_rehearsal_goes_on_where_another_left_the_furnace() {
    let bench = Bench::with(SHORT);
    assert_eq!(bench.run(&["rehearse", "job.toml"]).code, 0);
    let (_, left) = ends(&bench, "rehearsals/job", "muffle_celsius");
    let mut found = Vec::new();
    for (pause, folder) in [("0", "job+after-job"), ("30", "job+after-job+pause30")] {
        let after = ["--after", "rehearsals/job", "--pause", pause];
        let result = bench.run(&[&["rehearse", "job.toml"][..], &after].concat());
        assert!(result.out.contains("the furnace as rehearsals/job left it"), "{result:#?}");
        assert!(result.out.contains("--after was given"), "{result:#?}");
        found.push(ends(&bench, &format!("rehearsals/{folder}"), "muffle_celsius").0);
    }
    assert!(left > 250.0 && (found[0] - left).abs() < 5.0, "{left} and {found:?}");
    assert!(found[1] < left - 10.0, "{left} and {found:?}");
    // Into the folder that it goes on from.
    let own = ["rehearse", "job.toml", "--after", "rehearsals/job", "--out", "rehearsals/job"];
    bench.run(&own);
    assert!((ends(&bench, "rehearsals/job", "muffle_celsius").0 - found[0]).abs() < 1e-3);
    assert!(!bench.path("rehearsals/job/clearance.json").exists());
}

#[test]
fn a_start_that_no_furnace_has_is_refused_and_nothing_is_fired() {
    let bench = Bench::with(SHORT);
    bench.write("weak.toml", good_furnace().replace("rated_watt = 1200", "rated_watt = 900"));
    assert_eq!(bench.run(&["rehearse", "job.toml", "--out", "good"]).code, 0);
    let state = fs::read_to_string(bench.path("good/furnace-state.json")).unwrap();
    for (folder, from, to) in [
        ("newer", "\"version\": 1", "\"version\": 2"),
        ("odd", "\"opening\": 0.0", "\"opening\": 7.0"),
        ("more", "\"opening\": 0.0", "\"opening\": 0.0, \"lid\": 1"),
        ("other", "saggar.furnace-state", "saggar.clearance"),
    ] {
        assert!(state.contains(from), "{state}");
        fs::create_dir(bench.path(folder)).unwrap();
        bench.write(&format!("{folder}/furnace-state.json"), state.replacen(from, to, 1));
    }
    fs::create_dir(bench.path("empty")).unwrap();
    let weak = ["--after", "good", "--furnace", "weak.toml"];
    for (more, message) in [
        (
            &["--start", "10"][..],
            "--start: 10 °C is colder than the room, which Dunlin puts at 23",
        ),
        (&["--start", "-5"], "--start: -5 °C is colder"),
        (&["--start", "1300"], "1300 °C is hotter than Dunlin's limit, 1220 °C"),
        (&["--start", "NaN"], "give a temperature in °C"),
        (&["--start", "warm"], "give a number"),
        (&["--start", "80", "--after", "good"], "cannot be used with"),
        (&["--pause", "5"], "--after"),
        (&["--after", "good", "--pause", "-1"], "minutes from 0 to 10080"),
        (&["--after", "none"], "none: there is no such folder"),
        (&["--after", "job.toml"], "job.toml: this is a file, not a folder"),
        (&["--after", "empty"], "empty: there is no furnace-state.json in this folder"),
        (&["--after", "newer"], "has version 2, but this tool reads version 1"),
        (&["--after", "odd"], "odd/furnace-state.json: this file is damaged"),
        (&["--after", "more"], "this file is damaged"),
        (&["--after", "other"], "this file is damaged, or not the state of a furnace"),
        (&weak, "it is the state of Dunlin (furnace data "),
    ] {
        let result = bench.run(&[&["rehearse", "job.toml"][..], more].concat());
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{more:?}: {result:#?}");
        assert!(result.err.replace("\n  ", " ").contains(message), "{more:?}: {result:#?}");
    }
    assert!(!bench.path("rehearsals").exists(), "nothing was fired");
    let result = bench.run(&["standin", "job.toml", "--start", "1300"]);
    assert!(
        result.code == 2 && result.err.contains("hotter than Dunlin's limit"),
        "{result:#?}"
    );
}
