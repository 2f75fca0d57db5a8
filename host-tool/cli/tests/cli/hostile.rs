//! Arguments, file names and files with control characters: none of them reaches the terminal
//! unescaped, for any argument and in any output.

use std::ffi::{OsStr, OsString};
use std::os::unix::ffi::{OsStrExt as _, OsStringExt as _};
use std::os::unix::process::CommandExt as _;
use std::process::{Command, Output, Stdio};

use super::bench::{Bench, GOOD};

/// Strings with escape sequences, controls, marks of the reading direction, and invisible characters.
/// The first has a colour that this tool never uses.
fn strings() -> Vec<OsString> {
    let escapes = "a\x1b]0;title\x07\x1b[35mb\x1b[2J";
    let controls = "c\u{9b}2Jd\u{7f}\u{8}\r\n\u{85}e";
    let directions = "f\u{202e}\u{2066}\u{200f}\u{61c}g\u{2028}\u{200b}\u{ad}";
    let unseen = "h\u{3164}\u{115f}\u{1160}\u{34f}\u{ffa0}\u{fe0f}\u{e0041}\u{2800}i";
    let mut all: Vec<OsString> =
        [escapes, controls, directions, unseen].map(OsString::from).to_vec();
    all.push(OsString::from_vec(b"j\x9b\xff\x1b[35mk".to_vec()));
    all
}

/// Every argument of the command line: `@` stands for the string.
const PLACES: &[&str] = &[
    "@",
    "@ --help",
    "--@",
    "--@=1 check job.toml",
    "-@",
    "--color @ check job.toml",
    "help @",
    "new @",
    "new lift-vacuum no/@",
    "new clean-alumina job.toml/@",
    "man no/@",
    "check @",
    "check @.toml",
    "check job.toml --furnace @",
    "check job.toml --furnace @.toml",
    "check job.toml --@",
    "rehearse @",
    "rehearse job.toml --out @",
    "rehearse job.toml --out job.toml/@",
    "rehearse job.toml --no-report --furnace @.toml",
    "rehearse job.toml --seed @",
    "rehearse job.toml --mains @",
    "rehearse job.toml --mains 9,@",
    "rehearse job.toml --operator @",
    "rehearse job.toml --fault @",
    "rehearse job.toml --fault @@5",
    "rehearse job.toml --fault control-open@@",
    "compile @ -o x.programme",
    "compile @.toml -o @.programme",
    "compile job.toml -o no/@",
    "compile job.toml -o @.toml",
    "show @",
    "show job.toml --digest @",
    "standin @",
    "standin job.toml @",
    "standin missing.toml --listen @",
    "standin missing.toml --listen tcp:@",
    "standin job.toml --key @",
    "standin job.toml --id @",
    "standin job.toml --memory no/@",
    "standin missing.toml --speed @",
    "standin missing.toml --press @",
    "standin missing.toml --press @@5",
    "standin missing.toml --press start@@",
    "standin missing.toml --seed @",
    "standin missing.toml --fault @",
    "standin job.toml --out job.toml/@",
    "standin job.toml --image @",
    "standin job.toml --image @ --messages @",
    "device @",
    "device @ --help",
    "device key @",
    "device key new --out no/@",
    "device key new --out @.key",
    "device settings @ --id a -o x",
    "device settings furnace.toml --id @ -o x",
    "device settings furnace.toml --id a --key @ -o x",
    "device settings furnace.toml --id a -o no/@",
    "device settings furnace.toml --id a -o @.settings",
    "device info --port @",
    "device info --port tcp:@",
    "device info --port tcp:127.0.0.1:@",
    "device info --port COM1 --baud @",
    "device upload @ --key k --port tcp:127.0.0.1:1",
    "device upload job.toml --key @ --port tcp:127.0.0.1:1",
    "device upload job.toml --key k --clearance @ --port tcp:127.0.0.1:1",
    "device upload job.toml --key k --port @",
    "device watch --port @",
    "device watch --port tcp:127.0.0.1:1 --record no/@",
    "device log --port tcp:127.0.0.1:1 --from @",
    "device stop --key @ --port tcp:127.0.0.1:1",
    "device messages --elf @ --file @",
    "replay @",
    "replay @.toml",
    "replay job.toml --csv @",
    "completions @",
];

/// A bench with files of these names.
fn bench() -> Bench {
    let bench = Bench::with(GOOD);
    for string in strings() {
        let mut name = string;
        name.push(".toml");
        std::fs::write(bench.path(".").join(&name), "nmae = 3\n").unwrap();
    }
    bench
}

fn command(bench: &Bench, place: &str, string: &OsStr) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_saggar"));
    for word in place.split(' ') {
        let bytes = word.as_bytes().split(|byte| *byte == b'@').collect::<Vec<_>>();
        // `@@` is the string and a plain `@` after or before it.
        let joined = match word.split_once("@@") {
            Some((before, after)) => match before {
                "" => [string.as_bytes(), b"@", after.as_bytes()].concat(),
                before => [before.as_bytes(), b"@", string.as_bytes()].concat(),
            },
            None => bytes.join(string.as_bytes()),
        };
        command.arg(OsStr::from_bytes(&joined));
    }
    command.current_dir(bench.path(".")).env_remove("COLUMNS").stdin(Stdio::null());
    command
}

/// Asserts that a text has no control characters, marks of the reading direction or invisible
/// characters.
#[track_caller]
fn harmless(text: &[u8], what: &str) {
    let text = std::str::from_utf8(text).unwrap_or_else(|why| panic!("{why}: {what}"));
    let bad = |c: char| saggar_files::is_hidden(c) && c != '\n' && c != '\t';
    if let Some(at) = text.find(bad) {
        panic!("{what}: U+{:04X} in {text:?}", u32::from(text[at..].chars().next().unwrap()));
    }
}

#[test]
fn no_argument_reaches_a_terminal_raw() {
    let bench = bench();
    for place in PLACES {
        for string in strings() {
            for json in [false, true] {
                let mut command = command(&bench, place, &string);
                if json {
                    command.arg("--json");
                }
                let Output { status, stdout, stderr } = command.output().unwrap();
                let what = format!("{command:?}");
                harmless(&stdout, &what);
                harmless(&stderr, &what);
                let code = status.code().unwrap_or_else(|| panic!("{what} was ended"));
                assert!(code <= 3, "{what} ends with {code}");
                assert!(!stderr.starts_with(b"\nthread '"), "{what} panics");
            }
        }
    }
}

#[test]
fn typed_colour_sequences_are_escaped() {
    let bench = bench();
    for place in PLACES {
        let string = &strings()[0];
        let output =
            command(&bench, place, string).args(["--color", "always"]).output().unwrap();
        for text in [&output.stdout, &output.stderr] {
            let text = std::str::from_utf8(text).unwrap();
            assert!(!text.contains("\x1b[35m"), "{place}: {text:?}");
            let plain = anstream::adapter::strip_str(text).to_string();
            harmless(plain.as_bytes(), place);
            let escapes = text.matches('\x1b').count();
            assert_eq!(escapes, colours(text), "{place}: {text:?}");
        }
    }
}

/// The number of colour changes in a text.
fn colours(text: &str) -> usize {
    let parts = text.split("\x1b[").skip(1);
    let colour = |part: &&str| {
        let rest = part.trim_start_matches(|c: char| c.is_ascii_digit() || c == ';');
        rest.starts_with('m')
    };
    parts.filter(colour).count()
}

#[test]
fn the_tools_own_colours_are_kept() {
    let bench = bench();
    for (place, wanted) in [
        ("check job.toml --color always", "\x1b[1m\x1b[32mgood\x1b[0m"),
        ("rehearse job.toml --no-report --color always", "\x1b[31mFAIL\x1b[0m: "),
    ] {
        let output = command(&bench, place, OsStr::new("")).output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        assert!(text.contains(wanted), "{place}: {text:?}");
    }
    let output =
        command(&bench, "check @.toml --color always", &strings()[0]).output().unwrap();
    let text = String::from_utf8(output.stderr).unwrap();
    assert!(text.contains("\x1b[91m"), "the mark has a colour: {text:?}");
}

#[test]
fn a_program_called_by_an_odd_name_shows_its_own_name() {
    let bench = bench();
    for string in strings() {
        for place in ["--help", "chekc", "check"] {
            let mut command = command(&bench, place, OsStr::new(""));
            let output = command.arg0(&string).output().unwrap();
            harmless(&output.stdout, place);
            harmless(&output.stderr, place);
        }
    }
}

#[test]
fn both_commands_with_an_id_accept_the_same_ids() {
    let bench = bench();
    for name in ["\u{3164}", "a\u{a0}b", "", "nine-long", "k\u{f6}ln", "a b"] {
        for place in ["standin job.toml --id @", "device settings furnace.toml -o x --id @"] {
            let output = command(&bench, place, OsStr::new(name)).output().unwrap();
            let err = String::from_utf8(output.stderr).unwrap().replace("\n  ", " ");
            assert_eq!(output.status.code(), Some(2), "{name:?}: {err}");
            assert!(err.contains("give 1 to 8 letters, digits, - or _"), "{name:?}: {err}");
        }
    }
}

#[test]
fn an_escaped_name_can_still_be_recognised() {
    let bench = bench();
    let result = bench.run(&["check", "a\x1b]0;title\x07\x1b[35mb\x1b[2J.toml"]);
    assert!(result.err.starts_with("a\\u{1b}]0;title\\u{7}\\u{1b}[35mb\\u{1b}[2J.toml:1:1: "));
    let result = bench.run(&["rehearse", "job.toml", "--seed", "\x1b[35m7"]);
    assert!(result.err.contains("'\\u{1b}[35m7' for '--seed <NUMBER>'"), "{}", result.err);
    let result = bench.run(&["che\x1bck", "job.toml"]);
    assert!(result.err.contains("unrecognized subcommand 'che\\u{1b}ck'"), "{}", result.err);
    // A long path is cut in the middle, so that the file name stays.
    let long = format!("{}/the-one.toml", "folder/".repeat(60));
    let result = bench.run(&["check", &long]);
    assert!(result.err.starts_with("folder/folder/"), "{}", result.err);
    assert!(result.err.contains("…") && result.err.contains("/the-one.toml: there is no"));
    assert!(result.err.lines().next().unwrap().chars().count() < 250, "{}", result.err);
}
