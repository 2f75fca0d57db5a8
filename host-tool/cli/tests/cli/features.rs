//! Optional features: the error of a build without them, and their effect in a build with them.

use super::bench::{Bench, GOOD};

#[test]
fn a_report_has_a_png_only_on_request() {
    let bench = Bench::with(GOOD);
    assert!(bench.run(&["rehearse", "job.toml", "--out", "plain"]).code < 2);
    assert!(bench.path("plain/chart.svg").exists() && !bench.path("plain/chart.png").exists());
    let result = bench.run(&["rehearse", "job.toml", "--no-report", "--png"]);
    assert!(result.code == 2 && result.err.contains("cannot be used with"), "{result:?}");
    let result = bench.run(&["standin", "job.toml", "--png"]);
    assert!(result.code == 2 && result.err.contains("--out <FOLDER>"), "{result:?}");
}

#[test]
fn help_is_the_same_in_every_build() {
    let bench = Bench::with(GOOD);
    let result = bench.run(&["device", "messages", "--help"]);
    let (code, build) = (result.code, "cargo run --release --features messages --");
    assert!(code == 0 && result.out.contains(build), "{result:?}");
    let result = bench.run(&["device", "--help"]);
    assert!(result.code == 0 && result.out.contains("  messages  "), "{result:?}");
    let result = bench.run(&["rehearse", "--help"]);
    assert!(
        result.code == 0 && result.out.contains("a build with the feature png"),
        "{result:?}"
    );
}

#[cfg(not(feature = "png"))]
#[test]
fn without_the_feature_png_the_error_names_the_build() {
    let bench = Bench::with(GOOD);
    let rehearse = ["rehearse", "job.toml", "--out", "trial", "--png"];
    let standin = ["standin", "job.toml", "--out", "trial", "--png"];
    for arguments in [rehearse, standin] {
        let result = bench.run(&arguments);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:?}");
        let words = result.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("this build of saggar cannot draw a PNG"), "{words}");
        assert!(words.contains("cargo run --release --features png -- rehearse"), "{words}");
        assert!(!bench.path("trial").exists(), "nothing was fired or written");
    }
}

#[cfg(feature = "png")]
#[test]
fn with_the_feature_png_the_png_is_written_beside_the_svg() {
    let bench = Bench::with(GOOD);
    let result = bench.run(&["rehearse", "job.toml", "--out", "trial", "--png"]);
    assert!(result.code < 2, "{result:?}");
    let pixels = std::fs::read(bench.path("trial/chart.png")).unwrap();
    assert!(pixels.starts_with(b"\x89PNG"), "{} bytes", pixels.len());
    // A run without a PNG into the same folder removes the old PNG.
    assert!(bench.run(&["rehearse", "job.toml", "--out", "trial"]).code < 2);
    assert!(!bench.path("trial/chart.png").exists());
}

#[cfg(not(feature = "messages"))]
#[test]
fn without_the_feature_messages_the_error_names_the_build() {
    let result = Bench::with(GOOD).run(&[
        "device",
        "messages",
        "--elf",
        "image.elf",
        "--file",
        "messages.bin",
    ]);
    assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:?}");
    let words = result.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("this build of saggar cannot decode messages"), "{words}");
    assert!(words.contains("cargo run --release --features messages -- device"), "{words}");
}

#[cfg(all(feature = "messages", target_os = "linux"))]
#[test]
fn with_the_feature_messages_an_image_without_messages_is_reported() {
    let bench = Bench::with(GOOD);
    for (image, why) in [
        (env!("CARGO_BIN_EXE_saggar"), "this image has no messages"),
        ("job.toml", "its messages cannot be read"),
    ] {
        let result = bench.run(&["device", "messages", "--elf", image, "--file", "job.toml"]);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:?}");
        assert!(result.err.contains(why), "{result:?}");
    }
}
