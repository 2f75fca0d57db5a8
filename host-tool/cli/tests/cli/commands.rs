//! The effects of the commands, and what they refuse.

use super::bench::{Bench, GOOD, docs};

#[test]
fn every_example_in_the_documents_passes_check() {
    // By name: the folder may contain files of a user.
    let files = [
        "clean-alumina",
        "melt-back",
        "infiltrate-alumina",
        "infiltrate-alumina-too-short",
        "infiltrate-spinel-vacuum",
        "infiltrate-zirconia-toughened",
    ]
    .map(|name| docs().join(format!("schedules/{name}.toml")).display().to_string());
    let mut arguments = vec!["check", "--json"];
    arguments.extend(files.iter().map(String::as_str));
    let result = Bench::with(GOOD).run(&arguments);
    assert_eq!((result.code, result.err.as_str()), (0, ""), "{}", result.out);
    let json: serde_json::Value = serde_json::from_str(&result.out).unwrap();
    assert_eq!(json["ok"], true);
    assert_eq!(json["files"].as_array().unwrap().len(), files.len());
}

#[test]
fn check_summarises_a_schedule() {
    let result = Bench::with(GOOD).run(&["check", "job.toml", "--fahrenheit"]);
    assert_eq!((result.code, result.err.as_str()), (0, ""));
    // 27.5 min to 300 °C at 10 K/min, 20 min to the soak, 30 min of soak, 5 min open.
    let expected = "job.toml: good\n  Coping (for Dunlin)\n  5 steps, at least 1 h 23 min, plus time \
                    to cool\n  peak 2048 °F, vacuum 50 hPa from 1112 °F\n";
    assert_eq!(result.out, expected);
}

/// The element stores too much heat for a low ramp at any rate; a hot one is on time.
#[test]
fn check_names_a_ramp_that_arrives_late() {
    let soak = "[[stage]]\nsoak = { minutes = 10, band_kelvin = 10 }\n\n[[stage]]\nvacuum";
    let low =
        GOOD.replace("to_celsius = 300", "to_celsius = 60").replace("[[stage]]\nvacuum", soak);
    let result = Bench::with(&low).run(&["check", "job.toml", "--json"]);
    assert_eq!((result.code, result.err.as_str()), (0, ""), "{}", result.out);
    let json: serde_json::Value = serde_json::from_str(&result.out).unwrap();
    let late = json["files"][0]["late_ramps"].as_array().unwrap();
    let [ramp] = late.as_slice() else { panic!("{late:?}") };
    assert_eq!((ramp["stage"].as_u64(), ramp["to_celsius"].as_f64()), (Some(1), Some(60.0)));
    // 35 K at 10 K/min; the rest is the stored heat.
    assert_eq!(ramp["at_rate_seconds"].as_f64(), Some(210.0));
    assert!((20.0..30.0).contains(&(ramp["planned_seconds"].as_f64().unwrap() / 60.0)));
    let said = Bench::with(&low).run(&["check", "job.toml"]).out;
    assert!(said.contains("reaches 60 °C in about 2"), "{said}");
}

#[test]
fn json_has_the_location_and_the_cure() {
    let result = Bench::changed("to_celsius = 300", "to_celcius = 300")
        .run(&["check", "job.toml", "--json"]);
    assert_eq!((result.code, result.err.as_str()), (2, ""));
    let json: serde_json::Value = serde_json::from_str(&result.out).unwrap();
    let finding = &json["files"][0]["findings"][0];
    assert_eq!((finding["line"].as_u64(), finding["column"].as_u64()), (Some(14), Some(10)));
    assert_eq!(finding["file"], "job.toml");
    assert!(finding["message"].as_str().unwrap().contains("`to_celcius`"));
    assert!(finding["help"].as_str().unwrap().contains("`to_celsius`"));
}

#[test]
fn a_good_schedule_is_reported_beside_a_bad_one() {
    let bench = Bench::with(GOOD);
    bench.write("bad.toml", "name = 3\n");
    let result = bench.run(&["check", "bad.toml", "job.toml"]);
    assert_eq!(result.code, 2);
    assert!(result.out.starts_with("job.toml: good\n"), "{}", result.out);
    assert!(result.err.starts_with("bad.toml:1:1: "), "{}", result.err);
}

#[test]
fn compile_writes_the_bytes_that_show_reads_back() {
    let bench = Bench::with(GOOD);
    let result = bench.run(&["compile", "job.toml", "-o", "job.programme", "--json"]);
    assert_eq!((result.code, result.err.as_str()), (0, ""));
    let compiled: serde_json::Value = serde_json::from_str(&result.out).unwrap();
    let bytes = std::fs::read(bench.path("job.programme")).unwrap();
    assert_eq!(compiled["programme"]["bytes"], bytes.len());
    let image = saggar_core::programme::ProgrammeImage::from_bytes(&bytes).unwrap();
    let digest: String = image.digest().iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(compiled["programme"]["digest"], digest);
    let shown = bench.run(&["show", "job.programme"]);
    assert_eq!(shown.code, 0);
    assert!(
        shown.out.contains("   2  ramp to 1120 °C at 41 K/min; vacuum 50 hPa from 600 °C\n")
    );
    assert!(shown.out.contains("   5  open the chamber, 5 min\n"), "{}", shown.out);
    let left: Vec<_> = std::fs::read_dir(bench.path(".")).unwrap().collect();
    assert_eq!(left.len(), 3, "no temporary file is left");
}

#[test]
fn compile_replaces_a_file_only_with_force() {
    let bench = Bench::with(GOOD);
    bench.write("job.programme", "precious");
    let compile = ["compile", "job.toml", "-o", "job.programme", "--force"];
    let result = bench.run(&compile[..4]);
    assert_eq!((result.code, result.out.as_str()), (2, ""));
    assert!(result.err.contains("job.programme exists already; --force replaces it"));
    assert_eq!(std::fs::read(bench.path("job.programme")).unwrap(), b"precious");
    assert_eq!(bench.run(&compile).code, 0);
    assert_ne!(std::fs::read(bench.path("job.programme")).unwrap(), b"precious");
}

/// A rename would replace a pipe, a socket or a link by a plain file, and a device if run as root.
#[cfg(unix)]
#[test]
fn only_plain_files_are_replaced() {
    use std::os::unix::fs::FileTypeExt as _;
    let bench = Bench::with(GOOD);
    nix::unistd::mkfifo(&bench.path("pipe"), nix::sys::stat::Mode::S_IRWXU).unwrap();
    let _socket = std::os::unix::net::UnixListener::bind(bench.path("socket")).unwrap();
    bench.write("precious.programme", "precious");
    std::os::unix::fs::symlink("precious.programme", bench.path("link")).unwrap();
    std::os::unix::fs::symlink("nowhere", bench.path("dangling")).unwrap();
    for (to, why) in [
        ("pipe", "pipe cannot be written: it is a pipe or a device, and only plain files"),
        ("socket", "socket cannot be written: it is a pipe or a device, and only plain files"),
        ("link", "link cannot be written: it is a link to precious.programme, and only plain"),
        ("dangling", "dangling cannot be written: it is a link to nowhere, and only plain"),
    ] {
        for more in [&[][..], &["--force"]] {
            let compile = ["compile", "job.toml", "-o", to];
            let result = bench.run(&[&compile[..], more].concat());
            let err = result.err.replace("\n  ", " ");
            assert_eq!(result.code, 2, "{result:#?}");
            assert!(err.contains(why), "{err}");
        }
    }
    let kind = |name: &str| std::fs::symlink_metadata(bench.path(name)).unwrap().file_type();
    assert!(kind("pipe").is_fifo() && kind("socket").is_socket());
    assert!(kind("link").is_symlink() && kind("dangling").is_symlink());
    assert_eq!(std::fs::read(bench.path("precious.programme")).unwrap(), b"precious");

    // The same in a report folder; it is refused before the rehearsal.
    std::fs::create_dir(bench.path("here")).unwrap();
    let verdict = bench.path("here/verdict.json");
    nix::unistd::mkfifo(&verdict, nix::sys::stat::Mode::S_IRWXU).unwrap();
    let result = bench.run(&["rehearse", "job.toml", "--out", "here"]);
    assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
    assert!(result.err.contains("here/verdict.json"), "{}", result.err);
    assert!(kind("here/verdict.json").is_fifo());
    assert_eq!(std::fs::read_dir(bench.path("here")).unwrap().count(), 1);
}

#[test]
fn compile_refuses_its_schedule_and_a_missing_folder_as_output() {
    let bench = Bench::with(GOOD);
    for (to, why) in [
        ("./job.toml", "it is the schedule itself"),
        (".", "it is a folder"),
        ("nowhere/job.programme", "its folder does not exist"),
    ] {
        let result = bench.run(&["compile", "job.toml", "-o", to, "--force"]);
        assert_eq!(result.code, 2);
        assert!(result.err.contains(why), "{}", result.err);
    }
    assert_eq!(std::fs::read_to_string(bench.path("job.toml")).unwrap(), GOOD);
}

#[test]
fn a_bad_schedule_writes_nothing() {
    let bench = Bench::changed("to_celsius = 1120", "to_celsius = 1250");
    let result = bench.run(&["compile", "job.toml", "-o", "job.programme"]);
    assert_eq!(result.code, 2);
    assert!(result.err.starts_with("job.toml:20:23: "), "{}", result.err);
    assert!(!bench.path("job.programme").exists());
}

#[test]
fn show_refuses_a_file_that_is_no_programme() {
    let bench = Bench::with(GOOD);
    for (bytes, why) in [
        (b"".as_slice(), "its beginning cannot be read"),
        (b"\x02", "its beginning cannot be read"),
        (b"\x01\x01x\x01\x00", "of version 1"),
        (b"\x09\x01x\x00", "of version 9"),
        (b"\x02\x01x\x00\x01\x00", "step 1 cannot be read"),
        (b"\x02\x01x\x00\x00\x00", "something follows its last step"),
        (b"\x02\x01\x1b\x00\x00", "hidden characters"),
        (b"\x02\x03\xe3\x85\xa4\x00\x00", "hidden characters"),
        (&[2; 1025], "it is too long"),
    ] {
        bench.write("odd.programme", bytes);
        let result = bench.run(&["show", "odd.programme"]);
        assert_eq!(result.code, 2, "{result:?}");
        assert!(result.err.contains(why), "{}", result.err);
    }
}

#[test]
fn the_furnace_option_overrides_the_schedule() {
    let bench = Bench::changed("furnace = \"furnace.toml\"\n", "");
    assert_eq!(bench.run(&["check", "job.toml", "--furnace", "furnace.toml"]).code, 0);
    let door = docs().join("furnaces/teaching-door.toml").display().to_string();
    let result = bench.run(&["check", "job.toml", "--furnace", &door]);
    assert_eq!(result.code, 2);
    assert!(result.err.contains("Fieldfare has no pump"), "{}", result.err);
}

#[test]
fn usage_errors_exit_with_2_and_help_with_0() {
    let bench = Bench::with(GOOD);
    assert_eq!(bench.run(&["check"]).code, 2);
    assert_eq!(bench.run(&["chekc", "job.toml"]).code, 2);
    for arguments in [&["--help"][..], &["check", "--help"], &["compile", "--help"]] {
        let result = bench.run(arguments);
        assert_eq!(result.code, 0);
        assert!(result.out.contains("Exit codes:"), "{}", result.out);
    }
}

#[test]
fn diagnostics_fit_a_narrow_screen() {
    let text = GOOD.replace("band_kelvin = 5", "band_kelvin = 500").replace("= 1120", "= 1250");
    let bench = Bench::with(text);
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_saggar"))
        .args(["check", "job.toml", "--color", "always"])
        .current_dir(bench.path("."))
        .env("COLUMNS", "50")
        .output()
        .unwrap();
    let err =
        anstream::adapter::strip_str(std::str::from_utf8(&output.stderr).unwrap()).to_string();
    let widest = err.lines().map(|line| line.chars().count()).max().unwrap();
    assert!(widest <= 50, "{widest} columns:\n{err}");
    assert!(err.contains("1250") && err.contains("500"), "{err}");
}

#[test]
fn show_sends_a_schedule_to_compile() {
    let bench = Bench::with("");
    let result = bench.run(&["show", "job.toml"]);
    assert_eq!(result.code, 2, "{result:#?}");
    assert!(result.err.contains("compile a schedule first"), "{}", result.err);
}
