//! Schedules as plain data: made in code, written to a file and read again.

use std::fs;

use saggar_core::programme::AfterCut;
use saggar_files::{Diagnostic, Diagnostics};
use saggar_schedule::keys::schedule::{BodyName, Work};
use saggar_schedule::profile::Profile;
use saggar_schedule::schedule::{
    Draft, Evacuation, RampPace, Schedule, Stage, StageKind, compile, verify,
};

use super::{docs, examples, source};

fn read(text: &str) -> Schedule {
    let source = source(text);
    let diagnostics = Diagnostics::new(&source);
    let schedule = Draft::read(&source, &diagnostics).unwrap().complete().unwrap();
    assert!(diagnostics.is_empty(), "{:?}", diagnostics.into_sorted());
    schedule
}

fn stage(kind: StageKind, name: Option<&str>) -> Stage {
    Stage { kind, name: name.map(str::to_owned), question: None, after_cut: AfterCut::GoOn }
}

/// A schedule made in code.
fn example_schedule(to_celsius: f64, until_end_of: &str) -> Schedule {
    let draw = Evacuation { from_celsius: 600.0, to_hectopascal: 50.0, within_minutes: 3.0 };
    let pace = RampPace::KelvinPerMinute(20.0);
    let soak = StageKind::Soak { minutes: 30.0, band_kelvin: 5.0, patience_minutes: 10.0 };
    Schedule {
        name: "Made".to_owned(),
        furnace: None,
        power_cut_fall_k: 150,
        work: Work {
            body: Some(BodyName("spinel")),
            wall_millimetre: Some(0.5),
            area_square_millimetre: Some(220.0),
            ..Work::default()
        },
        stages: vec![
            stage(StageKind::Vacuum { draw, until_end_of: until_end_of.to_owned() }, None),
            stage(StageKind::Ramp { to_celsius, pace }, Some("up")),
            stage(soak, Some("infiltrate")),
            stage(StageKind::Opening { open: true, minutes: 0.5 }, None),
        ],
    }
}

fn diagnostics_of(schedule: &Schedule) -> Vec<Diagnostic> {
    let profile = Profile::load(&docs().join("furnaces/lift-vacuum.toml")).unwrap();
    let diagnostics = Diagnostics::new_without_text(&schedule.name);
    let draft = Draft::from(schedule);
    let compiled = compile(&draft, &diagnostics);
    verify(&draft, &compiled, &profile, &diagnostics);
    diagnostics.into_sorted()
}

#[test]
fn every_example_survives_writing_and_reading() {
    for path in examples("schedules") {
        let schedule = read(&fs::read_to_string(&path).unwrap());
        let text = schedule.to_toml();
        assert_eq!(read(&text), schedule, "{text}");
        assert_eq!(diagnostics_of(&schedule).len(), 0, "{}", path.display());
    }
}

#[test]
fn a_schedule_made_in_code_is_written_as_readable_toml() {
    let schedule = example_schedule(1090.0, "infiltrate");
    let text = schedule.to_toml();
    assert_eq!(read(&text), schedule);
    assert_eq!(
        text,
        "name = \"Made\"\npower_cut_fall_kelvin = 150\n\n\
         [work]\nbody = \"spinel\"\nwall_millimetre = 0.5\narea_square_millimetre = 220\n\n\
         [[stage]]\nvacuum = { from_celsius = 600, to_hectopascal = 50, within_minutes = 3, \
         until_end_of = \"infiltrate\" }\n\n\
         [[stage]]\nname = \"up\"\nramp = { to_celsius = 1090, kelvin_per_minute = 20 }\n\n\
         [[stage]]\nname = \"infiltrate\"\nsoak = { minutes = 30, band_kelvin = 5, \
         patience_minutes = 10 }\n\n\
         [[stage]]\nopening = { position = \"open\", minutes = 0.5 }\n"
    );
    assert!(schedule.work.spec().is_some());
    assert_eq!(Work::default().spec(), None);
}

#[test]
fn errors_without_a_file_name_the_stage() {
    let messages = |schedule: &Schedule| -> Vec<String> {
        let diagnostics = diagnostics_of(schedule);
        assert!(diagnostics.iter().all(|one| one.location.is_none() && one.file == "Made"));
        diagnostics.into_iter().map(|one| one.message).collect()
    };
    assert_eq!(
        messages(&example_schedule(1500.0, "infiltrate")),
        ["stage 2 \"up\": 1500 °C is above the 1180 °C that Dunlin allows a programme"]
    );
    assert_eq!(
        messages(&example_schedule(1090.0, "infiltrat")),
        ["stage 1: no later stage is named \"infiltrat\""]
    );
    let cold = messages(&example_schedule(500.0, "infiltrate"));
    assert_eq!(cold, ["stage 1: the pump would never start: this vacuum begins at 600 °C"]);
}

/// What a schedule says of power cuts reaches the programme, and its file.
#[test]
fn the_policy_after_a_power_cut_reaches_the_programme() {
    let mut schedule = example_schedule(1120.0, "infiltrate");
    schedule.stages[2].after_cut = AfterCut::End;
    assert_eq!(read(&schedule.to_toml()), schedule);
    let diagnostics = Diagnostics::new_without_text(&schedule.name);
    let programme = compile(&Draft::from(&schedule), &diagnostics).programme;
    assert_eq!(programme.fall_max_k, 150);
    let policies: Vec<_> = programme.steps.iter().map(|step| step.after_cut).collect();
    assert_eq!(policies, [AfterCut::GoOn, AfterCut::End, AfterCut::GoOn]);
}

/// A vacuum makes no step in which the power could fail.
#[test]
fn a_vacuum_has_no_policy_after_a_power_cut() {
    let schedule = example_schedule(1120.0, "infiltrate");
    let text =
        schedule.to_toml().replacen("[[stage]]", "[[stage]]\nafter_power_cut = \"end\"", 1);
    let source = source(&text);
    let diagnostics = Diagnostics::new(&source);
    let _ = Draft::read(&source, &diagnostics);
    let all = diagnostics.into_sorted();
    assert_eq!(all.len(), 1, "{all:?}");
    assert!(format!("{all:?}").contains("no stage of its own"), "{all:?}");
}
