//! `device info`, `upload` and `stop`, and their refusals.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::sync::atomic::Ordering;
use std::time::Duration;

use serde_json::Value;

use crate::bench::{Bench, assert_narrow};

/// Duration of a tick; the furnace need not heat.
const PACE: Duration = Duration::from_millis(1);

/// A text as one line.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

#[test]
fn a_cleared_programme_is_uploaded_and_shown_on_both_sides() {
    let bench = Bench::new();
    let device = bench.device(PACE);
    let port = device.port();
    let result = bench.upload(&device, &[]);
    assert_eq!(result.code, 2, "without a clearance: {result:#?}");
    assert!(result.err.contains("there is no clearance"), "{}", result.err);

    let rehearsed = bench.run(&["rehearse", "schedules/job.toml"]);
    assert_eq!(rehearsed.code, 0, "{rehearsed:#?}");
    let cleared = "Cleared for upload:\n  rehearsals/job/clearance.json";
    assert!(rehearsed.out.contains(cleared), "{}", rehearsed.out);
    let result = bench.upload(&device, &[]);
    assert_eq!((result.code, result.err.as_str()), (0, ""), "{result:#?}");
    assert_narrow(&result.out);
    let code = format!("{:08}", device.controls.shown_code());
    let shown = format!("must show: code {} {}, peak 875 °C, 7 steps.", &code[..4], &code[4..]);
    assert!(
        unwrapped(&result.out).contains(&shown),
        "the device shows {shown}: {}",
        result.out
    );

    let info = json(&bench.run(&["device", "info", "--json", "--port", &port]).out);
    let compiled = ["compile", "schedules/job.toml", "-o", "job.programme", "--json"];
    let compiled = json(&bench.run(&compiled).out);
    let digest = compiled["programme"]["digest"].as_str().unwrap();
    assert_eq!(info["device"]["programme"], digest);
    assert_eq!(info["device"]["device"], "bench-7");
    assert_eq!(info["device"]["standing"]["state"], "idle");
    assert_eq!(info["device"]["standing"]["programme"], &digest[..8]);
    assert!(result.out.contains(&format!("there: {}", &digest[..8])), "{}", result.out);
    let text = bench.run(&["device", "info", "--port", &port]);
    assert_narrow(&text.out);
    assert!(text.out.starts_with("bench-7: idle\n"), "{}", text.out);
    let boot = "; its log names this start boot ";
    assert!(unwrapped(&text.out).contains(boot), "{}", text.out);
    assert!(unwrapped(&text.out).contains(" (boot numbers have gaps)"), "{}", text.out);

    fs::copy(bench.path("job.programme"), bench.path("schedules/job.programme")).unwrap();
    let upload =
        ["device", "upload", "schedules/job.programme", "--key", "bench.key", "--json"];
    let result = bench.run(&[&upload[..], &["--port", &port]].concat());
    assert_eq!(result.code, 0, "{result:#?}");
    assert_eq!(json(&result.out)["device_digest"], digest);
}

#[test]
fn an_upload_without_a_matching_rehearsal_is_refused() {
    let bench = Bench::new();
    let device = bench.device(PACE);
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml", "--out", "r"]).code, 0);
    let path = bench.path("r/clearance.json");
    let clear = ["--clearance", "r/clearance.json"];

    // The schedule is changed after its rehearsal.
    let schedule = fs::read_to_string(bench.path("schedules/job.toml")).unwrap();
    fs::write(
        bench.path("schedules/job.toml"),
        schedule.replacen("name = \"", "name = \"x", 1),
    )
    .unwrap();
    let result = bench.upload(&device, &clear);
    assert_eq!(result.code, 2);
    assert!(result.err.contains("rehearse it again"), "{}", result.err);
    fs::write(bench.path("schedules/job.toml"), &schedule).unwrap();

    // The clearance is for other furnace data than the device has.
    let profile = bench.path("furnaces/teaching-door.toml");
    let furnace = fs::read_to_string(&profile).unwrap();
    fs::write(&profile, furnace.replace("rated_watt = 2000", "rated_watt = 2001")).unwrap();
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml", "--out", "r"]).code, 0);
    let result = bench.upload(&device, &clear);
    assert_eq!(result.code, 2, "{result:#?}");
    let text = unwrapped(&result.err);
    assert!(text.contains("it clears Fieldfare (furnace data "), "{text}");
    assert!(text.contains("but this device is another furnace (furnace data "), "{text}");

    // A rehearsal with changed conditions removes the clearance.
    assert!(path.exists());
    bench.run(&["rehearse", "schedules/job.toml", "--out", "r", "--mains", "99"]);
    assert!(!path.exists());
}

#[test]
fn keys_are_kept_from_others_and_a_wrong_one_opens_nothing() {
    let bench = Bench::new();
    let device = bench.device(PACE);
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml"]).code, 0);
    let other = bench.run(&["device", "key", "new", "--out", "other.key"]);
    assert_eq!(other.code, 0);
    assert_ne!(bench.run(&["device", "key", "new", "--out", "other.key"]).code, 0);
    let port = device.port();
    let stop = ["device", "stop", "--key", "other.key", "--port", &port];
    let result = bench.run(&stop);
    assert_eq!(result.code, 1, "{result:#?}");
    let words = result.err.replace("\n  ", " ");
    assert!(words.contains("it did not accept this key: give --key the file"), "{words}");
    fs::set_permissions(bench.path("bench.key"), fs::Permissions::from_mode(0o644)).unwrap();
    let result = bench.upload(&device, &[]);
    assert_eq!(result.code, 2);
    assert!(result.err.contains("chmod 600 bench.key"), "{}", result.err);
    let info = json(&bench.run(&["device", "info", "--json", "--port", &port]).out);
    assert_eq!(info["device"]["programme"], Value::Null, "nothing was uploaded");
}

#[test]
fn a_running_firing_takes_a_stop_and_nothing_else() {
    let bench = Bench::new();
    let device = bench.device(PACE);
    let port = device.port();
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml"]).code, 0);
    assert_eq!(bench.upload(&device, &[]).code, 0);
    device.controls.start.store(true, Ordering::Relaxed);
    let state = |wanted: &str| {
        for _ in 0..50 {
            let info = json(&bench.run(&["device", "info", "--json", "--port", &port]).out);
            let state = info["device"]["standing"]["state"].as_str().unwrap().to_owned();
            if state.contains(wanted) {
                return;
            }
        }
        panic!("{wanted} does not appear");
    };
    state("firing, step ");
    let result = bench.upload(&device, &[]);
    assert_eq!(result.code, 1, "{result:#?}");
    assert!(
        result.err.contains("a firing is\n  running")
            || result.err.contains("a firing is running")
    );
    let stop = bench.run(&["device", "stop", "--key", "bench.key", "--port", &port]);
    assert_eq!(stop.code, 0, "{stop:#?}");
    state("ended: stopped");
    let log = bench.run(&["device", "log", "--port", &port]);
    assert_eq!(log.code, 0);
    assert_narrow(&log.out);
    let order = [
        "the device started",
        "became active",
        "the programme was confirmed at the furnace",
        "the firing was started",
        "ordered a stop",
    ];
    let text = unwrapped(&log.out);
    let mut from = 0;
    for wanted in order {
        let at = text[from..].find(wanted);
        from += at.unwrap_or_else(|| panic!("{wanted} is not in its place: {text}"));
    }
    let log = json(&bench.run(&["device", "log", "--json", "--port", &port]).out);
    assert_eq!(log["lines"][0]["text"], "the device started");
}

/// A file that is not TOML gets one diagnostic, not one per line.
#[test]
fn an_upload_of_a_picture_is_refused_once() {
    let bench = Bench::new();
    let device = bench.device(PACE);
    fs::write(bench.path("picture.svg"), "<svg>\n<path d='M0 0'/>\n</svg>\n").unwrap();
    let to = ["--key", "bench.key", "--port", &device.port()];
    let result = bench.run(&[&["device", "upload", "picture.svg"], &to[..]].concat());
    assert_eq!(result.code, 2, "{result:#?}");
    assert_eq!(result.err.matches("picture.svg: ").count(), 1, "{}", result.err);
    assert!(result.err.contains("neither a schedule nor a programme"), "{}", result.err);
}

#[test]
fn a_device_that_cannot_be_reached_is_reported_with_the_cure() {
    let bench = Bench::new();
    let port = {
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        format!("tcp:{}", listener.local_addr().unwrap())
    };
    let result = bench.run(&["device", "info", "--port", &port]);
    assert_eq!((result.code, result.out.as_str()), (2, ""));
    assert!(result.err.contains("nothing listens there"), "{}", result.err);
    for (port, why) in [
        ("tcp:192.168.0.9:7430", "is not this machine"),
        ("/dev/no-such-port", "there is no such port"),
    ] {
        let result = bench.run(&["device", "info", "--port", port]);
        assert_eq!(result.code, 2, "{result:#?}");
        assert!(result.err.replace("\n  ", " ").contains(why), "{}", result.err);
    }
}
