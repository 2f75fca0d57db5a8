//! Converts the keys of a file to stages and back.

use saggar_core::programme::AfterCut;

use super::{Evacuation, RampPace, Stage, StageKind};
use crate::document::{KeyDiagnostics, Presence, Section};
use crate::keys::schedule as keys;

/// Path of a stage, counted from 0, among the keys of a file.
pub(super) fn stage_path(index: usize) -> String {
    format!("stage[{}]", index + 1)
}

/// All stages.
pub(super) fn read(
    stages: &[keys::Stage],
    notes: KeyDiagnostics<'_>,
) -> Vec<Stage<Option<StageKind>>> {
    let numbered = stages.iter().enumerate();
    let stages: Vec<_> = numbered.map(|(index, keys)| stage(index, keys, notes)).collect();
    check_names_unique(&stages, notes);
    stages
}

/// Notes stages with equal names.
fn check_names_unique(stages: &[Stage<Option<StageKind>>], notes: KeyDiagnostics<'_>) {
    for (later, twin) in stages.iter().enumerate() {
        let Some(name) = &twin.name else { continue };
        let named = |stage: &Stage<_>| stage.name.as_ref() == Some(name);
        if let Some(first) = stages.iter().take(later).position(named) {
            notes.at_value(
                &format!("{}.name", stage_path(later)),
                format!("stage {} has the name \"{name}\", too", first + 1),
                "give each named stage its own name",
            );
        }
    }
}

/// The keys of which a stage has exactly one.
fn kind_keys() -> impl Iterator<Item = &'static str> {
    let keys = keys::Stage::KEYS.iter().filter(|key| matches!(key.presence, Presence::OneOf));
    keys.map(|key| key.name)
}

fn stage(
    index: usize,
    keys: &keys::Stage,
    notes: KeyDiagnostics<'_>,
) -> Stage<Option<StageKind>> {
    let path = stage_path(index);
    let of = |key: &str| format!("{path}.{key}");
    let mut present: Vec<&str> =
        kind_keys().filter(|kind| notes.locations.has(&of(kind))).collect();
    present.sort_by_key(|kind| notes.locations.key(&of(kind)).map(|span| span.start));
    let kind = match present.as_slice() {
        // A misspelt kind is an unknown key: that diagnostic is enough.
        [] if notes.locations.has_unknown_keys(&path) => None,
        [] => {
            let help =
                format!("give it one of: {}", kind_keys().collect::<Vec<_>>().join(", "));
            notes.at_value(&path, "this stage does nothing", help);
            None
        }
        [_] => kind(keys, &path, notes),
        [first, second, ..] => {
            notes.at_key(
                &of(second),
                format!("a stage does one thing, and this one has `{first}` and `{second}`"),
                format!("put `{second}` into a [[stage]] of its own"),
            );
            None
        }
    };
    if keys.question.is_some() && !present.contains(&"hold") {
        notes.at_value(
            &of("question"),
            "only a hold has a question",
            "remove the question, or move it to a stage with `hold`",
        );
    }
    if keys.after_power_cut.is_some() && present == ["vacuum"] {
        notes.at_value(
            &of("after_power_cut"),
            "a vacuum is no stage of its own in which the power could fail",
            "move `after_power_cut` to the stages that the vacuum covers",
        );
    }
    Stage {
        kind,
        name: keys.name.clone(),
        question: keys.question.clone(),
        after_cut: keys.after_power_cut.map_or(AfterCut::GoOn, |word| word.0),
    }
}

/// The kind of a stage that has one kind of keys; `None` if they are incomplete.
fn kind(keys: &keys::Stage, path: &str, notes: KeyDiagnostics<'_>) -> Option<StageKind> {
    if let Some(ramp) = &keys.ramp {
        return self::ramp(ramp, &format!("{path}.ramp"), notes);
    }
    if let Some(soak) = keys.soak.as_ref().map(Section::with_defaults) {
        return Some(StageKind::Soak {
            minutes: soak.minutes?,
            band_kelvin: soak.band_kelvin?,
            patience_minutes: soak.patience_minutes?,
        });
    }
    if let Some(vacuum) = &keys.vacuum {
        let draw = Evacuation {
            from_celsius: vacuum.from_celsius?,
            to_hectopascal: vacuum.to_hectopascal?,
            within_minutes: vacuum.within_minutes?,
        };
        return Some(StageKind::Vacuum { draw, until_end_of: vacuum.until_end_of.clone()? });
    }
    if let Some(cool) = &keys.cool {
        return Some(StageKind::Cool { below_celsius: cool.below_celsius? });
    }
    if let Some(opening) = &keys.opening {
        let open = opening.position?.open;
        return Some(StageKind::Opening { open, minutes: opening.minutes? });
    }
    let hold = keys.hold.as_ref()?;
    Some(StageKind::Hold { minutes: hold.minutes?, go_on: hold.then?.go_on })
}

fn ramp(keys: &keys::Ramp, path: &str, notes: KeyDiagnostics<'_>) -> Option<StageKind> {
    let has = |key: &str| notes.locations.has(&format!("{path}.{key}"));
    let pace = match (has("kelvin_per_minute"), has("minutes")) {
        (true, false) => keys.kelvin_per_minute.map(RampPace::KelvinPerMinute),
        (false, true) => keys.minutes.map(RampPace::Minutes),
        (true, true) => {
            notes.at_key(
                &format!("{path}.minutes"),
                "a ramp has a rate or a time, and this one has both",
                "keep `kelvin_per_minute` or `minutes`, not both",
            );
            None
        }
        (false, false) => {
            notes.at_value(
                path,
                "the ramp has neither a rate nor a time",
                "add `kelvin_per_minute = 10`, for example, or `minutes = 30`",
            );
            None
        }
    };
    Some(StageKind::Ramp { to_celsius: keys.to_celsius?, pace: pace? })
}

/// The keys of a stage, as in a file.
impl From<&Stage> for keys::Stage {
    fn from(stage: &Stage) -> Self {
        let mut keys = Self {
            name: stage.name.clone(),
            question: stage.question.clone(),
            after_power_cut: match stage.after_cut {
                AfterCut::GoOn => None,
                AfterCut::End => Some(keys::AfterPowerCut(AfterCut::End)),
            },
            ..Self::default()
        };
        match stage.kind.clone() {
            StageKind::Ramp { to_celsius, pace } => {
                let (kelvin_per_minute, minutes) = match pace {
                    RampPace::KelvinPerMinute(rate) => (Some(rate), None),
                    RampPace::Minutes(minutes) => (None, Some(minutes)),
                };
                let to_celsius = Some(to_celsius);
                keys.ramp = Some(keys::Ramp { to_celsius, kelvin_per_minute, minutes });
            }
            StageKind::Soak { minutes, band_kelvin, patience_minutes } => {
                keys.soak = Some(keys::Soak {
                    minutes: Some(minutes),
                    band_kelvin: Some(band_kelvin),
                    patience_minutes: Some(patience_minutes),
                });
            }
            StageKind::Vacuum { draw, until_end_of } => {
                keys.vacuum = Some(keys::Vacuum {
                    from_celsius: Some(draw.from_celsius),
                    to_hectopascal: Some(draw.to_hectopascal),
                    within_minutes: Some(draw.within_minutes),
                    until_end_of: Some(until_end_of),
                });
            }
            StageKind::Cool { below_celsius } => {
                keys.cool = Some(keys::Cool { below_celsius: Some(below_celsius) });
            }
            StageKind::Opening { open, minutes } => {
                let position = Some(keys::ChamberPosition { open });
                keys.opening = Some(keys::Opening { position, minutes: Some(minutes) });
            }
            StageKind::Hold { minutes, go_on } => {
                let then = Some(keys::HoldTimeout { go_on });
                keys.hold = Some(keys::Hold { minutes: Some(minutes), then });
            }
        }
        keys
    }
}
