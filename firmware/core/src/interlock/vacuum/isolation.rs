//! Whether the isolation valve is shut while the pump runs against it.

use serde::Serialize;

/// Readings in a mean, so that the noise of the gauge is halved.
const MEAN_OF: u32 = 4;

/// Ticks of pumping against the shut valve after which the first and the last mean are complete. The
/// first leaves the valve half a second to shut.
const FIRST: u8 = 8;
const LAST: u8 = 20;

/// Fall between the two means that only an open valve explains: this share, and this much (Pa). A shut
/// chamber that cools by a kelvin a second loses a thousandth of its pressure a second.
const FALL_SHARE: u32 = 100;
const FALL_PA: u32 = 300;

/// The pressure while the pump runs and the isolation valve is commanded shut.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct IsolationWatch {
    ticks: u8,
    /// Sums of readings (Pa).
    first_pa: u32,
    last_pa: u32,
}

impl IsolationWatch {
    /// Processes one tick; `alone` means that the pump runs with its valve commanded shut. Returns true
    /// if the pressure falls all the same.
    pub(super) fn update(&mut self, alone: bool, pressure_pa: Option<u32>) -> bool {
        if !alone {
            self.ticks = 0;
            return false;
        }
        self.update_alone(pressure_pa)
    }

    /// Not inlined, so that the other ticks carry nothing of it.
    #[inline(never)]
    fn update_alone(&mut self, pressure_pa: Option<u32>) -> bool {
        let Some(pa) = pressure_pa else {
            self.ticks = 0;
            return false;
        };
        if self.ticks == 0 {
            (self.first_pa, self.last_pa) = (0, 0);
        }
        self.ticks = self.ticks.saturating_add(1);
        match self.ticks {
            5..=FIRST => self.first_pa = self.first_pa.saturating_add(pa),
            17..=LAST => self.last_pa = self.last_pa.saturating_add(pa),
            _ => {}
        }
        let allowed_pa = (self.first_pa / FALL_SHARE).saturating_add(FALL_PA * MEAN_OF);
        self.ticks == LAST && self.first_pa.saturating_sub(self.last_pa) > allowed_pa
    }
}
