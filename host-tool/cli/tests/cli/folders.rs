//! The report folder: its name, and that all its files are from one rehearsal.

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use serde_json::Value;

use super::bench::{Bench, good_furnace};
use super::rehearsals::{SHORT, folders, json};

/// The names of the files in a folder.
fn files(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    let files = entries.filter(|entry| entry.file_type().unwrap().is_file());
    let mut names: Vec<_> = files.map(|file| file.file_name().into_string().unwrap()).collect();
    names.retain(|name| !name.starts_with(".saggar-"));
    names.sort();
    names
}

#[test]
fn a_schedule_name_without_a_plain_part_needs_out() {
    let bench = Bench::with(SHORT);
    for name in ["...toml", "..toml", ". .toml", "....toml"] {
        bench.write(name, SHORT);
        let result = bench.run(&["rehearse", name]);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{name}: {result:#?}");
        assert!(result.err.contains("--out"), "{name}: {}", result.err);
        assert!(!bench.path("rehearsals").exists(), "{name}");
        let upload = ["device", "upload", name, "--port", "tcp:127.0.0.1:9", "--key", "k"];
        bench.run(&["device", "key", "new", "--out", "k"]);
        assert!(bench.run(&upload).err.contains("--clearance"), "{name}");
        assert_eq!(bench.run(&["rehearse", name, "--out", "named"]).code, 0, "{name}");
        fs::remove_file(bench.path(name)).unwrap();
    }
    assert_eq!(files(&bench.path(".")), ["furnace.toml", "job.toml", "k"]);
}

#[test]
fn every_schedule_name_gives_one_folder_below_rehearsals() {
    let bench = Bench::with(SHORT);
    let long = format!("{}.toml", "ä".repeat(122));
    for (name, start) in [
        ("CON.toml", "_CON+"),
        ("con.aux.toml", "_con.aux+"),
        ("lpt1.toml", "_lpt1+"),
        ("ends. .toml", "ends+"),
        (" begins.toml", "begins+"),
        ("a:b?.toml", "a_b_+"),
        ("a\\b.toml", "a_b+"),
        ("bell\u{7}\n.toml", "bell__+"),
        ("un\u{202e}seen.toml", "un_seen+"),
        (long.as_str(), "ä"),
    ] {
        bench.write(name, SHORT);
        let result = bench.run(&["rehearse", name]);
        assert_eq!(result.code, 0, "{name:?}: {result:#?}");
        let made = folders(&bench);
        let [folder] = made.as_slice() else { panic!("{name:?}: {made:?}") };
        assert!(folder.starts_with(start) && folder.len() <= 160, "{name:?}: {folder}");
        let digest = folder.rsplit('+').next().unwrap();
        assert!(digest.len() == 8 && digest.bytes().all(|b| b.is_ascii_hexdigit()), "{folder}");
        assert_eq!(files(&bench.path("rehearsals").join(folder)).len(), 6, "{name:?}");
        fs::remove_dir_all(bench.path("rehearsals")).unwrap();
        fs::remove_file(bench.path(name)).unwrap();
    }
    assert_eq!(files(&bench.path(".")), ["furnace.toml", "job.toml"]);

    // Plain names are kept.
    for (name, folder) in [("Müller 2.1.toml", "Müller 2.1"), (".hidden.toml", ".hidden")] {
        bench.write(name, SHORT);
        assert_eq!(bench.run(&["rehearse", name]).code, 0, "{name}");
        assert_eq!(folders(&bench), [folder]);
        fs::remove_dir_all(bench.path("rehearsals")).unwrap();
    }
    // A profile's name is part of the folder's.
    bench.write("odd: one.toml", good_furnace());
    assert_eq!(bench.run(&["rehearse", "job.toml", "--furnace", "odd: one.toml"]).code, 0);
    assert_eq!(folders(&bench)[0].len(), "job+12345678".len(), "{:?}", folders(&bench));
}

/// A schedule whose verdict is FAIL: no glass infiltrates at 300 °C.
fn failing() -> String {
    let coat =
        "[work.coat]\nglass = \"lanthanum-glass\"\nthickness_millimetre = 0.5\n\n[[stage]]";
    SHORT.replacen("Short", "Too cold", 1).replacen("[[stage]]", coat, 1)
}

#[test]
fn a_locked_report_folder_is_left_unchanged() {
    let bench = Bench::with(SHORT);
    bench.write("cold.toml", failing());
    assert_eq!(bench.run(&["rehearse", "job.toml", "--out", "here"]).code, 0);
    bench.write("here/notes.txt", "mine");
    let here = bench.path("here");
    let content = || -> Vec<_> {
        files(&here).iter().map(|name| fs::read(here.join(name)).unwrap()).collect()
    };
    let before = content();
    assert_eq!(before.len(), 7);

    let lock = fs::File::options().write(true).open(here.join(".saggar-lock")).unwrap();
    lock.lock().unwrap();
    let result = bench.run(&["rehearse", "cold.toml", "--out", "here"]);
    assert_eq!(result.code, 2, "{result:#?}");
    assert!(result.out.contains("FAIL"), "the verdict is result all the same: {}", result.out);
    let err = result.err.replace("\n  ", " ");
    assert!(err.contains("another run is writing its report into this folder"), "{err}");
    assert!(err.contains("--out"), "{err}");
    assert_eq!(content(), before);

    // It waits for a lock that is released soon.
    let waits = start(&bench, "cold.toml");
    std::thread::sleep(std::time::Duration::from_millis(300));
    drop(lock);
    assert_eq!(waits.wait_with_output().unwrap().status.code(), Some(1));
    assert_eq!(files(&here).len(), 6, "no clearance, and the notes: {:?}", files(&here));
    assert_eq!(fs::read(here.join("notes.txt")).unwrap(), b"mine");
}

fn start(bench: &Bench, schedule: &str) -> Child {
    Command::new(env!("CARGO_BIN_EXE_saggar"))
        .args(["rehearse", schedule, "--out", "here"])
        .current_dir(bench.path("."))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

#[test]
fn files_of_concurrent_runs_never_mix() {
    let bench = Bench::with(SHORT);
    bench.write("cold.toml", failing());
    let here = bench.path("here");
    for round in 0..8 {
        let runs = ["job.toml", "cold.toml", "cold.toml", "job.toml"];
        for mut run in runs.map(|schedule| start(&bench, schedule)) {
            assert!(run.wait().unwrap().code().unwrap() <= 1, "round {round}");
        }
        let read = |name: &str| fs::read_to_string(here.join(name)).unwrap();
        let verdict: Value = serde_json::from_str(&read("verdict.json")).unwrap();
        let passed = verdict["passed"].as_bool().unwrap();
        assert_eq!(here.join("clearance.json").exists(), passed, "round {round}");
        if passed {
            let clearance: Value = serde_json::from_str(&read("clearance.json")).unwrap();
            assert_eq!(clearance["programme"], verdict["digest"], "round {round}");
        }
        let title = verdict["title"].as_str().unwrap();
        assert!(read("report.html").contains(&format!("<h1>{title}")), "round {round}");
        let rows = verdict["rows"].as_u64().unwrap();
        assert_eq!(read("trace.csv").lines().count() as u64, rows + 1, "round {round}");
        assert_eq!(files(&here).len(), 5 + usize::from(passed), "round {round}");
    }
    assert!(
        json(&bench.run(&["rehearse", "cold.toml", "--json", "--no-report"]))["passed"]
            == false
    );
}
