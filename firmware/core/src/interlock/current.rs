//! The watch on the heater current.
//!
//! The current is compared with the cycles that were commanded, over windows of a second: the mean of
//! its square goes with their share. The limits leave room for a mains that is off by a tenth, and for a
//! sensor that is off by 5 %. One window may straddle a change that the sensor shows a tick late, so a
//! trip takes two.

use serde::Serialize;

use super::cause::Cause;
use super::counters::ConsecutiveCount;
use super::inputs::InterlockInputs;
use super::second::{Check, SECOND_TICKS, Second};
use crate::demand::SelfTestPhase;
use crate::furnace::Furnace;

/// Ticks for which current may flow without a command, or be missing under one.
const WRONG_TICKS: u16 = 10;

/// The same during the self-test, whose parts are short.
const SELF_TEST_TICKS: u16 = 3;

/// Most current, as a share of the expected one. A tenth more mains gives 1.1.
const MOST: f32 = 1.3;

/// Least current, as a share of the expected one, with which a firing goes on.
const LEAST: f32 = 0.6;

/// Current, as a share of the expected one, below which the heater counts as weak. A tenth less mains
/// gives 0.9; half-waves give 0.71.
const WEAK: f32 = 0.82;

/// Mean square above the expected one that proves nothing, as a share of that at full conduction.
const STRAY_SQUARE: f32 = 0.05;

/// Commanded share from which on too little current is judged.
const JUDGED_SHARE: f32 = 0.25;

/// Windows in a row for which the current must be low before the heater counts as weak: 10 s.
const WEAK_WINDOWS: u8 = 10;

/// State of the current watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct CurrentWatch {
    uncommanded: ConsecutiveCount,
    missing: ConsecutiveCount,
    /// Ticks of full conduction in the self-test with a wrong current.
    wrong: ConsecutiveCount,
    window: CurrentWindow,
    /// What the last window showed.
    suspected: Option<Cause>,
    weak_windows: u8,
}

/// Sums over a window.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct CurrentWindow {
    commanded: f32,
    /// There was current in one of its ticks.
    conducted: bool,
    /// Sum of the squared current (mA²).
    squares: f32,
}

impl CurrentWatch {
    /// Updates the watch with one tick and returns the cause that is present.
    pub(super) fn update(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        second: &Second,
    ) -> Option<Cause> {
        let firing = inputs.demand.firing;
        let conducts = conducts(furnace, inputs);
        if conducts {
            self.window.conducted = true;
            self.missing.clear();
        }
        if !firing {
            self.missing.clear();
            self.weak_windows = 0;
        }
        let commanded = inputs.commanded_duty > 0.0;
        let judged = if conducts != commanded || inputs.demand.self_test.is_some() {
            self.judge(furnace, conducts, inputs)
        } else {
            self.uncommanded.clear();
            None
        };
        // Without a current sensor there is no window.
        let full_ma = furnace.heater.full_current_ma?;
        // A tick without a reading would look like one without current.
        if let Some(ma) = inputs.raw.heater_current_ma {
            let ma = ma as f32;
            self.window.commanded += inputs.commanded_duty;
            self.window.squares += ma * ma;
        }
        if second.is_due(Check::Current) {
            judged.or(self.end_window(full_ma as f32))
        } else {
            judged
        }
    }

    /// The heater has carried less current than expected for a while in this firing, but enough to go
    /// on.
    pub(super) const fn is_weak(&self) -> bool {
        self.weak_windows >= WEAK_WINDOWS
    }

    /// Judges a tick in which current and command contradict each other, or one of the self-test. Not
    /// inlined, so that the other ticks carry nothing of it.
    #[inline(never)]
    fn judge(
        &mut self,
        furnace: &Furnace,
        conducts: bool,
        inputs: &InterlockInputs<'_>,
    ) -> Option<Cause> {
        let duty = inputs.commanded_duty;
        let test = inputs.demand.self_test;
        let patience = if test.is_some() { SELF_TEST_TICKS } else { WRONG_TICKS };
        self.uncommanded.update(conducts && !(duty > 0.0));
        if self.uncommanded.has_held_for(patience) {
            return Some(Cause::HeaterStuckOn);
        }
        let full_ma = furnace.heater.full_current_ma? as f32;
        // The least current that these cycles carry, squared, must count as conducting.
        let least_ma = LEAST * full_ma;
        let conducting_ma = furnace.heater.conducting_ma as f32;
        let must_conduct = duty * least_ma * least_ma >= conducting_ma * conducting_ma;
        // A tick that need not conduct neither proves nor clears anything.
        if must_conduct && !conducts && inputs.demand.firing {
            self.missing.update(true);
        }
        let fits = inputs.raw.heater_current_ma.is_some_and(|ma| {
            let share = ma as f32 / full_ma;
            (LEAST..=MOST).contains(&share)
        });
        self.wrong.update(test == Some(SelfTestPhase::FullCycles) && duty > 0.99 && !fits);
        if self.missing.has_held_for(patience) {
            Some(Cause::NoHeaterCurrent)
        } else if self.wrong.has_held_for(SELF_TEST_TICKS) {
            Some(Cause::HeaterCurrentWrong)
        } else {
            None
        }
    }

    /// Judges the window. Not inlined, so that the ticks between carry nothing of it.
    #[inline(never)]
    fn end_window(&mut self, full_ma: f32) -> Option<Cause> {
        let ended = core::mem::take(&mut self.window);
        let ticks = f32::from(SECOND_TICKS);
        let share = ended.commanded / ticks;
        let square = ended.squares / (ticks * full_ma * full_ma);
        self.count_weak(share, square);
        let shown = shown(share, square, ended.conducted);
        let before = core::mem::replace(&mut self.suspected, shown);
        shown.filter(|_| shown == before)
    }

    fn count_weak(&mut self, share: f32, square: f32) {
        if share < JUDGED_SHARE || self.is_weak() {
            return;
        }
        let weak = square < WEAK * WEAK * share;
        self.weak_windows = if weak { self.weak_windows.saturating_add(1) } else { 0 };
    }
}

/// True if the current sensor shows current.
pub(super) fn conducts(furnace: &Furnace, inputs: &InterlockInputs<'_>) -> bool {
    inputs.raw.heater_current_ma.is_some_and(|ma| ma >= furnace.heater.conducting_ma)
}

/// What a window shows whose commanded share and mean squared current are these, the latter as a share
/// of that at full conduction. Written so that NaN counts as wrong.
fn shown(share: f32, square: f32, conducted: bool) -> Option<Cause> {
    const MOST_SQUARE: f32 = MOST * MOST;
    if !(square <= MOST_SQUARE) {
        // Even an output stage that always conducts cannot carry that.
        Some(Cause::HeaterCurrentWrong)
    } else if !(square <= MOST_SQUARE * share + STRAY_SQUARE) {
        Some(Cause::HeaterStuckOn)
    } else if share >= JUDGED_SHARE && square < LEAST * LEAST * share {
        Some(if conducted { Cause::HeaterCurrentWrong } else { Cause::NoHeaterCurrent })
    } else {
        None
    }
}
