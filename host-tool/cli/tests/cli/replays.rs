//! The conclusion and exit code of `replay`: equal only if ticks were compared.

use saggar_client::logfile::{LogHeader, MAGIC, Writer};
use saggar_core::Controller;
use saggar_core::io::{ClosureContacts, Inputs, ThermocoupleSample};
use saggar_core::units::Instant;
use saggar_device::wire::{Origin, Tick};
use serde_json::Value;

use super::bench::{Bench, GOOD, docs};

/// A part of a log.
#[derive(Clone, Copy, PartialEq)]
enum Part {
    /// An origin: the core's memory before the next tick.
    Origin,
    /// This number of ticks.
    Ticks(u32),
    /// This number of lost ticks.
    Lost(u32),
    /// A tick whose output differs from the core's.
    Altered,
}

/// Writes `it.firing`; returns its bytes.
fn log(bench: &Bench, parts: &[Part]) -> Vec<u8> {
    let path = bench.path("it.firing");
    let _ = std::fs::remove_file(&path);
    let profile = docs().join("furnaces/lift-vacuum.toml");
    let furnace = saggar_schedule::profile::Profile::load(&profile).unwrap().furnace;
    let head = LogHeader {
        device: *b"bench-7\0",
        image: [0, 1, 0],
        began_s: 0,
        furnace: postcard::to_stdvec(&furnace).unwrap(),
    };
    let mut writer = Writer::create(&path, &head).unwrap();
    let mut core = Controller::new(furnace);
    let mut number = 0;
    for part in parts {
        let count = match part {
            Part::Origin => {
                let mut room = [0; 250];
                let used = core.save_snapshot(&mut room).unwrap();
                let memory = &room[..used];
                writer.origin(&Origin { number, programme: None, memory }).unwrap();
                0
            }
            Part::Ticks(count) | Part::Lost(count) => *count,
            Part::Altered => 1,
        };
        for _ in 0..count {
            number += 1;
            let at_ms = u64::from(number) * 100;
            let mut outputs = core.step(Instant::from_millis(at_ms), &inputs());
            outputs.pump ^= *part == Part::Altered;
            if !matches!(part, Part::Lost(_)) {
                writer.tick(&Tick::new(number, at_ms, &inputs(), &outputs)).unwrap();
            }
        }
    }
    writer.flush().unwrap();
    std::fs::read(&path).unwrap()
}

/// A cold furnace at rest.
fn inputs() -> Inputs {
    let sample =
        ThermocoupleSample { emf_nv: 1000, cold_junction_mc: 23_000, open: false, age_ms: 0 };
    Inputs {
        control: Some(sample),
        limit: Some(sample),
        pressure_pa: Some(101_325),
        closure: ClosureContacts { shut: true, open: false },
        ..Inputs::default()
    }
}

/// Replays `it.firing`; returns exit code, text on one line, and JSON.
fn replay(bench: &Bench) -> (i32, String, Value) {
    let result = bench.run(&["replay", "it.firing"]);
    let json = bench.run(&["replay", "it.firing", "--json"]);
    assert_eq!((result.err.as_str(), json.err.as_str()), ("", ""));
    assert_eq!(result.code, json.code);
    let words = result.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let value: Value = serde_json::from_str(&json.out).unwrap();
    assert_eq!(value["ok"], result.code == 0, "{value}");
    (result.code, words, value)
}

#[test]
fn a_replay_without_comparisons_is_not_known() {
    let bench = Bench::with(GOOD);
    for (parts, why) in [
        (&[][..], "no tick was recorded"),
        (&[Part::Origin], "no tick was recorded"),
        (&[Part::Ticks(30)], "none of its 30 ticks follows an origin"),
        (&[Part::Ticks(30), Part::Origin], "none of its 30 ticks follows an origin"),
    ] {
        log(&bench, parts);
        let (code, words, value) = replay(&bench);
        assert_eq!(code, 3, "{words}");
        assert!(words.starts_with("it.firing: not known: nothing was compared "), "{words}");
        assert!(
            words.contains(why) && words.contains("record the firing again with"),
            "{words}"
        );
        assert!(!words.contains("equal"), "{words}");
        assert_eq!(value["conclusion"], "not known");
        assert!(value["why"].as_str().unwrap().contains(why), "{value}");
    }
}

#[test]
fn a_replay_with_comparisons_is_equal_or_different() {
    use Part::{Altered, Lost, Origin, Ticks};
    let bench = Bench::with(GOOD);
    for (parts, code, head, conclusion) in [
        (&[Origin, Ticks(30)][..], 0, "it.firing: equal of", "equal"),
        (&[Ticks(5), Origin, Ticks(30)], 0, "it.firing: equal of", "equal"),
        (
            &[Origin, Ticks(9), Lost(2), Origin, Ticks(9), Lost(1), Origin, Ticks(9)],
            0,
            "it.firing: equal, with 2 gaps of",
            "equal",
        ),
        (&[Origin, Ticks(9), Lost(2), Ticks(9)], 0, "it.firing: equal, with 1 gap of", "equal"),
        (&[Origin, Ticks(9), Altered, Ticks(9)], 1, "it.firing: different of", "different"),
        (
            &[Origin, Ticks(9), Lost(2), Origin, Ticks(9), Altered],
            1,
            "it.firing: different of",
            "different",
        ),
    ] {
        log(&bench, parts);
        let (ended, words, value) = replay(&bench);
        assert_eq!(ended, code, "{words}");
        assert!(words.starts_with(head), "{words}");
        assert_eq!((&value["conclusion"], &value["why"]), (&conclusion.into(), &Value::Null));
    }
}

#[test]
fn a_recording_that_was_cut_is_compared_up_to_the_cut() {
    let bench = Bench::with(GOOD);
    let bytes = log(&bench, &[Part::Origin, Part::Ticks(30)]);
    std::fs::write(bench.path("it.firing"), &bytes[..bytes.len() - 3]).unwrap();
    let (code, words, _) = replay(&bench);
    assert_eq!(code, 0, "{words}");
    assert!(words.starts_with("it.firing: equal, but cut of"), "{words}");
    assert!(words.contains("29 ticks compared"), "{words}");
    assert!(words.contains("the recording ends in the middle of a record"), "{words}");
    let head = log(&bench, &[]).len();
    std::fs::write(bench.path("it.firing"), &bytes[..head + 20]).unwrap();
    assert_eq!(replay(&bench).0, 3);
}

#[test]
fn a_damaged_recording_is_reported_first_then_what_was_compared() {
    use Part::{Altered, Origin, Ticks};
    let bench = Bench::with(GOOD);
    for (parts, text) in [
        (&[Origin, Ticks(9)][..], "the 9 ticks before it were compared and are equal"),
        (&[Origin, Ticks(9), Altered], "before it, different:"),
        (&[Ticks(9)], "nothing before it was compared"),
        (&[], "nothing before it was compared"),
    ] {
        let before = log(&bench, parts).len();
        let mut bytes = log(&bench, &[parts, &[Origin, Ticks(400)]].concat());
        bytes[before + 5] ^= 0x40;
        std::fs::write(bench.path("it.firing"), &bytes).unwrap();
        let (code, words, value) = replay(&bench);
        assert_eq!(code, 2, "{words}");
        let head = format!("it.firing: damaged after {before} of {} bytes", bytes.len());
        assert!(words.starts_with(&head), "{words}");
        assert!(words.contains(text), "{words}");
        assert_eq!(value["conclusion"], "damaged");
        assert_eq!(value["torn"]["whole_bytes"], before);
    }
    // The head is damaged, so it is not taken for a log.
    let mut bytes = log(&bench, &[]);
    bytes[MAGIC.len() + 5] ^= 1;
    std::fs::write(bench.path("it.firing"), bytes).unwrap();
    let result = bench.run(&["replay", "it.firing"]);
    assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:?}");
    assert!(result.err.contains("its head is damaged or missing"), "{result:?}");
}
