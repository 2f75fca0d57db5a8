//! Checks that the data in memory are still those that were loaded: piece by piece in every tick, and
//! all at once before something begins that depends on them.

use super::{Controller, LoadedProgramme};
use crate::demand::Demand;
use crate::sequencer::SequencerState;

impl LoadedProgramme {
    /// Checks one more byte of the programme, and what was derived from it.
    pub(super) fn check_next(&mut self) -> bool {
        self.guard.check_next_byte(&self.image) && self.setpoint_max_is_intact()
    }

    /// Checks the whole programme. Returns false, from then on, once a change has been found.
    #[cold]
    pub(super) fn check_whole(&mut self) -> bool {
        self.guard.check_all(&self.image) && self.setpoint_max_is_intact()
    }

    const fn setpoint_max_is_intact(&self) -> bool {
        self.setpoint_max_c.to_bits() == !self.setpoint_max_inverted
    }
}

impl Controller {
    /// Checks the next piece of the programme and of the furnace's data: whether each of them is what was
    /// loaded.
    pub(super) fn check_next_data(&mut self) -> (bool, bool) {
        let furnace_intact = self.furnace_guard.check_next_group(&self.furnace);
        let programme_intact = self.programme.as_mut().is_none_or(LoadedProgramme::check_next);
        (programme_intact && self.firing_is_intact(), furnace_intact)
    }

    /// True if the whole of the furnace's data and of the programme is what was loaded. What is found
    /// here trips in the next tick.
    pub(super) fn check_all_data(&mut self) -> bool {
        // Both, so that each remembers what it found.
        let furnace_intact = self.furnace_guard.check_all(&self.furnace);
        self.check_whole_programme() && furnace_intact
    }

    /// True if the whole programme is what was loaded, or none is loaded.
    pub(super) fn check_whole_programme(&mut self) -> bool {
        self.programme.as_mut().is_none_or(LoadedProgramme::check_whole)
    }

    /// True while what a running firing keeps is what the last tick left. The setpoint is checked in every
    /// tick, the step once in each pass over the furnace's data: until then a wrong one moves the setpoint
    /// by a few kelvin.
    fn firing_is_intact(&self) -> bool {
        self.sequencer.setpoint_is_intact()
            && (!self.furnace_guard.is_between_passes() || self.sequencer.step_is_intact())
    }

    /// Takes back a command to open the chamber if the data that led to it have changed. Without a firing
    /// there is no such command, except for a chamber that is found open at power-up and stays so.
    pub(super) fn check_before_opening(&mut self, demand: &mut Demand, is_open: bool) {
        if !demand.open_closure || self.previous.outputs.open_closure {
            return;
        }
        let may_open = if demand.firing {
            self.sequencer.step_is_intact() && self.check_all_data()
        } else {
            is_open
        };
        if !may_open {
            demand.open_closure = false;
            self.sequencer.keep_shut();
        }
    }

    /// Whether the vent may open, by what its data say. Without a firing the programme decides nothing.
    pub(super) fn check_before_vent(&mut self, demand: &Demand) -> bool {
        self.furnace_guard.check_all(&self.furnace)
            && (!demand.firing || self.check_whole_programme())
    }

    /// Checks the whole programme when a step begins, so that none is run that has changed since it was
    /// loaded.
    pub(super) fn check_at_step(&mut self) {
        let step = match self.sequencer.state() {
            SequencerState::Running(firing) => Some(firing.step_index()),
            SequencerState::Idle | SequencerState::Ended(_) => None,
        };
        if step.is_some() && step != self.previous.reported.step {
            self.check_whole_programme();
        }
    }
}
