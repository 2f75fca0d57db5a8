//! Words for events.

use std::borrow::Cow;

use saggar_core::events::{Channel, Event, EventKind, Wait};
use saggar_core::sequencer::Ending;

use crate::StageBand;

/// When an event was (s since the start).
pub(super) fn at_s(event: &Event) -> f64 {
    event.at.millis() as f64 / 1000.0
}

/// The event's key in `verdict.json`.
pub(super) const fn event_key(what: EventKind) -> &'static str {
    match what {
        EventKind::FiringStarted => "started",
        EventKind::StepStarted(_) => "step_began",
        EventKind::VacuumReached => "vacuum_reached",
        EventKind::HoldStarted => "asked",
        EventKind::FiringEnded(_) => "ended",
        EventKind::Tripped(_) => "tripped",
        EventKind::TripAccepted => "accepted",
        EventKind::ChannelFailed(_) => "channel_failed",
        EventKind::WaitIsLong(_) => "wait_is_long",
        EventKind::HeaterWeak => "heater_weak",
        EventKind::ContactChecked => "contact_checked",
        EventKind::FiringResumed(_) => "resumed",
        EventKind::FiringDiscarded => "discarded",
    }
}

/// An event in a phrase.
pub(super) fn event_phrase(what: EventKind, stages: &[StageBand]) -> String {
    match what {
        EventKind::FiringStarted => "The firing was started".into(),
        EventKind::StepStarted(step) => match stages.iter().find(|band| band.step == step) {
            Some(band) => format!("Stage {} began: {}", band.number, legible(&band.title()))
                .trim_end_matches(": ")
                .to_owned(),
            None => format!("Step {} began", u16::from(step) + 1),
        },
        EventKind::VacuumReached => "The pressure of the vacuum stage was reached".into(),
        EventKind::HoldStarted => "The operator was asked".into(),
        EventKind::FiringEnded(ending) => {
            format!("The firing ended: {}", ending_phrase(ending))
        }
        EventKind::Tripped(cause) => {
            format!("An interlock tripped: {}", cause.name())
        }
        EventKind::TripAccepted => "The operator accepted the trip".into(),
        EventKind::FiringResumed(step) => {
            format!("The firing went on in step {}", u16::from(step) + 1)
        }
        EventKind::ChannelFailed(_)
        | EventKind::WaitIsLong(_)
        | EventKind::HeaterWeak
        | EventKind::ContactChecked
        | EventKind::FiringDiscarded => {
            let phrase = plain_event_phrase(what).unwrap_or_default();
            let mut letters = phrase.chars();
            letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect()
        }
    }
}

/// What is wrong with a weak heater, to follow "carries" or "carried".
pub const WEAK_HEATER: &str =
    "less current than expected: low mains, an aged element, or half-waves only";

/// An event whose phrase depends on nothing else, within a sentence; `None` for the others.
pub fn plain_event_phrase(what: EventKind) -> Option<String> {
    match what {
        EventKind::ChannelFailed(channel) => {
            Some(format!("it was the {}", channel_name(channel)))
        }
        EventKind::WaitIsLong(wait) => {
            Some(format!("the firing has waited ten minutes for {}", wait_name(wait)))
        }
        EventKind::HeaterWeak => Some(format!("the heater carries {WEAK_HEATER}")),
        EventKind::ContactChecked => {
            Some("the operator confirmed that the chamber is shut".into())
        }
        EventKind::FiringDiscarded => Some("the interrupted firing was discarded".into()),
        EventKind::FiringStarted
        | EventKind::StepStarted(_)
        | EventKind::VacuumReached
        | EventKind::HoldStarted
        | EventKind::FiringEnded(_)
        | EventKind::Tripped(_)
        | EventKind::TripAccepted
        | EventKind::FiringResumed(_) => None,
    }
}

/// An event in at most three words for the chart; `None` if the chart shows it in another way.
pub(super) fn event_label(what: EventKind) -> Option<String> {
    match what {
        EventKind::FiringStarted | EventKind::StepStarted(_) => None,
        EventKind::VacuumReached => Some("vacuum reached".into()),
        EventKind::HoldStarted => Some("operator asked".into()),
        EventKind::FiringEnded(Ending::Tripped(_)) => None,
        EventKind::FiringEnded(ending) => Some(format!("ended: {}", ending_phrase(ending))),
        EventKind::Tripped(cause) => Some(format!("trip: {}", cause.name())),
        EventKind::TripAccepted => Some("trip accepted".into()),
        EventKind::ChannelFailed(channel) => Some(channel_name(channel).into()),
        EventKind::WaitIsLong(wait) => Some(format!("waits for {}", wait_name(wait))),
        EventKind::HeaterWeak => Some("heater weak".into()),
        EventKind::ContactChecked => Some("contact checked".into()),
        EventKind::FiringResumed(_) => Some("firing resumed".into()),
        EventKind::FiringDiscarded => Some("firing discarded".into()),
    }
}

/// How a firing ended, in a phrase.
pub fn ending_phrase(ending: Ending) -> Cow<'static, str> {
    match ending {
        Ending::Completed => "completed".into(),
        Ending::Stopped => "stopped".into(),
        Ending::Tripped(cause) => format!("tripped, {}", cause.name()).into(),
        Ending::Unanswered => "hold unanswered".into(),
        Ending::BandLost => "soak left its band".into(),
        Ending::TooLong => "took too long".into(),
    }
}

/// The name of a thermocouple channel.
const fn channel_name(channel: Channel) -> &'static str {
    match channel {
        Channel::Control => "control channel",
        Channel::Limit => "limit channel",
    }
}

/// What a firing waits for, to follow "waits for".
const fn wait_name(wait: Wait) -> &'static str {
    match wait {
        Wait::Vacuum => "vacuum",
        Wait::Band => "its band",
        Wait::Air => "air",
        Wait::Contacts => "the contacts",
        Wait::Cooling => "the furnace to cool",
    }
}

/// Replaces control characters, which neither HTML nor SVG may contain, and characters that change the
/// direction of text.
pub(super) fn legible(text: &str) -> Cow<'_, str> {
    let unfit = |c: char| {
        c.is_control()
            || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}')
            || matches!(c, '\u{2066}'..='\u{2069}' | '\u{feff}' | '\u{fffe}' | '\u{ffff}')
    };
    if text.contains(unfit) { text.replace(unfit, "\u{fffd}").into() } else { text.into() }
}
