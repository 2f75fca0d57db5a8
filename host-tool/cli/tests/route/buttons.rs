//! A report lists the buttons that were pressed at a stand-in, when and by whom, and no others.

use std::io::Write as _;
use std::path::PathBuf;

use serde_json::Value;

use crate::bench::{Bench, SHORT, docs};

/// The short schedule with a question in it; unanswered, the firing goes on after five minutes.
fn schedule_with_question(bench: &Bench) -> PathBuf {
    let furnace = docs().join("furnaces/lift-vacuum.toml");
    let hold = "hold = { minutes = 5, then = \"continue\" }\nquestion = \"Is it dry?\"";
    let path = bench.path("asking.toml");
    let text = SHORT.replace("FURNACE", &furnace.display().to_string()).replacen(
        "[[stage]]\nvacuum",
        &format!("[[stage]]\n{hold}\n\n[[stage]]\nvacuum"),
        1,
    );
    std::fs::write(&path, text).unwrap();
    path
}

/// The values of the facts of this name in a verdict.
fn facts(verdict: &Value, label: &str) -> Vec<String> {
    let all = verdict["facts"].as_array().unwrap().iter();
    let matching = all.filter(|fact| fact["label"] == label);
    matching.map(|fact| fact["value"].as_str().unwrap().to_owned()).collect()
}

/// Uploads to a stand-in, then types this at its keyboard. Returns the verdict of the firing.
fn fire(bench: &Bench, more: &[&str], typed: &str) -> Value {
    let schedule = schedule_with_question(bench);
    let name = schedule.display().to_string();
    let rehearsed = bench.run(&["rehearse", &name, "--out", "trial", "--json"]);
    assert!(rehearsed.code <= 1, "{rehearsed:#?}");
    let listen = ["--listen", "tcp:127.0.0.1:0", "--key", "d.key", "--once", "--json"];
    let speed = ["--speed", "max", "--out", "report"];
    let args = [&listen[..], &speed[..], more].concat();
    let (mut running, port) = bench.spawn_standin(&schedule, &args);
    assert_eq!(bench.upload(&name, &port).code, 0);
    running.keyboard().write_all(typed.as_bytes()).unwrap();
    let ended = running.end();
    let page = std::fs::read_to_string(bench.path("report/report.html")).unwrap();
    assert!(!page.contains("answers after"), "the page reports an answer that nobody gave");
    ended.json()["verdict"].clone()
}

#[test]
fn the_report_names_the_simulated_operator_and_the_presses() {
    let bench = Bench::new();
    let verdict = fire(&bench, &["--operator"], "");
    assert_eq!(facts(&verdict, "Operator"), Vec::<String>::new());
    let buttons = facts(&verdict, "Buttons").join("");
    let (start, confirm) = buttons.split_once(", ").unwrap();
    assert_eq!(start, "start at minute 0 by the operator");
    let mut events = verdict["events"].as_array().unwrap().iter();
    let asked = events.find(|event| event["kind"] == "asked").unwrap();
    let wanted = asked["at_second"].as_f64().unwrap() / 60.0 + 0.5;
    let confirm = confirm.strip_prefix("confirm at minute ").unwrap();
    let (answered, by) = confirm.split_once(' ').unwrap();
    assert_eq!(by, "by the operator");
    let answered: f64 = answered.parse().unwrap();
    assert!((answered - wanted).abs() < 0.11, "wanted {wanted}, {answered}: {buttons}");
}

#[test]
fn a_hold_stays_unanswered_without_a_key() {
    let bench = Bench::new();
    // `c` confirms the uploaded programme before the start, so it is not a press of the firing.
    let verdict = fire(&bench, &[], "c\ns\n");
    assert_eq!(facts(&verdict, "Operator"), Vec::<String>::new());
    assert_eq!(facts(&verdict, "Buttons"), ["start at minute 0 from the keyboard"]);
}
