//! Changes data in memory as a flipped bit would, for tests of the guards only. Like a restore, this is
//! behind the feature `restore`, which no device firmware enables.

use super::Controller;
use crate::furnace::{Furnace, FurnaceGuard};
use crate::sequencer::FiringMemory;

impl Controller {
    /// Changes the furnace's data behind the back of their guard.
    pub fn corrupt_furnace(&mut self, change: impl FnOnce(&mut Furnace)) {
        change(&mut self.furnace);
    }

    /// Makes the guard take the present furnace data for those that were loaded, to show what happens
    /// without a guard.
    pub fn renew_furnace_guard(&mut self) {
        self.furnace_guard = FurnaceGuard::new(&self.furnace);
    }

    /// Flips a bit of the programme's bytes, counted from the first; wraps round at their end.
    pub fn corrupt_programme(&mut self, bit: u32) {
        if let Some(loaded) = &mut self.programme {
            loaded.image.flip_bit(bit);
        }
    }

    /// Changes the maximum setpoint (°C) that was derived from the programme when it was loaded.
    pub fn corrupt_setpoint_max(&mut self, change: impl FnOnce(&mut f32)) {
        if let Some(loaded) = &mut self.programme {
            change(&mut loaded.setpoint_max_c);
        }
    }

    /// Changes what a running firing keeps from one tick to the next.
    pub fn corrupt_firing(&mut self, change: impl FnOnce(FiringMemory<'_>)) {
        self.sequencer.corrupt_firing(change);
    }
}
