//! Has the core verify a programme, and reports violations at their locations in the schedule.

use saggar_core::programme::{
    IMAGE_BYTES_MAX, ProgrammeImage, Violation, ViolationKind, verify_with,
};

use super::action::from_milli;
use super::{Compilation, Draft};
use crate::profile::Profile;
use saggar_files::Diagnostics;
use saggar_verdict::format::{duration_at_least, duration_at_most};

/// Has the core verify a programme for a furnace. Violations are noted; the image is returned even so,
/// `None` only if the programme is too long for one.
pub fn verify(
    draft: &Draft,
    compiled: &Compilation,
    profile: &Profile,
    diagnostics: &Diagnostics,
) -> Option<ProgrammeImage> {
    let image = match ProgrammeImage::encode(&compiled.programme) {
        Ok(image) => image,
        Err(_) => {
            diagnostics.note_at(
                draft.locations.value(""),
                format!("as a programme the schedule is longer than {IMAGE_BYTES_MAX} bytes"),
                "join stages, or split the schedule in two",
            );
            return None;
        }
    };
    let mut open = false;
    verify_with(&image, &profile.furnace, |violation| {
        // A missing stage has been noted already. And once the chamber is open, every stage that
        // follows violates the same rule.
        let empty = violation.kind == ViolationKind::NoSteps;
        let follows =
            matches!(violation.kind, ViolationKind::HeatWhileOpen | ViolationKind::NoSetpoint);
        if empty && !diagnostics.is_empty() || open && follows {
            return;
        }
        open |= violation.kind == ViolationKind::HeatWhileOpen;
        // If a stage could not be read, violations that depend on earlier stages would be guesses.
        if compiled.is_complete || is_independent(&violation.kind) {
            note_violation(&violation, draft, compiled, profile, diagnostics);
        }
    });
    Some(image)
}

/// Whether the violation concerns the step alone, whatever precedes it.
const fn is_independent(violation: &ViolationKind) -> bool {
    match violation {
        ViolationKind::TooHot { .. }
        | ViolationKind::TooCold { .. }
        | ViolationKind::ZeroRate
        | ViolationKind::TooFast { .. }
        | ViolationKind::BadBand { .. }
        | ViolationKind::ZeroDuration
        | ViolationKind::NoPump
        | ViolationKind::BadPressure { .. }
        | ViolationKind::OpenUnderVacuum => true,
        ViolationKind::NoSteps
        | ViolationKind::TooLong { .. }
        | ViolationKind::NoSetpoint
        | ViolationKind::PumpNeverStarts { .. }
        | ViolationKind::HeatWhileOpen => false,
    }
}

fn note_violation(
    violation: &Violation,
    draft: &Draft,
    compiled: &Compilation,
    profile: &Profile,
    diagnostics: &Diagnostics,
) {
    let origin = violation.step.and_then(|step| compiled.map.origin(step));
    let kind = origin.map_or("step", |origin| origin.stage.kind.word());
    let (message, help) = violation_text(&violation.kind, kind, &profile.name);
    // A violation of the programme as a whole is reported at its first stage.
    let Some(stage) = origin.or_else(|| compiled.map.origins().first()) else {
        return diagnostics.note_at(draft.locations.value(""), message, help);
    };
    let keys = if origin.is_some() { keys_of(&violation.kind) } else { &[] };
    let vacuum = stage.vacuum.map(|(number, _)| number);
    let number = match (&violation.kind, vacuum) {
        (
            ViolationKind::NoPump
            | ViolationKind::BadPressure { .. }
            | ViolationKind::PumpNeverStarts { .. },
            Some(number),
        ) => number,
        (_, _) => stage.number,
    };
    draft.note(diagnostics, number - 1, keys, message, help);
}

/// The keys of the stage, or of the vacuum that covers it, at which the violation is reported; none if
/// it is the stage itself.
const fn keys_of(violation: &ViolationKind) -> &'static [&'static str] {
    match violation {
        ViolationKind::TooHot { .. } => &["to_celsius"],
        ViolationKind::TooCold { .. } => &["to_celsius", "below_celsius"],
        ViolationKind::ZeroRate | ViolationKind::TooFast { .. } => {
            &["kelvin_per_minute", "minutes"]
        }
        ViolationKind::BadBand { .. } => &["band_kelvin"],
        ViolationKind::ZeroDuration => &["minutes"],
        ViolationKind::BadPressure { .. } => &["to_hectopascal"],
        ViolationKind::PumpNeverStarts { .. } => &["from_celsius"],
        ViolationKind::NoSteps
        | ViolationKind::NoPump
        | ViolationKind::TooLong { .. }
        | ViolationKind::NoSetpoint
        | ViolationKind::OpenUnderVacuum
        | ViolationKind::HeatWhileOpen => &[],
    }
}

/// A violation in words, and its cure. `kind` is the kind of the step in one word.
pub fn violation_text(
    violation: &ViolationKind,
    kind: &str,
    furnace: &str,
) -> (String, String) {
    match *violation {
        ViolationKind::NoSteps => {
            fixed("the schedule has no stages", "add a [[stage]] with a ramp")
        }
        ViolationKind::TooLong { seconds, max_s } => too_long(seconds, max_s, furnace),
        ViolationKind::TooHot { to_mc, max_mc } => (
            format!(
                "{} is above the {} that {furnace} allows a programme",
                celsius(to_mc),
                celsius(max_mc)
            ),
            format!("lower it to {}, or choose another furnace", from_milli(max_mc)),
        ),
        ViolationKind::TooCold { to_mc } => (
            format!(
                "{} is below ambient temperature, which no furnace reaches",
                celsius(to_mc)
            ),
            "write 20 or more".into(),
        ),
        ViolationKind::ZeroRate => {
            fixed("the rate of the ramp is zero", "give it a rate above zero")
        }
        ViolationKind::TooFast { rate_mk_per_min, max_mk_per_min } => {
            too_fast(rate_mk_per_min, max_mk_per_min, furnace)
        }
        ViolationKind::NoSetpoint => (
            format!("this {kind} comes before any ramp, so it has no setpoint"),
            "put a ramp before it".into(),
        ),
        ViolationKind::BadBand { .. } => {
            fixed("the band of this soak is out of range", "allowed: 0.5 to 50")
        }
        ViolationKind::ZeroDuration => fixed("the time is zero", "give it a time above zero"),
        ViolationKind::NoPump => (
            format!("{furnace} has no pump, so it cannot draw a vacuum"),
            "remove the vacuum stage, or choose a furnace with a pump".into(),
        ),
        ViolationKind::BadPressure { to_pa, min_pa: lowest_pa } => (
            format!(
                "{} hPa is outside the pressures that {furnace} can reach",
                f64::from(to_pa) / 1e2
            ),
            format!("allowed: {} to 1013", f64::from(lowest_pa) / 1e2),
        ),
        ViolationKind::PumpNeverStarts { from_mc, setpoint_max_mc: highest_mc } => (
            format!("the pump would never start: this vacuum begins at {}", celsius(from_mc)),
            format!(
                "lower `from_celsius`: the stages under this vacuum reach {} at most",
                celsius(highest_mc)
            ),
        ),
        ViolationKind::OpenUnderVacuum => fixed(
            "the chamber cannot be opened or shut under vacuum",
            "end the vacuum before this stage",
        ),
        ViolationKind::HeatWhileOpen => (
            format!("this {kind} would heat an open chamber"),
            "shut it first: opening = { position = \"shut\", minutes = 0 }".into(),
        ),
    }
}

fn too_long(seconds: u32, max_s: u32, furnace: &str) -> (String, String) {
    let what = format!(
        "the firing takes {} or more, and {furnace} allows {}",
        duration_at_least(f64::from(seconds)),
        duration_at_most(f64::from(max_s))
    );
    (what, "ramp faster, soak shorter, or split the schedule in two".into())
}

/// A violation and its cure that name no value.
fn fixed(what: &str, cure: &str) -> (String, String) {
    (what.into(), cure.into())
}

/// A temperature with all digits that a programme stores, so that the limit can be copied.
fn celsius(mc: i32) -> String {
    format!("{} °C", from_milli(mc))
}

fn too_fast(rate_mk_per_min: u32, max_mk_per_min: u32, furnace: &str) -> (String, String) {
    let max = f64::from(max_mk_per_min) / 1e3;
    (
        format!(
            "{} K/min is faster than the {max} K/min that {furnace} allows",
            f64::from(rate_mk_per_min) / 1e3
        ),
        format!("lower the rate to {max}, or give the ramp more minutes"),
    )
}
