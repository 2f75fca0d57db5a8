//! Whether the pump keeps the pressure that it has reached. A pump that dies while its valve is open
//! lets air, and oil, back into the chamber.

use serde::Serialize;

/// Ticks in a row with a risen pressure that count: half a second.
const RISEN_TICKS: u8 = 5;

/// Ticks within which a second try must bring the pressure back below its limit: 10 s.
const COME_BACK_TICKS: u8 = 100;

/// The pressure while the pump draws, from the opening of its valve on.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct PressureHold {
    /// Minimum since the pump was asked for (Pa); `None` before the first reading.
    min_pa: Option<u32>,
    /// Ticks in a row with a risen pressure.
    risen: u8,
    /// The valve was shut once because the pressure rose.
    retried: bool,
    /// Ticks left of the second try, and the pressure at its beginning (Pa).
    come_back: u8,
    reopened_pa: u32,
    lost: bool,
}

/// How far the pressure may rise.
#[derive(Clone, Copy, Debug)]
pub(super) enum Allowance {
    /// Above the minimum: in a hot chamber nothing is left that gives off vapour.
    Dry,
    /// Above the pressure that is asked for (Pa), and farther: a load that dries gives off vapour in
    /// gusts.
    Wet {
        /// The pressure that is asked for.
        to_pa: u32,
    },
}

impl PressureHold {
    /// Processes one tick in which the valve is open; returns true if it must shut at once.
    pub(super) fn update(&mut self, pressure_pa: Option<u32>, allowance: Allowance) -> bool {
        let Some(pa) = pressure_pa else { return false };
        let risen = self.min_pa.is_some_and(|min_pa| pa > allowance.limit_pa(min_pa));
        if self.come_back > 0 {
            if self.come_back == COME_BACK_TICKS {
                self.reopened_pa = pa;
            }
            self.come_back = if risen { self.come_back.saturating_sub(1) } else { 0 };
            // It has to fall now: there is no use in waiting while it rises.
            let rises = pa > Allowance::Dry.limit_pa(self.reopened_pa);
            self.risen = if rises { self.risen.saturating_add(1) } else { 0 };
            self.lost = risen && (self.come_back == 0 || self.risen >= RISEN_TICKS);
            return self.lost;
        }
        if !risen {
            self.min_pa = Some(self.min_pa.map_or(pa, |min_pa| min_pa.min(pa)));
            self.risen = 0;
            return false;
        }
        self.risen = self.risen.saturating_add(1);
        if self.risen < RISEN_TICKS {
            return false;
        }
        self.risen = 0;
        // One more try: a gust of vapour passes, a dead pump does not come back.
        self.lost = core::mem::replace(&mut self.retried, true);
        self.come_back = COME_BACK_TICKS;
        true
    }

    /// The second try has failed.
    pub(super) const fn is_lost(&self) -> bool {
        self.lost
    }
}

impl Allowance {
    const fn limit_pa(self, min_pa: u32) -> u32 {
        match self {
            Self::Dry => min_pa.saturating_add(min_pa / 4).saturating_add(500),
            Self::Wet { to_pa } => {
                let base_pa = if min_pa > to_pa { min_pa } else { to_pa };
                base_pa.saturating_add(base_pa / 2).saturating_add(1000)
            }
        }
    }
}
