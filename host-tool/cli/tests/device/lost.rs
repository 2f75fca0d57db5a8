//! Recorders whose connection is lost or taken by another client, or whose device restarts; and a
//! stop typed at a recorder.

use std::fs;
use std::io::Write as _;
use std::process::{Child, Stdio};
use std::sync::atomic::Ordering;
use std::thread;
use std::time::Duration;

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use serde_json::Value;

use crate::bench::{Bench, RunOutput, run_output};
use crate::test_device::TestDevice;

/// Starts a recorder.
fn record(bench: &Bench, port: &str, more: &[&str]) -> Child {
    let watch = ["device", "watch", "--record", "r.firing", "--port", port];
    let mut command = bench.command(&[&watch[..], more].concat());
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

fn end(child: Child) -> RunOutput {
    kill(Pid::from_raw(i32::try_from(child.id()).unwrap()), Signal::SIGINT).unwrap();
    run_output(child.wait_with_output().unwrap())
}

/// Waits until the log has grown by this number of bytes.
fn wait_for_growth(bench: &Bench, bytes: u64) {
    let length = || fs::metadata(bench.path("r.firing")).map_or(0, |data| data.len());
    let from = length();
    for _ in 0..600 {
        if length() >= from + bytes {
            return;
        }
        thread::sleep(Duration::from_millis(50));
    }
    panic!("the log does not grow");
}

/// Replays a log of several stretches, which must be equal. Returns the output.
fn replay_equal_stretches(bench: &Bench) -> String {
    let json = bench.run(&["replay", "r.firing", "--json"]);
    let value: Value = serde_json::from_str(&json.out).unwrap();
    assert!(value["stretches"].as_u64().unwrap() >= 2, "{value:#}");
    let replayed = bench.run(&["replay", "r.firing"]);
    assert_eq!(replayed.code, 0, "{replayed:#?}");
    assert!(replayed.out.starts_with("r.firing: equal"), "{replayed:#?}");
    replayed.out.replace("\n    ", " ")
}

fn state(bench: &Bench, device: &TestDevice) -> String {
    let result = bench.run(&["device", "info", "--json", "--port", &device.port()]);
    let info: Value = serde_json::from_str(&result.out).unwrap();
    info["device"]["standing"]["state"].as_str().unwrap().to_owned()
}

/// Another command takes the port, as it can where one client at a time is served.
#[test]
fn a_port_taken_by_another_client_is_taken_back_and_the_gap_recorded() {
    let bench = Bench::new();
    let device = bench.device(Duration::from_millis(5));
    let child = record(&bench, &device.port(), &[]);
    wait_for_growth(&bench, 8_000);
    assert_eq!(bench.run(&["device", "info", "--port", &device.port()]).code, 0);
    wait_for_growth(&bench, 8_000);
    wait_for_growth(&bench, 8_000);
    let result = end(child);
    assert_eq!(result.code, 0, "{result:#?}");
    let err = result.err.replace("\n  ", " ");
    assert!(err.contains("reconnecting for up to 10 min"), "{err}");
    assert!(err.contains("reconnected after"), "{err}");
    let out = replay_equal_stretches(&bench);
    assert!(out.contains("are missing"), "{out}");
}

#[test]
fn a_restart_is_reported_and_the_recording_goes_on() {
    let bench = Bench::new();
    let device = bench.device(Duration::from_millis(5));
    let child = record(&bench, &device.port(), &[]);
    // More ticks than follow the restart, so that the new tick numbers are lower.
    wait_for_growth(&bench, 80_000);
    device.controls.reboot.store(true, Ordering::Relaxed);
    wait_for_growth(&bench, 8_000);
    wait_for_growth(&bench, 8_000);
    let result = end(child);
    assert_eq!(result.code, 0, "{result:#?}");
    let err = result.err.replace("\n  ", " ");
    assert!(err.contains("has restarted"), "{err}");
    let out = replay_equal_stretches(&bench);
    assert!(out.contains("the device restarted after tick"), "{out}");
}

#[test]
fn watching_ends_when_the_connection_does_not_return() {
    let bench = Bench::new();
    let device = bench.device(Duration::from_millis(5));
    let child = record(&bench, &device.port(), &["--give-up", "0.05"]);
    wait_for_growth(&bench, 8_000);
    drop(device);
    let result = run_output(child.wait_with_output().unwrap());
    assert_eq!(result.code, 2, "{result:#?}");
    let err = result.err.replace("\n  ", " ");
    assert!(err.contains("reconnecting for up to 3 s"), "{err}");
    assert!(err.contains("r.firing is intact"), "{err}");
    let replayed = bench.run(&["replay", "r.firing"]);
    assert_eq!(replayed.code, 0, "{replayed:#?}");
}

/// The recorder occupies the port, so the stop is typed at it; no tick is lost.
#[test]
fn a_firing_is_stopped_by_typing_stop_while_it_is_recorded() {
    let bench = Bench::new();
    let device = bench.device(Duration::from_millis(5));
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml"]).code, 0);
    assert_eq!(bench.upload(&device, &[]).code, 0);
    let mut child = record(&bench, &device.port(), &["--key", "bench.key"]);
    wait_for_growth(&bench, 4_000);
    device.controls.start.store(true, Ordering::Relaxed);
    wait_for_growth(&bench, 8_000);
    let mut typed = child.stdin.take().unwrap();
    typed.write_all(b"sto\nx\nstopp\n").unwrap();
    wait_for_growth(&bench, 8_000);
    typed.write_all(b"stop\n").unwrap();
    wait_for_growth(&bench, 8_000);
    drop(typed);
    wait_for_growth(&bench, 8_000);
    let result = end(child);
    assert_eq!(result.code, 0, "{result:#?}");
    let err = result.err.replace("\n  ", " ");
    assert!(err.contains("type stop and Enter"), "{err}");
    assert!(err.contains("has accepted the order"), "{err}");
    let typo =
        "\"stopp\" is not an order; nothing was sent. To stop the firing: type stop and Enter";
    assert!(err.contains(typo), "{err}");
    assert_eq!(
        state(&bench, &device),
        "ended: stopped over the link, by a client with the device's key"
    );
    let replayed = bench.run(&["replay", "r.firing", "--json"]);
    let value: Value = serde_json::from_str(&replayed.out).unwrap();
    assert_eq!((replayed.code, &value["gaps"]), (0, &Value::Array(Vec::new())), "{value}");
}
