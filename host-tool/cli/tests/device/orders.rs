//! Who is there, uploads, stops, and what is refused.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::sync::atomic::Ordering;
use std::time::Duration;

use serde_json::Value;

use crate::bench::{Bench, narrow};

/// A tick of a device whose furnace need not get anywhere.
const PACE: Duration = Duration::from_millis(1);

/// A text in one line.
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
    let said = bench.upload(&device, &[]);
    assert_eq!(said.code, 2, "without a clearance: {said:#?}");
    assert!(said.err.contains("there is no clearance"), "{}", said.err);

    let rehearsed = bench.run(&["rehearse", "schedules/job.toml"]);
    assert_eq!(rehearsed.code, 0, "{rehearsed:#?}");
    let cleared = "Cleared for upload:\n  rehearsals/job/clearance.json";
    assert!(rehearsed.out.contains(cleared), "{}", rehearsed.out);
    let said = bench.upload(&device, &[]);
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{said:#?}");
    narrow(&said.out);
    let code = format!("{:08}", device.hands.code.load(Ordering::Relaxed));
    let shown = format!("must show: code {} {}, peak 875 °C, 7 steps.", &code[..4], &code[4..]);
    assert!(unwrapped(&said.out).contains(&shown), "the device shows {shown}: {}", said.out);

    let info = json(&bench.run(&["device", "info", "--json", "--port", &port]).out);
    let compiled = ["compile", "schedules/job.toml", "-o", "job.programme", "--json"];
    let compiled = json(&bench.run(&compiled).out);
    let digest = compiled["programme"]["digest"].as_str().unwrap();
    assert_eq!(info["device"]["programme"], digest);
    assert_eq!(info["device"]["device"], "bench-7");
    assert_eq!(info["device"]["standing"]["state"], "idle");
    assert_eq!(info["device"]["standing"]["programme"], &digest[..8]);
    assert!(said.out.contains(&format!("there: {}", &digest[..8])), "{}", said.out);
    let told = bench.run(&["device", "info", "--port", &port]);
    narrow(&told.out);
    assert!(told.out.starts_with("bench-7: idle\n"), "{}", told.out);

    fs::copy(bench.path("job.programme"), bench.path("schedules/job.programme")).unwrap();
    let upload =
        ["device", "upload", "schedules/job.programme", "--key", "bench.key", "--json"];
    let said = bench.run(&[&upload[..], &["--port", &port]].concat());
    assert_eq!(said.code, 0, "{said:#?}");
    assert_eq!(json(&said.out)["device_digest"], digest);
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
    let said = bench.upload(&device, &clear);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("rehearse it again"), "{}", said.err);
    fs::write(bench.path("schedules/job.toml"), &schedule).unwrap();

    // It is for a furnace of other data.
    let profile = bench.path("furnaces/teaching-door.toml");
    let furnace = fs::read_to_string(&profile).unwrap();
    fs::write(&profile, furnace.replace("rated_watt = 2000", "rated_watt = 2001")).unwrap();
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml", "--out", "r"]).code, 0);
    let said = bench.upload(&device, &clear);
    assert_eq!(said.code, 2, "{said:#?}");
    assert!(said.err.contains("but the device has"), "{}", said.err);

    // A rehearsal that is not plain takes the clearance away.
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
    let said = bench.run(&stop);
    assert_eq!(said.code, 1, "{said:#?}");
    let words = said.err.replace("\n  ", " ");
    assert!(words.contains("this key is not the one stored in the device"), "{words}");
    fs::set_permissions(bench.path("bench.key"), fs::Permissions::from_mode(0o644)).unwrap();
    let said = bench.upload(&device, &[]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("chmod 600 bench.key"), "{}", said.err);
    let info = json(&bench.run(&["device", "info", "--json", "--port", &port]).out);
    assert_eq!(info["device"]["programme"], Value::Null, "nothing arrived");
}

#[test]
fn a_running_firing_takes_a_stop_and_nothing_else() {
    let bench = Bench::new();
    let device = bench.device(PACE);
    let port = device.port();
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml"]).code, 0);
    assert_eq!(bench.upload(&device, &[]).code, 0);
    device.hands.start.store(true, Ordering::Relaxed);
    let state = |wanted: &str| {
        for _ in 0..50 {
            let info = json(&bench.run(&["device", "info", "--json", "--port", &port]).out);
            let state = info["device"]["standing"]["state"].as_str().unwrap().to_owned();
            if state.contains(wanted) {
                return;
            }
        }
        panic!("it never says {wanted}");
    };
    state("firing, step ");
    let said = bench.upload(&device, &[]);
    assert_eq!(said.code, 1, "{said:#?}");
    assert!(
        said.err.contains("a firing is\n  running") || said.err.contains("a firing is running")
    );
    let stop = bench.run(&["device", "stop", "--key", "bench.key", "--port", &port]);
    assert_eq!(stop.code, 0, "{stop:#?}");
    state("ended: stopped");
    let log = bench.run(&["device", "log", "--port", &port]);
    assert_eq!(log.code, 0);
    narrow(&log.out);
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

/// A file that is not even TOML is one diagnostic, not one for each of its lines.
#[test]
fn an_upload_of_a_picture_is_refused_once() {
    let bench = Bench::new();
    let device = bench.device(PACE);
    fs::write(bench.path("picture.svg"), "<svg>\n<path d='M0 0'/>\n</svg>\n").unwrap();
    let to = ["--key", "bench.key", "--port", &device.port()];
    let said = bench.run(&[&["device", "upload", "picture.svg"], &to[..]].concat());
    assert_eq!(said.code, 2, "{said:#?}");
    assert_eq!(said.err.matches("picture.svg: ").count(), 1, "{}", said.err);
    assert!(said.err.contains("neither a schedule nor a programme"), "{}", said.err);
}

#[test]
fn a_device_that_cannot_be_reached_is_reported_with_the_cure() {
    let bench = Bench::new();
    let port = {
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        format!("tcp:{}", listener.local_addr().unwrap())
    };
    let said = bench.run(&["device", "info", "--port", &port]);
    assert_eq!((said.code, said.out.as_str()), (2, ""));
    assert!(said.err.contains("nothing listens there"), "{}", said.err);
    for (port, why) in [
        ("tcp:192.168.0.9:7430", "is not this machine"),
        ("/dev/no-such-port", "there is no such port"),
    ] {
        let said = bench.run(&["device", "info", "--port", port]);
        assert_eq!(said.code, 2, "{said:#?}");
        assert!(said.err.replace("\n  ", " ").contains(why), "{}", said.err);
    }
}
