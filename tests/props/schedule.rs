//! Property tests with arbitrary schedules: no text makes the reader panic, every location in a diagnostic
//! lies in the text, and a compiled programme is read back from its bytes unchanged.

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

/// The stages of reading that a text passed.
type ReadStages = (Draft, Compilation, Option<ProgrammeImage>);

/// Reads a text as far as possible, and checks the diagnostics.
fn read(text: &str, profile: &Profile) -> (Option<ReadStages>, Vec<Diagnostic>) {
    let source = Arc::new(SourceText::new("any.toml", text));
    let diagnostics = Diagnostics::new(&source);
    let read = Draft::read(&source, &diagnostics).map(|draft| {
        let compilation = compile(&draft, &diagnostics);
        let image = verify(&draft, &compilation, profile, &diagnostics);
        (draft, compilation, image)
    });
    let diagnostics = diagnostics.into_sorted();
    for diagnostic in &diagnostics {
        let location = diagnostic.location.as_ref().expect("a location in the text");
        assert!(
            text.get(location.span.clone()).is_some(),
            "{diagnostic:?} lies outside the text"
        );
        assert!(location.line >= 1 && location.column >= 1);
        assert!(
            !diagnostic.message.chars().any(is_forbidden_in_name),
            "{diagnostic:?} could steer a terminal"
        );
        assert!(
            !diagnostic.help.as_deref().unwrap_or("").chars().any(is_forbidden_in_name),
            "{diagnostic:?}"
        );
    }
    assert!(
        read.is_some() || !diagnostics.is_empty(),
        "the text was rejected without a diagnostic"
    );
    (read, diagnostics)
}

/// Reads a complete schedule.
fn read_complete(text: &str) -> Schedule {
    let source = Arc::new(SourceText::new("any.toml", text));
    let draft = Draft::read(&source, &Diagnostics::new(&source));
    draft.and_then(|draft| draft.complete()).expect("a complete schedule")
}

/// The text of an arbitrary stage; a sequence of them need not make sense.
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
    fn no_text_that_looks_like_toml_makes_the_reader_panic(
        pieces in vec(select(vec![
            "[", "]", "[[stage]]", "\n", " = ", "ramp", "vacuum", "{", "}", ",", "\"", "nan",
            "-1", "1e400", "1979-05-27", "to_celsius", "minutes", "name", "work", ".", "#",
            "\u{202e}", "\t", "\\u0000", "until_end_of", "0,5", "é", "'''", "true", "furnace",
        ]), 0..60),
    ) {
        read(&pieces.concat(), &furnace());
    }

    #[test]
    fn no_edit_of_a_good_schedule_makes_the_reader_panic(
        name in select(vec!["infiltrate-alumina", "infiltrate-spinel-vacuum", "melt-back"]),
        edits in vec((any::<Index>(), 0usize..8, any::<String>()), 1..4),
    ) {
        let mut text: Vec<char> = example(&format!("schedules/{name}.toml")).chars().collect();
        for (at, cut, put) in edits {
            let start = at.index(text.len());
            let end = (start + cut).min(text.len());
            text.splice(start..end, put.chars().take(12));
        }
        read(&text.into_iter().collect::<String>(), &furnace());
    }

    #[test]
    fn a_compiled_programme_is_read_back_from_its_bytes(stages in vec(stage(), 1..40)) {
        let mut text = HEAD.to_owned();
        for stage in &stages {
            text += "[[stage]]\n";
            text += stage;
            text += "\n";
        }
        let (read, diagnostics) = read(&text, &furnace());
        let (draft, compilation, image) = read.unwrap();
        let steps = &compilation.programme.steps;
        prop_assert_eq!(compilation.map.origins().len(), steps.len());
        for (step, origin) in steps.iter().zip(compilation.map.origins()) {
            let written = &stages[origin.number - 1];
            prop_assert!(written.starts_with(word(&step.action)), "{} from {}", word(&step.action), written);
            let path = format!("stage[{}].{}", origin.number, word(&step.action));
            let span = draft.locations.key(&path).unwrap().clone();
            prop_assert!(text[span].starts_with(word(&step.action)));
        }
        if let Some(schedule) = draft.complete().filter(|_| diagnostics.is_empty()) {
            prop_assert_eq!(read_complete(&schedule.to_toml()), schedule);
        }
        if compilation.is_complete {
            prop_assert_eq!(steps.len(), stages.len());
        } else {
            prop_assert!(!diagnostics.is_empty());
        }
        let image = image.unwrap();
        let again = ProgrammeImage::from_bytes_with_digest(image.bytes(), &image.digest()).unwrap();
        let mut decoded = Programme::new(again.name()).unwrap();
        decoded.steps.extend(again.steps());
        prop_assert_eq!(&decoded, &compilation.programme);
        prop_assert_eq!(usize::from(ProgrammeSummary::of(&again).steps), steps.len());
    }
}
