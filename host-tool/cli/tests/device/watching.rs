//! `device watch`, recording, and replay of the recording.

use std::fs;
use std::sync::atomic::Ordering;
use std::thread;
use std::time::Duration;

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use serde_json::Value;

use crate::bench::{Bench, RunOutput, run_output};
use crate::upload::upload_without_clearance;

fn replayed(bench: &Bench, log: &str) -> (i32, Value) {
    // `replay` replaces no file.
    let _ = fs::remove_file(bench.path("ticks.csv"));
    let RunOutput { code, out, err } =
        bench.run(&["replay", log, "--json", "--csv", "ticks.csv"]);
    assert_eq!(err, "");
    (code, serde_json::from_str(&out).unwrap())
}

/// Waits until a log has this number of bytes.
fn wait_for_size(bench: &Bench, log: &str, bytes: u64) {
    for _ in 0..600 {
        if fs::metadata(bench.path(log)).is_ok_and(|data| data.len() >= bytes) {
            return;
        }
        thread::sleep(Duration::from_millis(50));
    }
    panic!("{log} does not grow to {bytes} bytes");
}

/// Replaces the example's stages with a short firing.
fn shorten_schedule(bench: &Bench) {
    let schedule = fs::read_to_string(bench.path("schedules/job.toml")).unwrap();
    let head = schedule.split("[[stage]]").next().unwrap();
    let stages = "[[stage]]\nramp = { to_celsius = 60, kelvin_per_minute = 15 }\n\n[[stage]]\n\
                  soak = { minutes = 1, band_kelvin = 10, patience_minutes = 60 }\n";
    fs::write(bench.path("schedules/job.toml"), format!("{head}{stages}")).unwrap();
}

#[test]
fn a_whole_firing_is_recorded_and_replays_bit_for_bit() {
    let bench = Bench::new();
    shorten_schedule(&bench);
    let device = bench.device(Duration::from_millis(1));
    let port = device.port();
    let schedule = bench.path("schedules/job.toml");
    upload_without_clearance(&schedule, &bench.path("bench.key"), &port);
    let watch =
        ["device", "watch", "--record", "a.firing", "--until-end", "--json", "--port", &port];
    let child = bench.start(&watch);
    wait_for_size(&bench, "a.firing", 2_000);
    device.controls.start.store(true, Ordering::Relaxed);
    let result = run_output(child.wait_with_output().unwrap());
    assert_eq!((result.code, result.err.as_str()), (0, ""), "{result:#?}");
    let last: Value = serde_json::from_str(result.out.lines().last().unwrap()).unwrap();
    let ticks = last["recorded"]["ticks"].as_u64().unwrap();
    assert!(ticks > 600, "a firing of two minutes has more ticks: {last}");
    let (code, value) = replayed(&bench, "a.firing");
    assert_eq!(code, 0, "{value}");
    assert_eq!(value["differs"], Value::Null);
    let compared = value["compared"].as_u64().unwrap();
    let skipped = value["skipped"].as_u64().unwrap();
    println!("{ticks} ticks recorded, {compared} compared, {skipped} skipped: {value}");
    assert_eq!(compared + skipped, ticks);
    assert!(compared > ticks / 2);
    let csv = fs::read_to_string(bench.path("ticks.csv")).unwrap();
    assert_eq!(csv.lines().count() as u64, ticks + 1);
    let heated = csv.lines().skip(1).filter(|row| row.split(',').nth(8) != Some("0")).count();
    assert!(heated > 30, "only {heated} ticks with heat");
}

#[test]
fn ctrl_c_and_lost_ticks_leave_an_intact_log() {
    let bench = Bench::new();
    let device = bench.device(Duration::from_millis(2));
    let port = device.port();
    let child = bench.start(&["device", "watch", "--record", "b.firing", "--port", &port]);
    wait_for_size(&bench, "b.firing", 8_000);
    device.controls.frames_to_drop.store(20, Ordering::Relaxed);
    wait_for_size(&bench, "b.firing", 16_000);
    wait_for_size(&bench, "b.firing", 24_000);
    kill(Pid::from_raw(i32::try_from(child.id()).unwrap()), Signal::SIGINT).unwrap();
    let result = run_output(child.wait_with_output().unwrap());
    assert_eq!((result.code, result.err.as_str()), (0, ""), "{result:#?}");
    assert!(result.out.contains("control: 2"), "{}", result.out);
    let (code, value) = replayed(&bench, "b.firing");
    assert_eq!((code, &value["torn"]), (0, &Value::Null), "{value}");
    assert!(!value["gaps"].as_array().unwrap().is_empty(), "{value}");
    assert!(value["stretches"].as_u64().unwrap() >= 2, "{value}");

    // A cut log is readable up to the cut; another file is refused.
    let bytes = fs::read(bench.path("b.firing")).unwrap();
    fs::write(bench.path("cut.firing"), &bytes[..bytes.len() - 7]).unwrap();
    let (code, value) = replayed(&bench, "cut.firing");
    assert_eq!((code, &value["torn"]["damaged"]), (0, &Value::Bool(false)), "{value}");
    fs::write(bench.path("odd.firing"), "no log").unwrap();
    assert_eq!(bench.run(&["replay", "odd.firing"]).code, 2);
    let text = bench.run(&["replay", "b.firing"]);
    assert!(text.out.starts_with("b.firing: equal, with "), "{}", text.out);
    crate::bench::assert_narrow(&text.out);
}

/// The schedule of another programme gives no stages and no questions, which must not go unnoticed.
#[test]
fn a_schedule_that_is_not_the_devices_programme_is_reported_once() {
    let bench = Bench::new();
    shorten_schedule(&bench);
    let device = bench.device(Duration::from_millis(2));
    let port = device.port();
    let schedule = bench.path("schedules/job.toml");
    upload_without_clearance(&schedule, &bench.path("bench.key"), &port);
    let watched = |schedule: &str| {
        let watch = ["device", "watch", "--port", &port, "--schedule", schedule];
        let child = bench.start(&watch);
        thread::sleep(Duration::from_secs(2));
        kill(Pid::from_raw(i32::try_from(child.id()).unwrap()), Signal::SIGINT).unwrap();
        let result = run_output(child.wait_with_output().unwrap());
        assert_eq!(result.code, 0, "{result:#?}");
        result.err.replace("\n  ", " ")
    };
    assert_eq!(watched("schedules/job.toml"), "");
    let text = watched("schedules/clean-alumina.toml");
    let wanted = "schedules/clean-alumina.toml is not the programme on the device (";
    assert_eq!(text.matches(wanted).count(), 1, "{text}");
    assert!(text.ends_with("): its stages and questions are not shown\n"), "{text}");
}
