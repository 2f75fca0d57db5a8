//! Files that are not schedules: missing, special, huge, or not text.

use super::bench::{Bench, GOOD};

#[test]
fn a_missing_file() {
    let bench = Bench::with(GOOD);
    std::fs::remove_file(bench.path("job.toml")).unwrap();
    bench.refuses("job.toml", "there is no such file", "check the spelling");
}

#[test]
fn a_folder() {
    let bench = Bench::with(GOOD);
    std::fs::remove_file(bench.path("job.toml")).unwrap();
    std::fs::create_dir(bench.path("job.toml")).unwrap();
    bench.refuses("job.toml", "this is a folder", "name a file in it");
}

#[cfg(unix)]
#[test]
fn a_pipe_without_a_writer() {
    let bench = Bench::with(GOOD);
    std::fs::remove_file(bench.path("job.toml")).unwrap();
    let made =
        std::process::Command::new("mkfifo").arg(bench.path("job.toml")).status().unwrap();
    assert!(made.success());
    bench.refuses("job.toml", "this is a pipe or a device", "save it as a file");
}

#[cfg(unix)]
#[test]
fn a_device_that_never_ends() {
    let bench = Bench::with(GOOD);
    std::fs::remove_file(bench.path("job.toml")).unwrap();
    std::os::unix::fs::symlink("/dev/zero", bench.path("job.toml")).unwrap();
    bench.refuses("job.toml", "this is a pipe or a device", "save it as a file");
}

/// Every command that reads a file of the user; the file is its last argument.
#[cfg(unix)]
const READERS: &[&[&str]] = &[
    &["check", "job.toml", "--furnace"],
    &["rehearse"],
    &["show"],
    &["replay"],
    &["trips"],
    #[cfg(feature = "messages")]
    &["device", "messages", "--file", "job.toml", "--elf"],
    &["standin", "job.toml", "--listen", "tcp:127.0.0.1:0", "--memory"],
    &["device", "stop", "--port", "tcp:127.0.0.1:9", "--key"],
    &["device", "upload", "job.toml", "--port", "tcp:127.0.0.1:9", "--key"],
];

#[cfg(unix)]
#[test]
fn no_command_waits_for_a_special_file() {
    let bench = Bench::with(GOOD);
    nix::unistd::mkfifo(&bench.path("pipe"), nix::sys::stat::Mode::S_IRWXU).unwrap();
    std::os::unix::fs::symlink("pipe", bench.path("link")).unwrap();
    std::os::unix::fs::symlink("/dev/zero", bench.path("zero")).unwrap();
    for reader in READERS {
        for name in ["pipe", "link", "zero", "."] {
            let result = bench.run(&[*reader, &[name]].concat());
            assert_eq!(result.code, 2, "{reader:?} {name}: {result:#?}");
            assert_eq!(result.out, "", "{reader:?} {name}");
            let why = [
                "is a pipe or a device",
                "this is a folder",
                "a folder has this name",
                "this is not a plain file",
            ];
            assert!(
                why.iter().any(|why| result.err.contains(why)),
                "{reader:?}: {}",
                result.err
            );
        }
    }
}

#[test]
fn a_huge_sparse_file() {
    let bench = Bench::with(GOOD);
    let file = std::fs::File::create(bench.path("job.toml")).unwrap();
    file.set_len(1 << 40).unwrap();
    bench.refuses("job.toml", "larger than 256 KiB", "right file");
}

#[test]
fn ten_megabytes() {
    Bench::with(vec![b'#'; 10 << 20]).refuses("job.toml", "larger than 256 KiB", "right file");
}

#[test]
fn an_empty_file() {
    Bench::with("").refuses("job.toml:1:1", "the file is empty", "saggar new");
    Bench::with("# nothing\n").refuses("job.toml:1:1", "the file is empty", "saggar new");
}

#[test]
fn bytes_that_are_not_text() {
    let mut bytes = GOOD.as_bytes().to_vec();
    bytes[20] = 0xff;
    Bench::with(bytes).refuses("job.toml", "byte 0xff at offset 20, on line 2", "UTF-8");
    let wide: Vec<u8> =
        [0xff, 0xfe].into_iter().chain(GOOD.bytes().flat_map(|b| [b, 0])).collect();
    Bench::with(wide).refuses("job.toml", "UTF-16", "save it as plain text in UTF-8");
}

#[test]
fn a_furnace_profile_is_checked_and_not_fired() {
    let bench = Bench::with(super::bench::good_furnace());
    let result = bench.run(&["check", "job.toml"]);
    assert_eq!((result.code, result.err.as_str()), (0, ""));
    let good = "job.toml: good\n  Dunlin\n  1200 W, with a vacuum pump\n  programmes up to \
                1180 °C, ramps up to 80 K/min\n  furnace data ";
    assert!(result.out.starts_with(good), "{}", result.out);
    let result = bench.run(&["rehearse", "job.toml"]);
    assert_eq!((result.code, result.out.as_str()), (2, ""));
    let why = "job.toml:8:2: this is a furnace profile, not a schedule\n";
    assert!(result.err.starts_with(why) && result.err.contains("--furnace"), "{}", result.err);
}

#[test]
fn a_bad_furnace_profile_is_checked_by_itself() {
    let profile = super::bench::good_furnace().replace("[pin]", "[pins]");
    let bench = Bench::with(profile);
    let result = bench.run(&["check", "job.toml"]);
    assert!(result.code == 2 && result.err.contains("did you mean `pin`?"), "{result:#?}");
}

#[test]
fn other_line_ends_and_a_byte_order_mark_are_fine() {
    let windows = format!("\u{feff}{}", GOOD.replace('\n', "\r\n"));
    assert_eq!(Bench::with(windows).run(&["check", "job.toml"]).code, 0);
}

#[test]
fn control_characters_are_never_echoed() {
    let text = GOOD
        .replace("[work]", "# \x1b]0;title\x07 \u{202e}\n[work]")
        .replace("body", "b\u{1b}");
    let bench = Bench::with(text);
    for color in ["never", "always"] {
        let result = bench.run(&["check", "job.toml", "\x1b[2J.toml", "--color", color]);
        let clean = |c: char| !saggar_files::is_forbidden_in_name(c) || c == '\n';
        // In colour there are escape sequences, but for colours only.
        let mut left = result.err.clone();
        if color == "always" {
            while let Some(start) = left.find("\x1b[") {
                let end = start + left[start..].find('m').unwrap();
                assert!(left[start + 2..end].chars().all(|c| c.is_ascii_digit() || c == ';'));
                left.replace_range(start..=end, "");
            }
        }
        assert!(left.chars().all(clean), "{:?}", result.err);
    }
}

#[test]
fn a_file_of_another_kind_gets_a_few_errors_and_not_one_a_line() {
    let bench = Bench::with("root:x:0:0:root\n".repeat(40));
    let result = bench.run(&["check", "job.toml"]);
    assert_eq!(result.code, 2, "{result:#?}");
    assert!(result.err.contains("35 more lines are not TOML"), "{}", result.err);
    assert!(result.err.contains("6 errors in 1 file"), "{}", result.err);
}
