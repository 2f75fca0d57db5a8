//! Why a press of start or confirm had no effect. The core ignores such a press without a word;
//! this is how a display can tell the operator what stands in the way.

use saggar_core::controller::{Controller, StartError};
use saggar_core::interlock::Cause;
use saggar_core::io::Buttons;
use saggar_core::units::Instant;

/// Why a press of start or confirm had no effect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum PressError {
    /// Start: the programme is new, and confirm was not pressed for it yet.
    Unconfirmed,
    /// Start: a firing is running already.
    FiringRunning,
    /// Start: stop is pressed, or its wire is broken.
    StopPressed,
    /// Confirm: the hazard that caused this trip is still there.
    CausePersists(Cause),
    /// Confirm: the announcement of the new programme had not begun. Release and press again.
    TooEarly,
    /// Confirm: there is no question to answer, no trip to accept and no new programme.
    NothingToConfirm,
    /// Start: the core began nothing for this reason, or asks this first.
    NotStarted(StartError),
}

/// A press of start or confirm that had no effect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct IgnoredPress {
    /// When the button went down.
    pub at: Instant,
    /// What stood in the way.
    pub error: PressError,
}

/// Watches start and confirm for presses that have no effect.
pub(super) struct PressWatch {
    before: Buttons,
    pub(super) ignored: Option<IgnoredPress>,
}

/// What decided on the presses of one tick.
pub(super) struct PressFacts {
    /// Stop is down.
    pub(super) stop: bool,
    /// A firing ran before the tick.
    pub(super) was_firing: bool,
    /// The buzzer called the operator before the tick: for a hold, or for a trip.
    pub(super) was_asked: bool,
    /// The programme was confirmed before the tick.
    pub(super) was_confirmed: bool,
    /// The trip that was latched before the tick.
    pub(super) trip: Option<Cause>,
    /// A press confirmed the programme, accepted a trip, answered a question or started the firing.
    pub(super) effective: bool,
}

impl PressWatch {
    /// A button that is down when the device boots has not been pressed.
    pub(super) const fn new() -> Self {
        let before = Buttons { start: true, stop: true, confirm: true };
        Self { before, ignored: None }
    }

    /// Start and confirm, if they went down in this tick.
    pub(super) fn edges(&mut self, buttons: Buttons) -> Buttons {
        let before = core::mem::replace(&mut self.before, buttons);
        Buttons {
            start: buttons.start && !before.start,
            stop: false,
            confirm: buttons.confirm && !before.confirm,
        }
    }
}

impl PressFacts {
    /// Why the press of this tick had no effect. Not inlined: a press is rare.
    #[inline(never)]
    pub(super) fn error(&self, pressed: Buttons, core: &Controller) -> Option<PressError> {
        if self.effective {
            return None;
        }
        let status = core.status();
        let trip = status.trip.or(self.trip);
        // Both at once: the confirm comes first, as in the core.
        if pressed.confirm {
            return match trip {
                Some(cause) => Some(PressError::CausePersists(cause)),
                None if self.was_firing && self.was_asked => None,
                None if self.was_firing || self.was_confirmed => {
                    Some(PressError::NothingToConfirm)
                }
                None => Some(PressError::TooEarly),
            };
        }
        if self.was_firing {
            Some(PressError::FiringRunning)
        } else if let Some(cause) = trip {
            Some(PressError::NotStarted(StartError::Tripped(cause)))
        } else if core.programme().is_none() {
            Some(PressError::NotStarted(StartError::NoProgramme))
        } else if !self.was_confirmed {
            Some(PressError::Unconfirmed)
        } else if self.stop {
            Some(PressError::StopPressed)
        } else {
            status.start_error.map(PressError::NotStarted)
        }
    }
}
