//! Parts that a build may leave out: what the binary says when it lacks them, and what they do
//! when it has them.

use super::bench::{Bench, GOOD};

#[test]
fn a_report_has_pixels_only_if_asked_for() {
    let bench = Bench::with(GOOD);
    assert!(bench.run(&["rehearse", "job.toml", "--out", "plain"]).code < 2);
    assert!(bench.path("plain/chart.svg").exists() && !bench.path("plain/chart.png").exists());
    let said = bench.run(&["rehearse", "job.toml", "--no-report", "--png"]);
    assert!(said.code == 2 && said.err.contains("cannot be used with"), "{said:?}");
    let said = bench.run(&["standin", "job.toml", "--png"]);
    assert!(said.code == 2 && said.err.contains("--out <FOLDER>"), "{said:?}");
}

#[test]
fn help_is_the_same_in_every_build() {
    let bench = Bench::with(GOOD);
    let said = bench.run(&["device", "messages", "--help"]);
    let (code, build) = (said.code, "cargo run --release --features messages --");
    assert!(code == 0 && said.out.contains(build), "{said:?}");
    let said = bench.run(&["device", "--help"]);
    assert!(said.code == 0 && said.out.contains("  messages  "), "{said:?}");
    let said = bench.run(&["rehearse", "--help"]);
    assert!(said.code == 0 && said.out.contains("a build with the feature png"), "{said:?}");
}

#[cfg(not(feature = "png"))]
#[test]
fn without_the_feature_asking_for_pixels_is_an_error_that_names_the_cure() {
    let bench = Bench::with(GOOD);
    let rehearse = ["rehearse", "job.toml", "--out", "trial", "--png"];
    let standin = ["standin", "job.toml", "--out", "trial", "--png"];
    for arguments in [rehearse, standin] {
        let said = bench.run(&arguments);
        assert_eq!((said.code, said.out.as_str()), (2, ""), "{said:?}");
        let words = said.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("this build of saggar cannot draw a PNG"), "{words}");
        assert!(words.contains("cargo run --release --features png -- rehearse"), "{words}");
        assert!(!bench.path("trial").exists(), "nothing was fired or written");
    }
}

#[cfg(feature = "png")]
#[test]
fn with_the_feature_the_pixels_stand_beside_the_drawing() {
    let bench = Bench::with(GOOD);
    let said = bench.run(&["rehearse", "job.toml", "--out", "trial", "--png"]);
    assert!(said.code < 2, "{said:?}");
    let pixels = std::fs::read(bench.path("trial/chart.png")).unwrap();
    assert!(pixels.starts_with(b"\x89PNG"), "{} bytes", pixels.len());
    // A plain run into the same folder leaves no picture of the other one.
    assert!(bench.run(&["rehearse", "job.toml", "--out", "trial"]).code < 2);
    assert!(!bench.path("trial/chart.png").exists());
}

#[cfg(not(feature = "messages"))]
#[test]
fn without_the_feature_messages_say_how_to_build_what_decodes_them() {
    let said = Bench::with(GOOD).run(&[
        "device",
        "messages",
        "--elf",
        "image.elf",
        "--file",
        "messages.bin",
    ]);
    assert_eq!((said.code, said.out.as_str()), (2, ""), "{said:?}");
    let words = said.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("this build of saggar cannot decode messages"), "{words}");
    assert!(words.contains("cargo run --release --features messages -- device"), "{words}");
}

#[cfg(all(feature = "messages", target_os = "linux"))]
#[test]
fn with_the_feature_an_image_without_messages_is_told_from_what_is_no_image() {
    let bench = Bench::with(GOOD);
    for (image, why) in [
        (env!("CARGO_BIN_EXE_saggar"), "this image has no messages"),
        ("job.toml", "its messages cannot be read"),
    ] {
        let said = bench.run(&["device", "messages", "--elf", image, "--file", "job.toml"]);
        assert_eq!((said.code, said.out.as_str()), (2, ""), "{said:?}");
        assert!(said.err.contains(why), "{said:?}");
    }
}
