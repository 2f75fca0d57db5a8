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

/// A fault that struck shows in the trace, from minute 0 on; for any other the output says why not. One
/// that a rehearsal cannot let strike is refused.
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
            // A verdict that is there is one of this run.
            _ = fs::remove_dir_all(bench.path("here"));
            let result =
                bench.run(&["rehearse", "job.toml", "--out", "here", "--fault", &typed]);
            if let Some(why) = refusal(fault) {
                assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
                assert!(result.err.contains(why), "{result:#?}");
                assert!(!bench.path("here").exists(), "{typed} was fired");
                continue;
            }
            let json = fs::read_to_string(bench.path("here/verdict.json")).expect(&typed);
            let verdict: Value = serde_json::from_str(&json).unwrap();
            let text = fact(&verdict, "Fault");
            let shows = effects(&trace("here")) != effects(&plain);
            assert_eq!(text == typed, shows, "{text}: {result:#?}");
            assert_ne!(
                verdict["events"].as_array().unwrap().len(),
                0,
                "{typed} began no firing"
            );
            if !shows {
                let why = text.strip_prefix(&format!("{typed}: changed nothing, ")).unwrap();
                let line = format!("{typed} changed nothing: {why}\n");
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

/// Why a rehearsal refuses a fault without an end.
fn refusal(fault: FaultKind) -> Option<&'static str> {
    match (fault, fault.needs()) {
        (FaultKind::MainsCut, _) => Some("give its end, such as mains-cut@45..55"),
        (_, Some(FurnacePart::Link | FurnacePart::Flash)) => Some("try it on a stand-in"),
        (
            _,
            Some(
                FurnacePart::Pump | FurnacePart::CurrentSensor | FurnacePart::AuxiliaryContact,
            ),
        )
        | (_, None) => None,
    }
}

/// The same bytes but for the conditions.
#[test]
fn a_failure_of_the_power_is_a_power_cut() {
    let bench = Bench::with(SHORT);
    let run = |option: [&str; 2]| {
        let result =
            bench.run(&[&["rehearse", "job.toml", "--out", "here"][..], &option].concat());
        assert!(result.out.contains("with a power cut of 30 s at minute 2"), "{result:#?}");
        fs::read(bench.path("here/trace.csv")).unwrap()
    };
    let cut = run(["--cut", "2+30s"]);
    assert!(cut == run(["--fault", "mains-cut@2..2.5"]));
    assert!(cut == run(["--fault", "mains-cut@2..2.5,every=60,for=30"]));
    for (options, why) in [
        (&["--fault", "mains-cut@2..4", "--cut", "3+2"][..], "the power is cut at minute 3"),
        (&["--cut", "3+2", "--cut", "4+1"], "is off then since minute 3, for 2 min"),
        (&["--fault", "mains-cut@before..4"], "without power no firing is started"),
        (&["--fault", "mains-cut@2..3000,every=1,for=0.5"], "give at most 1000 periods"),
    ] {
        let result =
            bench.run(&[&["rehearse", "job.toml", "--no-report"][..], options].concat());
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
        assert!(result.err.contains(why), "{result:#?}");
    }
    let both =
        ["rehearse", "job.toml", "--no-report", "--cut", "2+1", "--fault", "mains-cut@3..4"];
    assert_ne!(bench.run(&both).code, 2);
}

/// Each thing that breaks is shown as it is typed, with its time and severity, in every place.
#[test]
fn a_fault_from_a_file_is_the_same_as_a_typed_one() {
    let bench = Bench::with(SHORT);
    let typed = "control-offset=2@1..2,every=20,for=5";
    let file = "[[fault]]\nkind = \"control-offset\"\nseverity = 2\nfrom_minutes = 1\n\
                until_minutes = 2\nevery_seconds = 20\nfor_seconds = 5\n";
    bench.write("faults.toml", file);
    let checked = bench.run(&["check", "faults.toml"]);
    assert_eq!((checked.code, checked.out), (0, format!("faults.toml: good\n  {typed}\n")));
    let by_file = bench.run(&["rehearse", "job.toml", "--faults", "faults.toml"]);
    let folder = bench.path("rehearsals").join(format!("job+{typed}"));
    let trace =
        fs::read(folder.join("trace.csv")).expect("a folder with the name of the fault");
    let page = fs::read_to_string(folder.join("report.html")).unwrap();
    for mark in ["control-offset=2, comes and goes", "control-offset=2 mended"] {
        assert!(page.contains(mark), "{mark}");
    }
    fs::remove_dir_all(&folder).unwrap();
    let by_hand = bench.run(&["rehearse", "job.toml", "--fault", typed]);
    assert_eq!(by_file.out, by_hand.out);
    assert!(by_file.out.contains(&format!("with {typed}\n")), "{by_file:#?}");
    assert!(trace == fs::read(folder.join("trace.csv")).unwrap());
}

/// The text of a fault, the place of the message, the message, and the start of its help.
const WRONG: [(&str, &str, &str, &str); 9] = [
    (
        "kind = \"control-opne\"\nfrom_minutes = 1",
        "2:8",
        "`kind` is \"control-opne\", which is not one of the known words",
        "did you mean \"control-open\"?",
    ),
    (
        "kind = \"control-open\"\nfrom_minutes = 5\nuntil_minutes = 4",
        "4:17",
        "it begins at minute 5 and ends at minute 4",
        "give an end that is at least 0.1 s later, or none",
    ),
    (
        "kind = \"control-open\"",
        "1:1",
        "it is not said when this fault strikes",
        "add `from_minutes = 45`",
    ),
    (
        "kind = \"control-open\"\nfrom_minutes = 5\nfrom = \"before\"",
        "4:1",
        "`from` and `from_minutes` exclude each other",
        "leave one of them out",
    ),
    (
        "kind = \"control-open\"\nfrom_minutes = nan",
        "3:16",
        "`from_minutes` is nan, which is not a finite number",
        "write a plain number",
    ),
    (
        "kind = \"mains-low\"\nseverity = 120\nfrom_minutes = 5",
        "3:12",
        "the severity of mains-low is 120 % of their voltage, which is out of range",
        "allowed: 1 to 99 % of their voltage",
    ),
    (
        "kind = \"pump-dead\"\nseverity = 1\nfrom_minutes = 5",
        "3:12",
        "pump-dead is there or not: it has no severity",
        "leave the severity out",
    ),
    (
        "kind = \"pump-dead\"\nfrom_minutes = 5\nevery_seconds = 4",
        "4:1",
        "`for_seconds` is missing",
        "a fault that comes and goes needs",
    ),
    (
        "kind = \"pump-dead\"\nfrom_minutes = 5\n[[fault]]\nkind = \"pump-dead\"\n\
         from_minutes = 9",
        "5:8",
        "this is pump-dead@9, while fault 1 is there: pump-dead@5",
        "give the two times that do not overlap",
    ),
];

#[test]
fn what_is_wrong_with_a_file_of_faults_is_said_at_its_place() {
    let bench = Bench::with(SHORT);
    for (text, place, message, help) in WRONG {
        bench.write("faults.toml", format!("[[fault]]\n{text}\n"));
        for run in [
            &["check", "faults.toml"][..],
            &["rehearse", "job.toml", "--no-report", "--faults", "faults.toml"],
        ] {
            let result = bench.run(run);
            assert_eq!((result.code, result.out.as_str()), (2, ""), "{text}: {result:#?}");
            let line = format!("faults.toml:{place}: {message}\n");
            assert!(result.err.contains(&line) && result.err.contains(help), "{result:#?}");
        }
    }
    let wrong = bench.run(&["rehearse", "job.toml", "--faults", "job.toml"]);
    assert!(wrong.err.contains("this is a schedule, not a list of faults"), "{wrong:#?}");
    bench.write("faults.toml", "[[faults]]\nkind = \"pump-dead\"\n");
    let wrong = bench.run(&["check", "faults.toml"]);
    assert!(wrong.err.contains("did you mean `fault`?"), "{wrong:#?}");
    let wrong = bench.run(&["rehearse", "faults.toml"]);
    assert_eq!(wrong.code, 2, "{wrong:#?}");
}

#[test]
fn an_example_of_faults_is_written_checked_and_changed() {
    let bench = Bench::with(SHORT);
    let new = bench.run(&["new", "loose-contact", "faults.toml"]);
    assert!(new.out.contains("written, a list of faults from the example"), "{new:#?}");
    assert!(
        new.out.contains("Next: saggar rehearse SCHEDULE --faults faults.toml"),
        "{new:#?}"
    );
    let set = bench.run(&[
        "set",
        "faults.toml",
        "fault[1].from_minutes=1",
        "fault[1].until_minutes=3",
    ]);
    assert_eq!(set.code, 0, "{set:#?}");
    let refused = bench.run(&["set", "faults.toml", "fault[1].until_minutes=0.5"]);
    assert!(refused.err.contains("ends at minute 0.5"), "{refused:#?}");
    let fired = bench.run(&["rehearse", "job.toml", "--no-report", "--faults", "faults.toml"]);
    let with = "with control-open@1..3,every=30,for=0.5\n";
    assert!(fired.code == 1 && fired.out.contains(with), "{fired:#?}");
    let schema = bench.run(&["keys", "faults", "--json"]);
    assert!(schema.out.contains("\"control-offset\""), "{schema:#?}");
    let list = bench.run(&["keys", "faults"]);
    for kind in FaultKind::ALL {
        assert!(list.out.contains(&format!("\n  {}: ", kind.name())), "{}", kind.name());
    }
}

#[test]
fn each_of_several_faults_is_compared_by_itself() {
    let bench = Bench::with(SHORT);
    let faults = ["--fault", "element-open@1", "--fault", "switch-stuck@1.02"];
    let arguments = [&["rehearse", "job.toml", "--no-report"][..], &faults].concat();
    let result = bench.run(&arguments);
    assert_eq!(result.code, 1, "{result:#?}");
    let excuse =
        "switch-stuck@1.02 changed nothing: the other faults left it nothing to change\n";
    assert!(result.out.contains(excuse), "{}", result.out);
    assert!(!result.out.contains("element-open@1 changed"), "{}", result.out);
}

#[test]
fn a_fault_is_refused_while_it_is_there_already() {
    let bench = Bench::with(SHORT);
    let run = |faults: &[&str]| {
        bench.run(&[&["rehearse", "job.toml", "--no-report"][..], faults].concat())
    };
    let result = run(&["--fault", "pump-dead@3", "--fault", "pump-dead@9"]);
    assert_eq!(result.code, 2, "{result:#?}");
    let message = "pump-dead@3 and pump-dead@9 are there at the same time";
    assert!(result.err.contains(message), "{}", result.err);
    let result = run(&["--fault", "pump-dead@1..2", "--fault", "pump-dead@2"]);
    let message = "with pump-dead@1..2, pump-dead@2\n";
    assert!(result.out.contains(message), "{}", result.out);
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

/// The end is then before the fault, by the clock of the core.
#[test]
fn a_clock_that_jumps_back_has_struck() {
    let bench = Bench::with(SHORT);
    let jump = ["rehearse", "job.toml", "--no-report", "--fault", "clock-jump=-5@2"];
    let result = bench.run(&jump);
    assert!(result.out.contains("tripped at 1:55 min: tick overrun"), "{result:#?}");
    assert!(!result.out.contains("did not strike"), "{result:#?}");
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
    assert!(text.contains("limit-open@1 did not strike: the firing did not begin\n"), "{text}");
    for name in ["report.html", "verdict.json"] {
        let text = fs::read_to_string(bench.path("here").join(name)).unwrap();
        assert!(text.replace('\u{a0}', " ").contains(why), "{name}");
    }
}

#[test]
fn a_fault_can_be_there_before_the_start() {
    let bench = Bench::with(SHORT);
    let run = ["rehearse", "job.toml", "--fault", "control-open@before"];
    let result = bench.run(&run);
    assert_eq!(result.code, 1, "{result:#?}");
    assert!(result.out.contains("with control-open@before\n"), "{result:#?}");
    assert!(result.out.contains("the firing did not begin"), "{result:#?}");
    assert!(!result.out.contains("did not strike"), "{result:#?}");
    assert!(bench.path("rehearsals/job+control-open@before/report.html").exists());
}
