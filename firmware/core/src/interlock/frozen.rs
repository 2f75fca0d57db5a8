//! A front end that repeats one code.

use serde::Serialize;

use crate::io::ThermocoupleSample;

/// Seconds without a step of the converter that count, once something shows that the furnace has moved.
const FROZEN_S: u16 = 30;

/// Movement that shows it (K): of the other channel or of the setpoint, since the code stands still.
const MOVED_K: f32 = 5.0;

/// The same under heat while nothing moves, if both channels stand still: noise alone steps one of two
/// converters within this time (s).
const BOTH_FROZEN_S: u16 = 120;

/// The same for one channel (s). A coarse converter may repeat a code for minutes in a steady soak.
const STEADY_S: u16 = 600;

/// Watches the codes of one channel.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct CodeWatch {
    emf_nv: i32,
    /// The code differed from the one kept since the last check.
    stepped: bool,
    /// Seconds without a step.
    still_s: u16,
    /// The other channel and the setpoint (°C) when the code stepped last.
    other_c: Option<f32>,
    setpoint_c: Option<f32>,
}

impl CodeWatch {
    /// Takes one sample; a missing one changes nothing. After a step nothing is compared until the next
    /// check, so the code that is kept then may be one second old.
    pub(super) fn update(&mut self, sample: Option<&ThermocoupleSample>) {
        // The terminals do not count: they warm by themselves, and their steps would hide a voltage that
        // stands still.
        if !self.stepped
            && let Some(sample) = sample
            && sample.emf_nv != self.emf_nv
        {
            self.emf_nv = sample.emf_nv;
            self.stepped = true;
        }
    }

    /// Once a second: counts the seconds without a step.
    pub(super) fn check(&mut self, other_c: Option<f32>, setpoint_c: Option<f32>) {
        if self.stepped {
            self.still_s = 0;
            (self.other_c, self.setpoint_c) = (other_c, setpoint_c);
        } else {
            self.still_s = self.still_s.saturating_add(1);
            // What was not known at the last step counts from when it is.
            self.other_c = self.other_c.or(other_c);
            self.setpoint_c = setpoint_c.and(self.setpoint_c.or(setpoint_c));
        }
        self.stepped = false;
    }

    /// True if this channel is frozen, although the furnace has moved.
    pub(super) fn is_frozen(&self, other_c: Option<f32>, setpoint_c: Option<f32>) -> bool {
        self.still_s >= FROZEN_S
            && (has_moved(self.other_c, other_c) || has_moved(self.setpoint_c, setpoint_c))
    }

    /// True if this channel has stood still for so long under heat that it is frozen.
    pub(super) const fn is_frozen_steady(&self) -> bool {
        self.still_s >= STEADY_S
    }

    /// True if this channel has stood still for so long that both are frozen, if both have.
    pub(super) const fn may_be_frozen(&self) -> bool {
        self.still_s >= BOTH_FROZEN_S
    }

    /// True while the code has not moved for as long as it takes to be found.
    pub(super) const fn stands_still(&self) -> bool {
        self.still_s >= FROZEN_S
    }
}

fn has_moved(from_c: Option<f32>, to_c: Option<f32>) -> bool {
    matches!((from_c, to_c), (Some(from), Some(to)) if !((to - from).abs() < MOVED_K))
}
