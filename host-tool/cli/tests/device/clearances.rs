//! A clearance covers the schedule with its work, the furnace profile and the tool's version, and
//! no file that has changed since.

use std::fs;
use std::time::Duration;

use serde_json::Value;

use crate::bench::{Bench, RunOutput};
use crate::test_device::TestDevice;

/// Duration of a tick; the furnace need not heat.
const PACE: Duration = Duration::from_millis(1);

const SCHEDULE: &str = "schedules/job.toml";
const PROFILE: &str = "furnaces/teaching-door.toml";
const CLEARANCE: &str = "rehearsals/job/clearance.json";

/// A folder in which the job was rehearsed and cleared.
fn cleared() -> Bench {
    let bench = Bench::new();
    assert_eq!(bench.run(&["rehearse", SCHEDULE]).code, 0);
    bench
}

/// Changes one thing in a file.
#[track_caller]
fn change(bench: &Bench, file: &str, from: &str, to: &str) {
    let text = fs::read_to_string(bench.path(file)).unwrap();
    assert!(text.contains(from), "{file} has no {from}");
    fs::write(bench.path(file), text.replacen(from, to, 1)).unwrap();
}

/// Asserts that an upload was refused with this reason and cure before anything was sent.
#[track_caller]
fn assert_refused(
    device: &TestDevice,
    bench: &Bench,
    result: &RunOutput,
    why: &str,
    cure: &str,
) {
    let words = result.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(result.code, 2, "{result:#?}");
    assert!(words.contains(why) && words.contains(cure), "{words}");
    let info = bench.run(&["device", "info", "--json", "--port", &device.port()]);
    let info: Value = serde_json::from_str(&info.out).unwrap();
    assert_eq!(info["device"]["programme"], Value::Null, "nothing was uploaded");
}

/// The digest of the schedule's programme.
fn programme_digest(bench: &Bench) -> Value {
    let result = bench.run(&["check", SCHEDULE, "--json"]);
    let checked: Value = serde_json::from_str(&result.out).unwrap();
    checked["files"][0]["programme"]["digest"].clone()
}

#[test]
fn other_work_in_the_same_programme_is_not_covered() {
    let bench = cleared();
    let device = bench.device(PACE);
    let before = programme_digest(&bench);
    change(&bench, SCHEDULE, "wall_millimetre = 0.5", "wall_millimetre = 3.0");
    assert_eq!(programme_digest(&bench), before, "the programme does not depend on the work");
    let result = bench.upload(&device, &[]);
    let why = "the schedule schedules/job.toml has changed since the rehearsal";
    assert_refused(&device, &bench, &result, why, "rehearse it again");
    // The original schedule is covered again.
    change(&bench, SCHEDULE, "wall_millimetre = 3.0", "wall_millimetre = 0.5");
    assert_eq!(bench.upload(&device, &[]).code, 0);
}

#[test]
fn another_profile_is_not_covered_even_where_the_device_has_the_same_data() {
    let bench = cleared();
    let device = bench.device(PACE);
    // The room temperature affects the simulation, but is not in the device's data.
    change(&bench, PROFILE, "room_celsius = 23", "room_celsius = 31");
    let result = bench.upload(&device, &[]);
    let why = "has changed since the rehearsal";
    assert_refused(&device, &bench, &result, why, "rehearse the schedule again");

    // A profile given with `--furnace` is not covered either, until it was rehearsed with.
    fs::copy(bench.path(PROFILE), bench.path("summer.toml")).unwrap();
    change(&bench, PROFILE, "room_celsius = 31", "room_celsius = 23");
    let given = ["--furnace", "summer.toml"];
    let result = bench.upload(&device, &[&given[..], &["--clearance", CLEARANCE]].concat());
    assert_refused(&device, &bench, &result, "summer.toml has changed", "again");
    let result = bench.upload(&device, &given);
    assert_refused(
        &device,
        &bench,
        &result,
        "job+summer/clearance.json: there is no clearance",
        "",
    );
    assert_eq!(bench.run(&["rehearse", SCHEDULE, "--furnace", "summer.toml"]).code, 0);
    let other = ["--clearance", "rehearsals/job+summer/clearance.json"];
    let result = bench.upload(&device, &other);
    assert_refused(&device, &bench, &result, "teaching-door.toml has changed", "again");
    assert_eq!(bench.upload(&device, &given).code, 0);
}

/// Bare work that is to be infiltrated cannot be judged.
#[test]
fn what_is_not_known_goes_on_only_for_a_reason_which_the_upload_shows() {
    let bench = cleared();
    let device = bench.device(PACE);
    change(&bench, SCHEDULE, "lubricant_percent = 0.5", "purpose = \"infiltrate\"");
    assert_eq!(bench.run(&["rehearse", SCHEDULE]).code, 3);
    let result = bench.upload(&device, &[]);
    assert_refused(&device, &bench, &result, "there is no clearance", "give a --reason");
    let why = ["--reason", "a trial on a scrap coping"];
    assert_eq!(bench.run(&[&["rehearse", SCHEDULE][..], &why].concat()).code, 3);
    let result = bench.upload(&device, &["--json"]);
    let json: Value = serde_json::from_str(&result.out).unwrap();
    assert_eq!((result.code, &json["reason"]), (0, &Value::from(why[1])), "{json}");
    let shown = bench.upload(&device, &[]);
    let words = shown.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let line =
        "Cleared although the verdict is NOT KNOWN, for this reason: a trial on a scrap coping";
    assert!(words.contains(line), "{words}");
    // A text that was put in afterwards is none.
    change(&bench, CLEARANCE, "scrap", "good");
    let result = bench.upload(&device, &[]);
    let words = result.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(result.code == 2 && words.contains("was edited after the rehearsal"), "{words}");
}

#[test]
fn line_ends_and_a_byte_order_mark_change_nothing() {
    let bench = cleared();
    let device = bench.device(PACE);
    for file in [SCHEDULE, PROFILE] {
        let text = fs::read_to_string(bench.path(file)).unwrap();
        let windows = format!("\u{feff}{}", text.replace('\n', "\r\n"));
        fs::write(bench.path(file), windows).unwrap();
    }
    let result = bench.upload(&device, &[]);
    assert_eq!(result.code, 0, "{result:#?}");
}

#[test]
fn a_programme_is_covered_by_the_clearance_of_its_own_schedule() {
    let bench = cleared();
    let device = bench.device(PACE);
    let upload = ["device", "upload", "job.programme", "--key", "bench.key"];
    let port = device.port();
    let to = [&upload[..], &["--clearance", CLEARANCE, "--port", &port]].concat();
    change(&bench, SCHEDULE, "soak = { minutes = 25", "soak = { minutes = 26");
    assert_eq!(bench.run(&["compile", SCHEDULE, "-o", "job.programme"]).code, 0);
    let result = bench.run(&to);
    assert_refused(&device, &bench, &result, "it clears programme", "compile it again");
    change(&bench, SCHEDULE, "soak = { minutes = 26", "soak = { minutes = 25");
    assert_eq!(bench.run(&["compile", SCHEDULE, "-o", "job.programme", "--force"]).code, 0);
    assert_eq!(bench.run(&to).code, 0);
}

#[test]
fn an_invalid_clearance_is_refused_with_the_reason() {
    let bench = cleared();
    let device = bench.device(PACE);
    let good = fs::read_to_string(bench.path(CLEARANCE)).unwrap();
    let version =
        |number: u32| good.replace("\"version\": 3", &format!("\"version\": {number}"));
    let digit = good.find("\"schedule\": \"").unwrap() + "\"schedule\": \"".len();
    let mut edited = good.clone();
    let other = if good[digit..].starts_with('0') { "1" } else { "0" };
    edited.replace_range(digit..=digit, other);
    let again = "rehearse the schedule again";
    for (text, why) in [
        (version(2), "this clearance has version 2, but this tool reads version 3"),
        (version(4), "this clearance has version 4, but this tool reads version 3"),
        (good.replacen('{', "{ \"seed\": \"banana\",", 1), "this file is not a clearance"),
        (good.replace("saggar.clearance", "saggar.verdict"), "this file is not a clearance"),
        (good.replace("\"schedule\"", "\"plan\""), "this file is not a clearance"),
        (edited, "this clearance was edited after the rehearsal"),
        (good.replace("\"tool\": \"", "\"tool\": \"9."), "edited after the rehearsal"),
    ] {
        assert_ne!(text, good, "{why}");
        fs::write(bench.path(CLEARANCE), text).unwrap();
        assert_refused(&device, &bench, &bench.upload(&device, &[]), why, again);
    }
}
