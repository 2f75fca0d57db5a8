//! The stages of a schedule file.

use saggar_core::programme::STEPS_MAX;
use saggar_plant::spec::{PRESSURE_MIN_HPA, STAGE_MAX_MIN};

use super::{Pace, Stage, StageKind};
use crate::document::Table;

/// The keys that say what a stage does.
const KINDS: [&str; 6] = ["ramp", "soak", "vacuum", "cool", "opening", "hold"];

/// Longest name of a stage, and longest question (bytes).
pub(super) const NAME_BYTES_MAX: usize = 32;
const QUESTION_BYTES_MAX: usize = 200;

/// More stages than this are not even read: most of them would be more steps than a programme
/// may have.
const STAGES_MAX: usize = 4 * STEPS_MAX;

/// Patience of a soak that does not say it (min). Common practice, no source.
const PATIENCE_MINUTES: f64 = 15.0;

/// Shortest (min): half a second.
const MINUTES_MIN: f64 = 0.01;

/// Hottest temperature that any stage may name (°C): where platinum melts.
const CELSIUS_MAX: f64 = 1768.0;

/// Coldest: a heated chamber in a warm room cannot hold less.
const CELSIUS_MIN: f64 = 20.0;

/// All stages.
pub(super) fn read(root: &Table<'_>) -> Vec<Stage> {
    let mut stages: Vec<Stage> =
        root.tables("stage").into_iter().take(STAGES_MAX).map(stage).collect();
    refuse_twins(root, &mut stages);
    stages
}

/// Two stages of one name cannot be told apart.
fn refuse_twins(root: &Table<'_>, stages: &mut [Stage]) {
    for later in 1..stages.len() {
        let (before, rest) = stages.split_at(later);
        let Some(Stage { name: Some(name), .. }) = rest.first() else { continue };
        let first = before.iter().position(|stage| stage.name.as_deref() == Some(name));
        if let (Some(first), Some(twin)) = (first, rest.first()) {
            root.note_at(
                &twin.spot("name"),
                format!("stage {} is named \"{name}\" as well", first + 1),
                "give each named stage its own name",
            );
        }
    }
}

fn stage(table: Table<'_>) -> Stage {
    let name = table.text_if("name", NAME_BYTES_MAX);
    let present = table.present(&KINDS);
    let mut spots = table.spots();
    let mut kind = None;
    let mut span = table.span().clone();
    match present.as_slice() {
        [] if table.has_only(&["name", "question"]) => table.note_at(
            table.span(),
            "this stage does nothing",
            format!("give it one of: {}", KINDS.join(", ")),
        ),
        // A misspelt kind is an unknown key: that finding is enough.
        [] => {}
        [only] => {
            span = table.key_span(only);
            if let Some(inner) = table.table(only) {
                spots.extend(inner.spots());
                kind = read_kind(only, inner);
            }
        }
        [first, second, ..] => table.note_at(
            &table.key_span(second),
            format!("a stage does one thing, and this one has `{first}` and `{second}`"),
            format!("put `{second}` into a [[stage]] of its own"),
        ),
    }
    let question = question(&table, &present);
    table.finish();
    Stage { kind, name, question, span, spots }
}

fn question(table: &Table<'_>, present: &[&str]) -> Option<String> {
    let question = table.text_if("question", QUESTION_BYTES_MAX)?;
    if !present.contains(&"hold") {
        table.note(
            "question",
            "only a hold waits for an answer",
            "take the question away, or ask it in a stage with `hold`",
        );
    }
    Some(question)
}

fn read_kind(word: &str, table: Table<'_>) -> Option<StageKind> {
    let minutes = || table.number("minutes", MINUTES_MIN..=STAGE_MAX_MIN);
    let kind = match word {
        "ramp" => ramp(&table),
        "soak" => {
            let minutes = minutes();
            let band = table.number("band_kelvin", 0.5..=50.0);
            let patience_minutes = table.number_or(
                "patience_minutes",
                MINUTES_MIN..=STAGE_MAX_MIN,
                PATIENCE_MINUTES,
            );
            minutes.zip(band).map(|(minutes, band_kelvin)| StageKind::Soak {
                minutes,
                band_kelvin,
                patience_minutes,
            })
        }
        "vacuum" => vacuum(&table),
        "cool" => table
            .number("below_celsius", CELSIUS_MIN..=CELSIUS_MAX)
            .map(|below_celsius| StageKind::Cool { below_celsius }),
        "opening" => {
            let open = table.choice("position", &[("open", true), ("shut", false)]);
            let minutes = table.number("minutes", 0.0..=STAGE_MAX_MIN);
            open.zip(minutes).map(|(open, minutes)| StageKind::Opening { open, minutes })
        }
        // `KINDS` has one more.
        _ => {
            let minutes = minutes();
            let go_on = table.choice("then", &[("continue", true), ("end", false)]);
            minutes.zip(go_on).map(|(minutes, go_on)| StageKind::Hold { minutes, go_on })
        }
    };
    table.finish();
    kind
}

fn ramp(table: &Table<'_>) -> Option<StageKind> {
    let to_celsius = table.number("to_celsius", CELSIUS_MIN..=CELSIUS_MAX);
    let rate = table.number_if("kelvin_per_minute", 0.1..=1000.0);
    let minutes = table.number_if("minutes", MINUTES_MIN..=STAGE_MAX_MIN);
    let pace = match (table.has("kelvin_per_minute"), table.has("minutes")) {
        (true, false) => rate.map(Pace::KelvinPerMinute),
        (false, true) => minutes.map(Pace::Minutes),
        (true, true) => {
            table.note_at(
                &table.key_span("minutes"),
                "a ramp has a rate or a time, and this one has both",
                "keep `kelvin_per_minute` or `minutes`, not both",
            );
            None
        }
        (false, false) => {
            table.note_at(
                table.span(),
                "the ramp does not say how fast",
                "add `kelvin_per_minute = 10`, say, or `minutes = 30`",
            );
            None
        }
    };
    to_celsius.zip(pace).map(|(to_celsius, pace)| StageKind::Ramp { to_celsius, pace })
}

fn vacuum(table: &Table<'_>) -> Option<StageKind> {
    let from = table.number("from_celsius", CELSIUS_MIN..=CELSIUS_MAX);
    let pressure = table.number("to_hectopascal", PRESSURE_MIN_HPA..=1013.0);
    let within = table.number("within_minutes", MINUTES_MIN..=240.0);
    let until_end_of = table.text("until_end_of", NAME_BYTES_MAX);
    Some(StageKind::Vacuum {
        from_celsius: from?,
        to_hectopascal: pressure?,
        within_minutes: within?,
        until_end_of: until_end_of?,
    })
}
