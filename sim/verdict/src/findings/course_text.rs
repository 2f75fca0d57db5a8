//! Sentences about the course of a firing.

use saggar_core::events::Ending;

use super::finding::{Finding, Outcome};
use super::late_ramp::LateRamp;
use super::summary::LostSoak;
use super::wording::Wording;
use crate::format::{Scale, at_minute, at_second, duration as format_duration};

/// How late a ramp was, after a leading space.
pub(super) fn late(ramp: &LateRamp, wording: Wording<'_>) -> String {
    let LateRamp { step, at_rate_s, takes_s, .. } = *ramp;
    format!(
        " In {} the ramp took {} instead of {}.",
        wording.label_of(step),
        format_duration(takes_s),
        format_duration(at_rate_s)
    )
}

/// How the firing ended: when, in which step, and how long it had run (s).
pub(super) fn ended(
    ending: Option<Ending>,
    lost: Option<LostSoak>,
    after_cut: bool,
    (at_s, step, ran_s): (Option<f64>, Option<u8>, f64),
    wording: Wording<'_>,
) -> String {
    let at = at_second(at_s);
    match ending {
        Some(Ending::Completed) => "the programme ran to its end.".into(),
        Some(Ending::Stopped) => format!("the firing was stopped{at}."),
        Some(Ending::Tripped(cause)) => {
            format!("an interlock tripped{at}: {}. {}", cause.name(), cause.advice())
        }
        Some(Ending::Unanswered) => {
            format!("the hold was not answered in time, so the firing ended{at}.")
        }
        Some(Ending::BandLost) => {
            let which = step.map_or_else(|| "a soak".to_owned(), |step| wording.label_of(step));
            let how = lost.map_or_else(String::new, |lost| lost.sentence(wording.scale));
            format!(
                "{which} was outside its band for longer than its patience, so the firing \
                 ended{at}.{how}"
            )
        }
        Some(Ending::TooLong) => {
            format!("the firing took longer than the furnace allows, so it ended{at}.")
        }
        None if after_cut => {
            format!("the power failed, and the firing did not go on; it had run{at}.")
        }
        None if ran_s < 1.0 => "the firing did not begin.".into(),
        None => format!("the firing was still running{at}, when the record ended."),
    }
}

pub(super) fn piece_over(f: &Finding, after_firing: bool, scale: Scale) -> String {
    let (found, limit) = scale.difference_and_limit(f.measured, f.limit);
    match f.outcome {
        Outcome::Pass if f.measured > 0.0 => {
            format!("{found} of at most {limit}{}.", at_minute(f.at_s))
        }
        Outcome::Pass => "the piece stayed below the highest setpoint.".into(),
        Outcome::Fail | Outcome::NotKnown | Outcome::Note => format!(
            "{found} of at most {limit}{}. {}",
            at_minute(f.at_s),
            if after_firing {
                "The heat did not go off with the firing: only a cut-out with its own contactor \
                 ends that."
            } else {
                "The control sensor may read too low: check it against the second one and calibrate."
            }
        ),
    }
}
