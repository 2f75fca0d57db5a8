//! Why a press of start or confirm had no effect. The core ignores such a press without a word;
//! this is how a display can tell the operator what stands in the way.

use saggar_core::Cause;
use saggar_core::io::Buttons;
use saggar_core::units::Instant;

/// Why a press of start or confirm had no effect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum PressError {
    /// Start: no programme is loaded; [`Device::programme_status`](crate::Device::programme_status)
    /// says whether there is one in flash that this furnace must not run.
    NoProgramme,
    /// Start: the programme is new, and confirm was not pressed for it yet.
    Unconfirmed,
    /// Start: this trip is latched. Press confirm first.
    Tripped(Cause),
    /// Start: a firing is running already.
    FiringRunning,
    /// Start: the control thermocouple gives no reading that can be believed.
    NoReading,
    /// Start: stop is pressed, or its wire is broken.
    StopPressed,
    /// Confirm: the hazard that caused this trip is still there.
    CausePersists(Cause),
    /// Confirm: the announcement of the new programme had not begun. Release and press again.
    TooEarly,
    /// Confirm: there is no question to answer, no trip to accept and no new programme.
    NothingToConfirm,
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
    /// A firing ran before the tick.
    pub(super) was_firing: bool,
    /// The operator was asked a question before the tick.
    pub(super) was_asked: bool,
    /// The cause that is latched after the tick, or was before it.
    pub(super) tripped: Option<Cause>,
    /// The core started the programme.
    pub(super) started: bool,
    /// The core accepted the trip, or the press confirmed the new programme.
    pub(super) confirmed: bool,
    pub(super) has_programme: bool,
    /// The programme was confirmed before the tick.
    pub(super) was_confirmed: bool,
    /// The control channel is believed.
    pub(super) has_reading: bool,
}

impl PressWatch {
    /// A button that is down when the device boots has not been pressed.
    pub(super) const fn new() -> Self {
        let before = Buttons { start: true, stop: true, confirm: true };
        Self { before, ignored: None }
    }

    /// Compares the buttons with those of the last tick, and keeps the press that had no effect.
    pub(super) fn update(&mut self, at: Instant, buttons: Buttons, facts: &PressFacts) {
        let before = core::mem::replace(&mut self.before, buttons);
        let start = (buttons.start && !before.start).then(|| facts.start(buttons.stop));
        let confirm = (buttons.confirm && !before.confirm).then(|| facts.confirm());
        // Both at once: the confirm comes first, as in the core.
        if let Some(error) = confirm.or(start) {
            self.ignored = error.map(|error| IgnoredPress { at, error });
        }
    }
}

impl PressFacts {
    fn start(&self, stop: bool) -> Option<PressError> {
        if self.started {
            None
        } else if self.was_firing {
            Some(PressError::FiringRunning)
        } else if let Some(cause) = self.tripped {
            Some(PressError::Tripped(cause))
        } else if !self.has_programme {
            Some(PressError::NoProgramme)
        } else if !self.was_confirmed {
            Some(PressError::Unconfirmed)
        } else if stop {
            Some(PressError::StopPressed)
        } else {
            (!self.has_reading).then_some(PressError::NoReading)
        }
    }

    fn confirm(&self) -> Option<PressError> {
        if self.confirmed {
            None
        } else if let Some(cause) = self.tripped {
            Some(PressError::CausePersists(cause))
        } else if self.was_asked {
            None
        } else if !self.was_confirmed && !self.was_firing {
            Some(PressError::TooEarly)
        } else {
            Some(PressError::NothingToConfirm)
        }
    }
}
