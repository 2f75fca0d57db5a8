//! Schedules of all sorts: no text makes the reader panic, every place it names lies in the
//! text, and what is lowered comes back from its bytes unchanged.

use std::path::Path;
use std::sync::Arc;

use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{Index, select};
use saggar_core::programme::{Action, Programme, ProgrammeImage};
use saggar_files::{Diagnostic, Diagnostics, SourceText, is_forbidden_in_name};
use saggar_schedule::profile::Profile;
use saggar_schedule::schedule::{
    Compilation, Draft, ProgrammeSummary, Schedule, StageKind, compile, verify,
};

const HEAD: &str = "name = \"Any\"\n[work]\nbody = \"alumina\"\nwall_millimetre = 0.5\n\
                    area_square_millimetre = 220\n";

fn example(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs").join(path);
    std::fs::read_to_string(path).expect("an example")
}

fn furnace() -> Profile {
    let source = Arc::new(SourceText::new("furnace", example("furnaces/lift-vacuum.toml")));
    Profile::from_source(&source).expect("a good profile")
}

/// A schedule that was read, as far as it goes.
type Read = (Draft, Compilation, Option<ProgrammeImage>);

/// Reads a text as far as it goes, and checks what is said of it.
fn read(text: &str, profile: &Profile) -> (Option<Read>, Vec<Diagnostic>) {
    let source = Arc::new(SourceText::new("any.toml", text));
    let findings = Diagnostics::new(&source);
    let read = Draft::read(&source, &findings).map(|draft| {
        let lowered = compile(&draft, &findings);
        let image = verify(&draft, &lowered, profile, &findings);
        (draft, lowered, image)
    });
    let findings = findings.into_sorted();
    for finding in &findings {
        let place = finding.location.as_ref().expect("a place in the text");
        assert!(text.get(place.span.clone()).is_some(), "{finding:?} lies outside the text");
        assert!(place.line >= 1 && place.column >= 1);
        assert!(
            !finding.message.chars().any(is_forbidden_in_name),
            "{finding:?} could steer a terminal"
        );
        assert!(
            !finding.help.as_deref().unwrap_or("").chars().any(is_forbidden_in_name),
            "{finding:?}"
        );
    }
    assert!(read.is_some() || !findings.is_empty(), "nothing came of it, and nobody says why");
    (read, findings)
}

/// Reads a text that is a whole schedule.
fn read_whole(text: &str) -> Schedule {
    let source = Arc::new(SourceText::new("any.toml", text));
    let draft = Draft::read(&source, &Diagnostics::new(&source));
    draft.and_then(|draft| draft.complete()).expect("a whole schedule")
}

/// Stages as text, one for each step, in any order and with any sense or none.
fn stage() -> impl Strategy<Value = String> {
    let minutes = 1u32..600;
    prop_oneof![
        (20u32..1760, 1u32..1000).prop_map(|(to, rate)| format!(
            "ramp = {{ to_celsius = {to}, kelvin_per_minute = {rate} }}"
        )),
        (20u32..1760, minutes.clone())
            .prop_map(|(to, time)| format!("ramp = {{ to_celsius = {to}, minutes = {time} }}")),
        (minutes.clone(), 1u32..50).prop_map(|(time, band)| format!(
            "soak = {{ minutes = {time}, band_kelvin = {band} }}"
        )),
        (20u32..1760).prop_map(|below| format!("cool = {{ below_celsius = {below} }}")),
        (any::<bool>(), minutes.clone()).prop_map(|(open, time)| {
            let position = if open { "open" } else { "shut" };
            format!("opening = {{ position = \"{position}\", minutes = {time} }}")
        }),
        (any::<bool>(), minutes).prop_map(|(go_on, time)| {
            let then = if go_on { "continue" } else { "end" };
            format!("hold = {{ minutes = {time}, then = \"{then}\" }}")
        }),
    ]
}

fn word(action: &Action) -> &'static str {
    StageKind::from(action).word()
}

proptest! {
    #[test]
    fn no_text_makes_the_reader_panic(text in any::<String>()) {
        read(&text, &furnace());
    }

    #[test]
    fn no_text_that_looks_like_toml_makes_it_panic(
        pieces in vec(select(vec![
            "[", "]", "[[stage]]", "\n", " = ", "ramp", "vacuum", "{", "}", ",", "\"", "nan",
            "-1", "1e400", "1979-05-27", "to_celsius", "minutes", "name", "work", ".", "#",
            "\u{202e}", "\t", "\\u0000", "until_end_of", "0,5", "é", "'''", "true", "furnace",
        ]), 0..60),
    ) {
        read(&pieces.concat(), &furnace());
    }

    #[test]
    fn no_slip_in_a_good_schedule_makes_it_panic(
        which in select(vec!["infiltrate-alumina", "infiltrate-spinel-vacuum", "melt-back"]),
        slips in vec((any::<Index>(), 0usize..8, any::<String>()), 1..4),
    ) {
        let mut text: Vec<char> = example(&format!("schedules/{which}.toml")).chars().collect();
        for (at, cut, put) in slips {
            let start = at.index(text.len());
            let end = (start + cut).min(text.len());
            text.splice(start..end, put.chars().take(12));
        }
        read(&text.into_iter().collect::<String>(), &furnace());
    }

    #[test]
    fn what_is_lowered_comes_back_from_its_bytes(stages in vec(stage(), 1..40)) {
        let mut text = HEAD.to_owned();
        for stage in &stages {
            text += "[[stage]]\n";
            text += stage;
            text += "\n";
        }
        let (read, findings) = read(&text, &furnace());
        let (draft, lowered, image) = read.unwrap();
        let steps = &lowered.programme.steps;
        prop_assert_eq!(lowered.map.origins().len(), steps.len());
        for (step, place) in steps.iter().zip(lowered.map.origins()) {
            let written = &stages[place.number - 1];
            prop_assert!(written.starts_with(word(&step.action)), "{} from {}", word(&step.action), written);
            let path = format!("stage[{}].{}", place.number, word(&step.action));
            let span = draft.locations.key(&path).unwrap().clone();
            prop_assert!(text[span].starts_with(word(&step.action)));
        }
        if let Some(schedule) = draft.complete().filter(|_| findings.is_empty()) {
            prop_assert_eq!(read_whole(&schedule.to_toml()), schedule);
        }
        if lowered.is_complete {
            prop_assert_eq!(steps.len(), stages.len());
        } else {
            prop_assert!(!findings.is_empty());
        }
        let image = image.unwrap();
        let again = ProgrammeImage::from_bytes_with_digest(image.bytes(), &image.digest()).unwrap();
        let mut decoded = Programme::new(again.name()).unwrap();
        decoded.steps.extend(again.steps());
        prop_assert_eq!(&decoded, &lowered.programme);
        prop_assert_eq!(usize::from(ProgrammeSummary::of(&again).steps), steps.len());
    }
}
