//! Verdicts on recordings: `replay --schedule`.

use std::path::Path;

use saggar_bench::RehearsalSetup;
use saggar_bench::observer::{Observer, TickRecord};
use saggar_client::logfile::{LogHeader, Writer};
use saggar_core::Controller;
use saggar_core::controller::SNAPSHOT_BYTES_MAX;
use saggar_device::wire::{Origin, Tick};
use saggar_schedule::FiringPlan;
use serde_json::Value;

use super::bench::{Bench, RunOutput};
use super::rehearsals::{SHORT, json};

/// Records the inputs and outputs of every tick.
#[derive(Default)]
struct TickRecorder(Vec<Tick>);

impl Observer for TickRecorder {
    fn tick(&mut self, record: &TickRecord<'_>) {
        let number = self.0.len() as u32 + 1;
        let at_ms = record.world.now_ms();
        self.0.push(Tick::new(number, at_ms, record.inputs, record.outputs));
    }
}

/// Records a firing of `job.toml` as `it.firing`, without the ticks in `lost`, and with an origin before
/// those in `origins`.
fn record(bench: &Bench, origins: &[u32], lost: impl Fn(u32) -> bool) {
    let plan = FiringPlan::load(&bench.path("job.toml"), None).unwrap();
    let (furnace, digest) = (plan.profile.furnace.clone(), plan.image.digest());
    let setup = RehearsalSetup {
        furnace: &plan.profile.spec,
        device: &furnace,
        work: &plan.work,
        programme: &plan.image,
        seed: 3,
        faults: Vec::new(),
        operator_delay_s: None,
        start: None,
    };
    let fired = setup.bench(TickRecorder::default()).unwrap().run_to_end(&plan.work);
    let head = LogHeader {
        device: *b"bench-7\0",
        image: [0, 1, 0],
        began_s: 1_800_000_000,
        furnace: postcard::to_stdvec(&furnace).unwrap(),
    };
    let path = bench.path("it.firing");
    let _ = std::fs::remove_file(&path);
    let mut writer = Writer::create(&path, &head).unwrap();
    writer.programme(plan.image.bytes()).unwrap();
    let mut core = Controller::new(furnace);
    core.load(plan.image.bytes(), &digest).unwrap();
    for tick in fired.trace.0 {
        if origins.contains(&tick.number) {
            let mut room = [0; SNAPSHOT_BYTES_MAX];
            let used = core.save_snapshot(&mut room).unwrap();
            let (number, programme) = (tick.number - 1, Some(digest));
            writer.origin(&Origin { number, programme, memory: &room[..used] }).unwrap();
        }
        let _ = core.step(saggar_core::units::Instant::from_millis(tick.at_ms), &tick.inputs());
        while core.take_event().is_some() {}
        if !lost(tick.number) {
            writer.tick(&tick).unwrap();
        }
    }
    writer.flush().unwrap();
}

/// Replays `it.firing` with the schedule; returns exit code, text on one line, and the verdict.
fn judged(bench: &Bench, more: &[&str]) -> (i32, String, Value) {
    let run = |last: &[&str]| -> RunOutput {
        let args = ["replay", "it.firing", "--schedule", "job.toml"];
        bench.run(&[&args[..], more, last].concat())
    };
    let (text, value) = (run(&[]), run(&["--json"]));
    assert_eq!((text.code, text.err.as_str()), (value.code, ""), "{text:#?}");
    let words = text.out.split_whitespace().collect::<Vec<_>>().join(" ");
    (text.code, words, json(&value)["verdict"].clone())
}

fn subjects(verdict: &Value, outcome: &str) -> Vec<String> {
    let findings = verdict["findings"].as_array().unwrap().iter();
    let of_it = findings.filter(|finding| finding["outcome"] == outcome);
    of_it.map(|finding| finding["subject"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn a_whole_recording_gets_the_verdict_of_its_rehearsal() {
    let bench = Bench::with(SHORT);
    let rehearsed = json(&bench.run(&["rehearse", "job.toml", "--json"]));
    record(&bench, &[1], |_| false);
    let (code, words, verdict) = judged(&bench, &["--out", "report"]);
    assert_eq!(code, 0, "{words}");
    assert!(words.starts_with("it.firing: equal "), "{words}");
    let basis = "Verdict from the recording: the sensors' readings are recorded; what sensors cannot know \
                 (piece, depth, water) is computed by the simulated furnace from the recorded outputs. \
                 PASS: all 5 checks passed";
    assert!(words.contains(basis), "{words}");
    assert!(words.contains("Simulated sensor: the simulated control sensor was 0."), "{words}");
    assert_eq!((&verdict["basis"], &verdict["result"]), (&"recording".into(), &"pass".into()));
    for outcome in ["pass", "fail", "not-known"] {
        assert_eq!(subjects(&verdict, outcome), subjects(&rehearsed, outcome));
    }
    let page = std::fs::read_to_string(bench.path("report/report.html")).unwrap();
    assert!(page.contains("Record of a firing") && page.contains("2027-01-15"), "{page:.2000}");
    assert!(!bench.path("report/clearance.json").exists());
    // Without a schedule nothing is judged.
    let plain = json(&bench.run(&["replay", "it.firing", "--json"]));
    assert_eq!(plain["verdict"], Value::Null);
}

#[test]
fn a_recording_that_is_not_whole_is_not_known() {
    let bench = Bench::with(SHORT);
    for (origins, lost, why) in [
        (&[1_000][..], 0..1_000, "begins in the middle of the firing"),
        (&[1, 2_100], 2_000..2_100, "ticks of the firing are missing after tick 1999"),
        (&[1], 2_000..u32::MAX, "the recording ends at minute 3"),
        (&[1, 9_000], 2_000..9_000, "ticks of the firing are missing after tick 1999"),
        (&[1], 8..u32::MAX, "no firing begins in the recording"),
    ] {
        record(&bench, origins, |tick| lost.contains(&tick));
        let (code, words, verdict) = judged(&bench, &[]);
        assert_eq!(code, 3, "{words}");
        assert!(words.contains(why), "{why}: {words}");
        assert!(words.contains("NOT KNOWN: the only check could not be decided: Recording"));
        assert_eq!(subjects(&verdict, "not-known"), ["Recording"]);
    }
    // Ticks that are lost before the start, or long after the end, do not matter.
    record(&bench, &[1, 10], |tick| (5..10).contains(&tick));
    assert_eq!(judged(&bench, &[]).0, 0);
}

#[test]
fn another_programme_is_refused() {
    let bench = Bench::with(SHORT);
    record(&bench, &[1], |_| false);
    bench.write("job.toml", SHORT.replace("minutes = 2,", "minutes = 3,"));
    let result = bench.run(&["replay", "it.firing", "--schedule", "job.toml"]);
    assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
    let words = result.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("it was fired with the programme "), "{words}");
    assert!(words.contains("name the schedule, and with --furnace the profile,"), "{words}");
    for alone in ["--start", "--clearance", "--furnace"] {
        let result = bench.run(&["replay", "it.firing", alone, "30"]);
        assert_eq!(result.code, 2, "{alone} without a schedule: {result:#?}");
    }
}

#[test]
fn the_reason_of_the_clearance_is_shown() {
    let purpose = "body = \"alumina\"\npurpose = \"infiltrate\"";
    let bench = Bench::with(SHORT.replace("body = \"alumina\"", purpose));
    record(&bench, &[1], |_| false);
    let (code, words, verdict) = judged(&bench, &[]);
    assert_eq!((code, &verdict["reason"]), (3, &Value::Null), "{words}");
    let reason = "a trial on a scrap coping";
    for (folder, more) in [
        ("rehearsals/job", &[][..]),
        ("elsewhere", &["--clearance", "elsewhere/clearance.json"]),
    ] {
        let args = ["rehearse", "job.toml", "--out", folder, "--reason", reason];
        assert_eq!(bench.run(&args).code, 3);
        let (code, words, verdict) = judged(&bench, more);
        assert_eq!((code, &verdict["reason"]), (3, &reason.into()), "{words}");
        assert!(words.ends_with(&format!("for this reason: {reason}")), "{words}");
        let _ = std::fs::remove_dir_all(bench.path("rehearsals"));
    }
    let named = ["replay", "it.firing", "--schedule", "job.toml", "--clearance", "none.json"];
    assert_eq!(bench.run(&named).code, 2);
    assert!(!Path::new("none.json").exists());
}

#[test]
fn a_furnace_that_was_warm_begins_warm() {
    let bench = Bench::with(SHORT);
    record(&bench, &[1], |_| false);
    let (_, words, _) = judged(&bench, &["--start", "90"]);
    assert!(words.contains("computed with the furnace at 90 °C at the start"), "{words}");
    let (_, words, _) = judged(&bench, &[]);
    assert!(!words.contains("computed with"), "{words}");
}

/// What the device is, nobody knows then; a profile that is named is a choice.
#[test]
fn other_furnace_data_are_not_known_unless_the_profile_is_named() {
    let bench = Bench::with(SHORT);
    record(&bench, &[1], |_| false);
    let furnace = std::fs::read_to_string(bench.path("furnace.toml")).unwrap();
    let other = furnace.replace("disagree_max_kelvin = 40", "disagree_max_kelvin = 39");
    assert_ne!(furnace, other);
    bench.write("furnace.toml", other);
    let (code, words, verdict) = judged(&bench, &[]);
    assert_eq!(code, 3, "{words}");
    assert!(words.contains("the device has furnace data "), "{words}");
    let says = "NOT KNOWN Thermal stress: the device has other furnace data than the profile";
    assert!(words.contains(says), "{words}");
    assert!(!subjects(&verdict, "not-known").contains(&"Overshoot".to_owned()), "{words}");
    let (code, words, _) = judged(&bench, &["--furnace", "furnace.toml"]);
    assert_eq!(code, 0, "{words}");
    assert!(words.contains("the device has furnace data "), "{words}");
}
