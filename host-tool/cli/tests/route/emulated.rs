//! The image for the emulated board: skipped with a message where `SAGGAR_IMAGE` names none. CI
//! builds it and names it.

use std::path::PathBuf;

use crate::bench::{Bench, docs, route};

/// The image, as an absolute path.
fn image() -> Option<String> {
    let Some(image) = std::env::var_os("SAGGAR_IMAGE") else {
        eprintln!("skipped: SAGGAR_IMAGE names no image of firmware/boards/emulated");
        return None;
    };
    // The tests run in the package's folder; a relative path starts at the top of the tree.
    let top = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../..");
    let path = top.join(&image).canonicalize().expect("SAGGAR_IMAGE names a file");
    Some(path.display().to_string())
}

#[test]
fn a_firing_on_the_emulated_board_ends_like_its_rehearsal() {
    let Some(image) = image() else { return };
    let bench = Bench::new();
    let result = route(
        &bench,
        &docs().join("schedules/infiltrate-alumina.toml"),
        &["--listen", "tcp:127.0.0.1:0", "--image", &image, "--messages", "messages.bin"],
    );
    assert_eq!(result["verdict"]["passed"], true);
    let run = &result["run"];
    assert_eq!(run["ticks"], run["ticks_compared"], "{run:#}");
    assert!(run["ticks"].as_u64().unwrap() > 90_000, "{run:#}");
    eprintln!("emulated: {} times faster than life", run["times_life"]);

    if cfg!(feature = "messages") {
        let messages =
            bench.run(&["device", "messages", "--elf", &image, "--file", "messages.bin"]);
        assert_eq!(messages.code, 0, "{messages:#?}");
        for words in ["FiringStarted", "StepStarted(0)", "FiringEnded(Completed)"] {
            assert!(messages.out.contains(words), "{words}: {messages:#?}");
        }
    } else {
        eprintln!("not decoded: this build lacks the feature messages");
    }
}

#[test]
fn the_serial_port_carries_upload_and_firing() {
    let Some(image) = image() else { return };
    let bench = Bench::new();
    let short = bench.short();
    // A port that was free a moment ago: the emulator opens it itself.
    let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let at = format!("tcp:{free}");
    let result = route(&bench, &short, &["--listen", &at, "--image", &image, "--serial"]);
    let run = &result["run"];
    assert_eq!(run["ticks"], run["ticks_compared"], "{run:#}");
}

#[test]
fn a_fault_trips_the_emulated_board_too() {
    let Some(image) = image() else { return };
    let bench = Bench::new();
    let schedule = docs().join("schedules/infiltrate-alumina.toml");
    let name = schedule.display().to_string();
    assert_eq!(bench.run(&["rehearse", &name, "--out", "trial", "--json"]).code, 0);
    let more = ["--listen", "tcp:127.0.0.1:0", "--image", &image, "--fault", "control-open@5"];
    let (running, port) = bench.standin(&schedule, &more);
    let sent = bench.upload(&name, &port);
    assert_eq!(sent.code, 0, "{sent:#?}");
    let ended = running.end();
    assert_eq!(ended.code, 1, "{ended:#?}");
    assert!(ended.err.contains("sensor open"), "{ended:#?}");
}

#[test]
fn several_clients_share_the_emulated_board() {
    let Some(image) = image() else { return };
    crate::clients::recording_goes_on(&["--image", &image]);
}

#[test]
fn an_upload_to_the_emulated_board_survives_a_restart() {
    let Some(image) = image() else { return };
    crate::local::upload_survives_a_restart(&["--image", &image]);
}
