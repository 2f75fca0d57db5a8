//! Faults of a rehearsal: each changes the trace, or the output explains why it does not.

use std::fs;

use saggar_bench::trace::COLUMNS;
use saggar_plant::faults::{FaultKind, FurnacePart};
use serde_json::Value;

use super::bench::{Bench, RunOutput, docs, good_furnace};
use super::rehearsals::{SHORT, fact};

/// The columns of a trace that are no inputs: a wrong input alone has no effect.
fn effects(trace: &str) -> Vec<Vec<&str>> {
    let kept = |line| -> Vec<&str> {
        let cells = str::split(line, ',').zip(COLUMNS);
        cells.filter(|(_, column)| !column.is_input).map(|(cell, _)| cell).collect()
    };
    trace.lines().map(kept).collect()
}

/// A fault that struck shows in the trace, from minute 0 on; for any other the output says why not.
#[test]
fn a_fault_changes_the_trace_or_the_output_says_why_not() {
    let bench = Bench::with(SHORT);
    bench.run(&["rehearse", "job.toml", "--out", "plain"]);
    let trace =
        |folder: &str| fs::read_to_string(bench.path(folder).join("trace.csv")).unwrap();
    let plain = trace("plain");
    let mut hidden = Vec::new();
    for fault in FaultKind::ALL {
        for minute in ["0", "2.5"] {
            let typed = format!("{}@{minute}", fault.name());
            let result =
                bench.run(&["rehearse", "job.toml", "--out", "here", "--fault", &typed]);
            let json = fs::read_to_string(bench.path("here/verdict.json")).unwrap();
            let verdict: Value = serde_json::from_str(&json).unwrap();
            let plainly = format!("{} at minute {minute}", fault.name());
            let text = fact(&verdict, "Fault");
            let shows = effects(&trace("here")) != effects(&plain);
            assert_eq!(text == plainly, shows, "{text}: {result:#?}");
            assert_ne!(
                verdict["events"].as_array().unwrap().len(),
                0,
                "{typed} began no firing"
            );
            if !shows {
                let why = text.strip_prefix(&format!("{plainly}: changed nothing, ")).unwrap();
                let line = format!("{} changed nothing: {why}\n", fault.name());
                let unwrapped = result.out.replace("\n     ", " ");
                assert!(unwrapped.contains(&line), "{line}: {}", result.out);
                hidden.push(fault);
            }
        }
    }
    // In a firing without a vacuum. The sudden fall of a gauge's reading trips any firing.
    hidden.dedup();
    hidden.retain(|fault| fault.needs() == Some(FurnacePart::Pump));
    let mut pumped = FaultKind::ALL.to_vec();
    pumped.retain(|fault| fault.needs() == Some(FurnacePart::Pump));
    pumped.retain(|fault| *fault != FaultKind::GaugeLow);
    assert_eq!(hidden, pumped);
}

#[test]
fn each_of_several_faults_is_compared_by_itself() {
    let bench = Bench::with(SHORT);
    let faults = ["--fault", "element-open@1", "--fault", "switch-stuck@1.02"];
    let arguments = [&["rehearse", "job.toml", "--no-report"][..], &faults].concat();
    let result = bench.run(&arguments);
    assert_eq!(result.code, 1, "{result:#?}");
    let excuse = "switch-stuck changed nothing: the other faults left it nothing to change\n";
    assert!(result.out.contains(excuse), "{}", result.out);
    assert!(!result.out.contains("element-open changed"), "{}", result.out);
}

#[test]
fn a_fault_is_refused_if_it_is_given_twice() {
    let bench = Bench::with(SHORT);
    let faults = ["--fault", "pump-dead@3", "--fault", "pump-dead@9"];
    let result = bench.run(&[&["rehearse", "job.toml", "--no-report"][..], &faults].concat());
    assert_eq!(result.code, 2, "{result:#?}");
    assert!(result.err.contains("pump-dead is given twice"), "{}", result.err);
}

#[test]
fn a_furnace_without_a_pump_has_no_fault_of_the_pump() {
    let bench = Bench::with(SHORT);
    let furnace = docs().join("furnaces/teaching-door.toml").display().to_string();
    for fault in ["pump-dead@0", "seal-leaks@5"] {
        let arguments =
            ["rehearse", "job.toml", "--no-report", "--furnace", &furnace, "--fault", fault];
        let result = bench.run(&arguments);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
        let name = fault.split('@').next().unwrap();
        let why = format!("Fieldfare has no pump, so {name} cannot happen");
        assert!(result.err.contains(&why) && result.err.contains("--furnace"), "{result:#?}");
    }
}

/// The sensor is so noisy that its reading is implausible when start is pressed.
#[test]
fn a_firing_that_did_not_begin_is_explained() {
    let bench = Bench::with(SHORT);
    let noisy = good_furnace().replacen("noise_microvolt = 0.8", "noise_microvolt = 100", 1);
    bench.write("furnace.toml", noisy);
    let of = |seed: u32| {
        let seed = seed.to_string();
        let run = ["rehearse", "job.toml", "--fault", "limit-open@1", "--seed", &seed];
        bench.run(&[&run[..], &["--out", "here"]].concat())
    };
    let unread = "the control sensor gave no";
    let unwrapped = |result: &RunOutput| result.out.replace("\n     ", " ");
    let refused = (1..50).map(of).find(|result| unwrapped(result).contains(unread));
    let result = refused.expect("a sensor that jumps by 17 K is believed at every start");
    let why = "the firing did not begin: when start was pressed, the control sensor gave no \
               reading that can be believed. Check the sensor and its noise in the furnace profile.";
    let text = result.out.replace("\n     ", " ");
    assert!(text.contains(why), "{text}");
    assert!(text.contains("limit-open did not strike: the firing did not begin\n"), "{text}");
    for name in ["report.html", "verdict.json"] {
        let text = fs::read_to_string(bench.path("here").join(name)).unwrap();
        assert!(text.replace('\u{a0}', " ").contains(why), "{name}");
    }
}

#[test]
fn the_documentation_lists_every_fault() {
    let commands = fs::read_to_string(docs().join("commands.md")).unwrap();
    for fault in FaultKind::ALL {
        let row = format!("\n| `{}` |", fault.name());
        assert!(commands.contains(&row), "{}", fault.name());
    }
}

#[test]
fn a_fault_can_be_there_before_the_start() {
    let bench = Bench::with(SHORT);
    let run = ["rehearse", "job.toml", "--fault", "control-open@before"];
    let result = bench.run(&run);
    assert_eq!(result.code, 1, "{result:#?}");
    assert!(result.out.contains("with control-open before the start\n"), "{result:#?}");
    assert!(result.out.contains("the firing did not begin"), "{result:#?}");
    assert!(!result.out.contains("did not strike"), "{result:#?}");
    assert!(bench.path("rehearsals/job+control-open@before/report.html").exists());
}
