//! The firmware in the stand-in's process.

use std::fs::Permissions;
use std::os::unix::fs::PermissionsExt as _;

use crate::bench::{Bench, docs, route};

#[test]
fn an_infiltration_goes_from_schedule_to_replay() {
    let bench = Bench::new();
    let result = route(
        &bench,
        &docs().join("schedules/infiltrate-alumina.toml"),
        &["--listen", "tcp:127.0.0.1:0", "--out", "report"],
    );
    assert_eq!(result["verdict"]["passed"], true);
    for name in ["report.html", "trace.csv", "verdict.json", "chart.svg"] {
        assert!(bench.path("report").join(name).is_file(), "{name}");
    }
}

/// Messages and verdict name the stages of the file, although the programme has steps only.
#[test]
fn stages_have_the_numbers_of_the_file() {
    let bench = Bench::new();
    let short = bench.short();
    let name = short.display().to_string();
    assert_eq!(bench.run(&["rehearse", &name, "--out", "trial"]).code, 0);
    let (running, port) = bench.standin(&short, &["--listen", "tcp:127.0.0.1:0"]);
    assert_eq!(bench.upload(&name, &port).code, 0);
    let ended = running.end();
    assert!(ended.err.contains("step 1 of 2 (stage 1) began\n"), "{}", ended.err);
    assert!(ended.err.contains("step 2 of 2 (stage 3 \"hold\") began\n"), "{}", ended.err);
    let stages = &ended.json()["verdict"]["stages"];
    assert_eq!((&stages[1]["number"], &stages[1]["step"]), (&3.into(), &2.into()));
}

/// A firing whose verdict is not known reaches the device only for a reason, and its own verdict is not known.
#[test]
fn what_is_not_known_goes_the_whole_way_for_a_reason() {
    let bench = Bench::new();
    let short = bench.short();
    let text = std::fs::read_to_string(&short).unwrap();
    let purpose = "body = \"alumina\"\npurpose = \"infiltrate\"";
    std::fs::write(&short, text.replace("body = \"alumina\"", purpose)).unwrap();
    let name = short.display().to_string();
    let rehearse = ["rehearse", &name, "--out", "trial", "--reason", "a trial of the table"];
    assert_eq!(bench.run(&rehearse).code, 3);
    let (running, port) = bench.standin(&short, &["--listen", "tcp:127.0.0.1:0"]);
    let uploaded = bench.upload(&name, &port);
    assert_eq!(
        (uploaded.code, &uploaded.json()["reason"]),
        (0, &"a trial of the table".into())
    );
    let ended = running.end();
    assert_eq!(ended.code, 3, "{ended:#?}");
    assert_eq!(ended.json()["verdict"]["result"], "not-known");
    assert_eq!(ended.json()["verdict"]["reason"], serde_json::Value::Null);
}

#[test]
fn a_stand_in_listens_at_a_pseudo_terminal() {
    let bench = Bench::new();
    let short = bench.short();
    let rehearsed = bench.run(&["rehearse", &short.display().to_string(), "--no-report"]);
    assert!(rehearsed.code <= 1, "{rehearsed:#?}");
    let (running, port) = bench.standin(&short, &["--listen", "pty"]);
    let info = bench.run(&["device", "info", "--port", &port, "--json"]);
    assert_eq!(info.code, 0, "{info:#?}");
    drop(running);
}

#[test]
fn an_upload_survives_a_restart() {
    upload_survives_a_restart(&[]);
}

/// The stand-in is killed as soon as the client knows that the programme is in flash.
pub(crate) fn upload_survives_a_restart(more: &[&str]) {
    let bench = Bench::new();
    let schedule = docs().join("schedules/infiltrate-alumina.toml").display().to_string();
    assert_eq!(bench.run(&["rehearse", &schedule, "--out", "trial", "--json"]).code, 0);
    let args = ["--listen", "tcp:127.0.0.1:0", "--key", "d.key", "--memory", "flash.bin"];
    let args = [&args[..], more].concat();
    let (running, port) = bench.spawn_standin(schedule.as_ref(), &args);
    let sent = bench.upload(&schedule, &port);
    assert_eq!(sent.code, 0, "{sent:#?}");
    drop(running);
    let (_running, port) = bench.spawn_standin(schedule.as_ref(), &args);
    let info = bench.run(&["device", "info", "--port", &port, "--json"]).json();
    let trial: serde_json::Value =
        serde_json::from_slice(&std::fs::read(bench.path("trial/verdict.json")).unwrap())
            .unwrap();
    assert!(info.to_string().contains(trial["digest"].as_str().unwrap()), "{info:#}");
}

/// With another key the old one no longer opens the stand-in, which must not come as a surprise.
#[test]
fn another_key_for_a_memory_file_is_reported() {
    let bench = Bench::new();
    let short = bench.short();
    assert_eq!(bench.run(&["device", "key", "new", "--out", "other.key"]).code, 0);
    for (key, reported) in [("d.key", 0), ("d.key", 0), ("other.key", 1)] {
        let args = ["--listen", "tcp:127.0.0.1:0", "--key", key, "--memory", "flash.bin"];
        let (running, _) = bench.spawn_standin(&short, &args);
        let messages = running.stop();
        let line = "flash.bin: its key is replaced by other.key\n";
        assert_eq!(messages.matches(line).count(), reported, "{key}: {messages}");
    }
}

/// The memory file contains the key, as a key file does.
#[test]
fn a_memory_file_that_others_may_read_is_refused() {
    let bench = Bench::new();
    let short = bench.short();
    let args = ["--listen", "tcp:127.0.0.1:0", "--key", "d.key", "--memory", "flash.bin"];
    let (running, _) = bench.spawn_standin(&short, &args);
    drop(running);
    let path = bench.path("flash.bin");
    // A stand-in that accepts the file all the same ends too, because its address is in use.
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let listen = format!("tcp:{}", taken.local_addr().unwrap());
    let mode = |path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&path), 0o600);
    for others in [0o644, 0o640, 0o604, 0o620] {
        std::fs::set_permissions(&path, Permissions::from_mode(others)).unwrap();
        let args = ["standin", "short.toml", "--listen", &listen, "--memory", "flash.bin"];
        let result = bench.run(&args);
        assert_eq!(result.code, 2, "{result:#?}");
        assert!(result.err.contains("others may read this memory"), "{result:#?}");
        assert!(result.err.contains("chmod 600 flash.bin"), "{result:#?}");
    }
}

#[test]
fn impossible_options_are_refused_with_the_cure() {
    let bench = Bench::new();
    let schedule = docs().join("schedules/infiltrate-alumina.toml").display().to_string();
    let error = |more: &[&str]| {
        let args: Vec<&str> =
            ["standin", &schedule].into_iter().chain(more.iter().copied()).collect();
        let result = bench.run(&args);
        assert_eq!(result.code, 2, "{result:#?}");
        result.err
    };
    assert!(error(&["--listen", "tcp:192.0.2.1:80"]).contains("not this machine"));
    assert!(error(&["--id", "much too long"]).contains("1 to 8 letters"));
    assert!(error(&["--speed", "0"]).contains("0.1 to"));
    assert!(error(&["--press", "start"]).contains("start@60"));
    assert!(error(&["--image", "nowhere.elf"]).contains("nowhere.elf not found"));
    assert!(error(&["--serial"]).contains("--image"));
    let pty = error(&["--serial", "--image", "nowhere.elf", "--listen", "pty"]);
    assert!(pty.contains("--serial cannot be used with --listen pty"), "{pty}");
    std::fs::write(bench.path("short.bin"), b"abc").unwrap();
    std::fs::set_permissions(bench.path("short.bin"), Permissions::from_mode(0o600)).unwrap();
    assert!(error(&["--memory", "short.bin"]).contains("49152 bytes"));
    // What is wrong with another kind of file is not its mode.
    std::fs::set_permissions(bench.path("short.bin"), Permissions::from_mode(0o644)).unwrap();
    assert!(error(&["--memory", "short.bin"]).contains("49152 bytes"));
    assert!(error(&["--key", "short.bin"]).contains("this is not a key file"));
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = format!("tcp:{}", taken.local_addr().unwrap());
    let in_use = error(&["--listen", &port]).replace("\n  ", " ");
    assert!(in_use.contains(&port) && in_use.contains("choose another port"), "{in_use}");
}
