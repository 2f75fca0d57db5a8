//! The channel that a shown temperature comes from, also when the other channel has no reading.

use std::sync::atomic::Ordering;
use std::time::Duration;

use serde_json::Value;

use crate::bench::{Bench, assert_narrow};

/// The control thermocouple breaks in a firing: the furnace trips, and the limit channel still
/// has a temperature, which is shown.
#[test]
fn the_limit_channel_is_shown_when_the_control_channel_is_open() {
    let bench = Bench::new();
    let device = bench.device(Duration::from_millis(1));
    let port = device.port();
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml"]).code, 0);
    assert_eq!(bench.upload(&device, &[]).code, 0);
    let whole = bench.run(&["device", "info", "--port", &port]);
    assert!(whole.out.contains("control: 2") && whole.out.contains("limit: 2"), "{whole:#?}");
    device.controls.start.store(true, Ordering::Relaxed);
    std::thread::sleep(Duration::from_millis(500));
    device.controls.control_open.store(true, Ordering::Relaxed);
    std::thread::sleep(Duration::from_millis(500));

    let info = bench.run(&["device", "info", "--port", &port]);
    assert_narrow(&info.out);
    let result = info.out.replace("\n  ", " ");
    assert!(result.contains("tripped: sensor open"), "{result}");
    assert!(result.contains("Check the thermocouple, its plug and its front end."), "{result}");
    assert!(result.contains("control: no reading (open) · limit: 2"), "{result}");
    let info = bench.run(&["device", "info", "--json", "--port", &port]);
    let info: Value = serde_json::from_str(&info.out).unwrap();
    let standing = &info["device"]["standing"];
    let limit = standing["limit_celsius"].as_f64().unwrap();
    assert!((15.0..40.0).contains(&limit), "{standing:#}");
    assert_eq!(standing["reading_celsius"], Value::Null);
    assert_eq!(standing["control_fault"], "open");
    assert_eq!(standing["limit_fault"], Value::Null);
    assert_eq!(standing["advice"], "Check the thermocouple, its plug and its front end.");

    let child = bench.start(&["device", "watch", "--port", &port, "--json"]);
    std::thread::sleep(Duration::from_millis(1500));
    let pid = nix::unistd::Pid::from_raw(i32::try_from(child.id()).unwrap());
    nix::sys::signal::kill(pid, nix::sys::signal::Signal::SIGINT).unwrap();
    let watched = crate::bench::run_output(child.wait_with_output().unwrap());
    let last = watched.out.lines().rev().nth(1).unwrap();
    let last: Value = serde_json::from_str(last).unwrap();
    assert!(last["limit_celsius"].is_number(), "{last:#}");
    assert_eq!(last["control_fault"], "open");
}
