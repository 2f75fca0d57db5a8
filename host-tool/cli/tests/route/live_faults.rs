//! Faults that are typed at a stand-in while it runs: injected, seen, mended, and in the report.

use std::io::Write as _;
use std::time::Duration;

use serde_json::Value;

use crate::bench::{Bench, SHORT, docs};

/// What a stand-in said, on one line, and the verdict of its firing.
struct Lesson {
    said: String,
    verdict: Value,
}

impl Lesson {
    /// Uploads the short schedule to a stand-in, and types this. Ends with the first firing.
    fn given(bench: &Bench, more: &[&str], typed: &[&str]) -> Self {
        let schedule = bench.short();
        let name = schedule.display().to_string();
        let rehearsed = bench.run(&["rehearse", &name, "--out", "trial", "--json"]);
        assert_eq!(rehearsed.code, 0, "{rehearsed:#?}");
        let fixed = ["--listen", "tcp:127.0.0.1:0", "--key", "d.key", "--once", "--json"];
        let args = [&fixed[..], &["--speed", "max", "--out", "report"], more].concat();
        let (mut running, port) = bench.spawn_standin(&schedule, &args);
        assert_eq!(bench.upload(&name, &port).code, 0);
        let mut keyboard = running.keyboard();
        keyboard.write_all((typed.join("\n") + "\n").as_bytes()).unwrap();
        let ended = running.end_within(Duration::from_secs(90));
        let said = ended.err.split_whitespace().collect::<Vec<_>>().join(" ");
        Self { said, verdict: ended.json()["verdict"].clone() }
    }

    /// Checks that these texts were said, in this order.
    fn says(&self, wanted: &[&str]) {
        let mut rest = self.said.as_str();
        for text in wanted {
            let Some((_, after)) = rest.split_once(text) else {
                panic!("after the earlier ones, \"{text}\" is missing in: {}", self.said)
            };
            rest = after;
        }
    }

    /// The facts of this name in the report.
    fn facts(&self, label: &str) -> Vec<String> {
        let all = self.verdict["facts"].as_array().unwrap().iter();
        let matching = all.filter(|fact| fact["label"] == label);
        matching.map(|fact| fact["value"].as_str().unwrap().to_owned()).collect()
    }
}

#[test]
fn a_fault_in_a_firing_trips_and_is_in_the_report() {
    let bench = Bench::new();
    let typed = ["c", "s", "wait 90s", "fault control-open", "faults"];
    let lesson = Lesson::given(&bench, &[], &typed);
    lesson.says(&[
        "the firing was started",
        "Fault struck: control-open",
        "tripped, heat off: sensor open",
        "The trip came 0.3 s after control-open",
    ]);
    assert!(lesson.said.contains("Fault since 0:"), "{}", lesson.said);
    let facts = lesson.facts("Fault");
    let [fault] = &facts[..] else { panic!("{facts:?}") };
    assert!(fault.starts_with("control-open@1."), "{fault}");
    let page = std::fs::read_to_string(bench.path("report/report.html")).unwrap();
    assert!(page.contains("control-open"), "the chart marks it");
}

#[test]
fn a_mended_fault_does_no_harm() {
    let bench = Bench::new();
    // In the ramp at 60 K/min a frozen reading would trip after half a minute.
    let typed = [
        "c",
        "s",
        "wait 60s",
        "fault control-frozen for 5s",
        "fault control-gain=99.9",
        "wait 10s",
        "mend control-gain",
    ];
    let lesson = Lesson::given(&bench, &[], &typed);
    lesson.says(&[
        "Fault struck: control-frozen",
        "Fault struck: control-gain, 99.9 % of the voltage",
        "Fault mended after 5 s: control-frozen",
        "s: control-gain",
        "the firing ended: completed",
    ]);
    assert!(!lesson.said.contains("tripped"), "{}", lesson.said);
    assert_eq!(lesson.facts("Fault").len(), 2, "{:?}", lesson.facts("Fault"));
}

#[test]
fn a_welded_contactor_of_an_idle_furnace_is_found_in_the_self_test() {
    let bench = Bench::new();
    let typed = ["c", "fault contactor-welded", "fault contactor-welded", "faults", "s"];
    let lesson = Lesson::given(&bench, &[], &typed);
    lesson.says(&[
        "Fault struck: contactor-welded",
        "Not done: contactor-welded is there already, since 0:",
        "Fault since 0:",
        "the firing was started",
        "tripped, heat off: contactor not following",
    ]);
    assert!(
        lesson.facts("Fault")[0].starts_with("contactor-welded@before"),
        "{:?}",
        lesson.verdict
    );
}

#[test]
fn a_power_cut_interrupts_the_firing_which_then_goes_on() {
    let bench = Bench::new();
    let typed = [
        "c",
        "s",
        "wait 150s",
        "fault mains-cut",
        "s",
        "wait 20s",
        "mend mains-cut",
        "wait 5s",
        "s",
    ];
    let lesson = Lesson::given(&bench, &[], &typed);
    lesson.says(&[
        "Fault struck: mains-cut",
        "The power is cut: the device is off",
        "The button has no effect: the device is off",
        "Fault mended after 20",
        "The power is back after 20",
        "Display: programme confirmed",
        "Display: interrupted by a power cut in step 1",
        "the firing went on in step 1",
        "the firing ended: completed",
    ]);
    assert_eq!(lesson.verdict["passed"], true, "{:#}", lesson.verdict);
    let findings = lesson.verdict["findings"].as_array().unwrap();
    let cuts = findings.iter().filter(|finding| finding["subject"] == "Power cut").count();
    assert_eq!(cuts, 1, "{findings:#?}");
}

#[test]
fn a_planned_cut_ends_at_its_time_and_the_simulated_operator_goes_on() {
    let bench = Bench::new();
    let more = ["--operator", "--fault", "mains-cut@2.5..3", "--fault"];
    let flaky = "link-lost@0..2,every=10,for=0.5";
    let lesson = Lesson::given(&bench, &[&more[..], &[flaky]].concat(), &[]);
    lesson.says(&[
        "Fault struck: link-lost, for 0.5 s every 10 s",
        "Fault mended after 2 min: link-lost",
        "Fault struck: mains-cut",
        "The power is cut: the device is off",
        "The power is back after 30 s: the device boots",
        "the firing went on",
        "the firing ended: completed",
    ]);
    let wanted = ["link-lost@0..2,every=10,for=0.5", "mains-cut@2.5..3"];
    let facts = lesson.facts("Fault");
    assert_eq!(facts.len(), 2, "{facts:?}");
    for (fact, wanted) in facts.iter().zip(wanted) {
        assert!(fact.starts_with(wanted), "{facts:?}");
    }
}

#[test]
fn a_bit_of_memory_trips_the_device_until_it_boots_again() {
    let bench = Bench::new();
    let typed = [
        "c",
        "fault memory-furnace",
        "wait 15s",
        "c",
        "wait 2s",
        "fault mains-cut for 5s",
        "wait 8s",
        "c",
        "wait 2s",
        "s",
        "c",
        "s",
    ];
    let lesson = Lesson::given(&bench, &[], &typed);
    lesson.says(&[
        "Fault struck: memory-furnace, bit 23",
        "tripped, heat off: furnace data changed",
        "after memory-furnace",
        "confirm had no effect: the cause of the trip is still there",
        "The power is back after 5 s: the device boots",
        "Display: tripped, furnace data changed",
        "the trip was accepted",
        "the firing was started",
        "the firing ended: completed",
    ]);
}

#[test]
fn a_bit_of_the_flash_shows_at_the_next_boot() {
    let bench = Bench::new();
    let typed = [
        "c",
        "fault flash-settings",
        "fault mains-cut for 5s",
        "wait 8s",
        "mend flash-settings",
        "wait 2s",
        "s",
        "c",
        "s",
        "wait 60s",
        "fault flash-programme",
        "fault mains-cut for 5s",
    ];
    // The firing that has lost its programme ends with the stand-in, not by itself.
    let schedule = bench.short();
    let name = schedule.display().to_string();
    assert_eq!(bench.run(&["rehearse", &name, "--out", "trial", "--json"]).code, 0);
    let fixed = ["--listen", "tcp:127.0.0.1:0", "--key", "d.key", "--speed", "20"];
    let (mut running, port) = bench.spawn_standin(&schedule, &fixed);
    assert_eq!(bench.upload(&name, &port).code, 0);
    let mut keyboard = running.keyboard();
    keyboard.write_all((typed.join("\n") + "\n").as_bytes()).unwrap();
    std::thread::sleep(Duration::from_secs(8));
    drop(keyboard);
    let said = running.stop().split_whitespace().collect::<Vec<_>>().join(" ");
    Lesson { said, verdict: Value::Null }.says(&[
        "Fault struck: flash-settings. The next boot of the device shows what that does",
        "The power is back after 5 s, but the firmware does not boot",
        "The settings are stored again",
        "the device boots",
        "Display: programme confirmed, digits",
        "the firing was started",
        "Fault struck: flash-programme",
        "The power is back after 5 s: the device boots",
        "Display: no programme",
    ]);
}

#[test]
fn a_lost_link_loses_the_client_and_not_the_firing() {
    let bench = Bench::new();
    let schedule = bench.short();
    let fixed = ["--listen", "tcp:127.0.0.1:0", "--key", "d.key", "--speed", "1"];
    let (mut running, port) = bench.spawn_standin(&schedule, &fixed);
    let info = || bench.run(&["device", "info", "--port", &port, "--json"]).code;
    assert_eq!(info(), 0);
    let mut keyboard = running.keyboard();
    let mut type_line = |line: &[u8]| {
        keyboard.write_all(line).unwrap();
        std::thread::sleep(Duration::from_millis(600));
    };
    type_line(b"fault link-lost\n");
    assert_ne!(info(), 0, "no frame passes");
    type_line(b"mend link-lost\n");
    assert_eq!(info(), 0);
    let said = running.stop();
    assert!(said.contains("Fault struck: link-lost"), "{said}");
}

#[test]
fn what_cannot_strike_is_refused_with_the_reason() {
    let bench = Bench::new();
    let furnace = docs().join("furnaces/teaching-door.toml");
    let text = SHORT.replace("FURNACE", &furnace.display().to_string());
    let from = text.find("[[stage]]\nvacuum").unwrap();
    let to = text.find("[[stage]]\nsoak").unwrap();
    let path = bench.path("door.toml");
    std::fs::write(&path, text.replace(&text[from..to], "").replace("= 60", "= 10")).unwrap();
    let (mut running, _) = bench.spawn_standin(&path, &["--listen", "tcp:127.0.0.1:0"]);
    let mut keyboard = running.keyboard();
    for line in [
        "fault pump-dead",
        "fault flash-programme",
        "mend control-open",
        "mend all",
        "fault control-gain=300",
        "mend contol-open",
    ] {
        keyboard.write_all(format!("{line}\n").as_bytes()).unwrap();
        // Wrong lines are reported once a second.
        std::thread::sleep(Duration::from_millis(1200));
    }
    let said = running.stop().split_whitespace().collect::<Vec<_>>().join(" ");
    Lesson { said, verdict: Value::Null }.says(&[
        "has no pump, so pump-dead cannot happen",
        "there is no programme in the flash to change",
        "Not done: control-open is not there",
        "Not done: no fault is there",
        "allowed: 0 to 200 % of the voltage",
        "Not done: there is no fault `contol-open`; did you mean `control-open`?",
    ]);
}
