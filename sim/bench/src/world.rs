//! The world around the firmware: plant, faults, clock, and the phase of the firing.

use saggar_core::TICK_MS;
use saggar_core::events::Ending;
use saggar_core::io::{ClosureContacts, Inputs, Outputs};
use saggar_core::programme::ProgrammeImage;
use saggar_core::units::Instant;
use saggar_plant::faults::{Fault, FaultInjector, FaultKind, FlashArea, MemoryFault};
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::piece::Piece;
use saggar_plant::plant::{ChamberDrive, ModelState, Plant};
use saggar_plant::spec::{FurnaceSpec, WorkSpec};
use saggar_plant::thermal::{NetworkError, TICK_S};
use saggar_plant::vacuum::ValvesAtRest;
use saggar_verdict::NotStarted;

/// Ticks between two rows of a trace, and two steps of the piece: one second.
const ROW_TICKS: u32 = 10;

/// Minimum and maximum number of rows after the end of a firing. After a trip the rows continue until
/// nothing more can happen to the piece.
const TAIL_ROWS: u32 = 30;
const TAIL_ROWS_MAX: u32 = 3_600;

/// Ticks at the beginning in which the chamber is still open, as somebody has just put the work in: the
/// core must have seen its contact open. Too short to cool or to move anything.
const LOADING_TICKS: u8 = 5;

/// Below this temperature no glass flows and nothing burns (°C).
const INERT_BELOW_C: f64 = 450.0;

/// The furnace and the piece.
#[derive(Clone)]
pub struct World {
    plant: Plant,
    faults: FaultInjector,
    now_ms: u64,
    /// How far the core's clock is ahead of that, after a fault of the clock (ms).
    clock_ahead_ms: i64,
    /// Flipped bits of the core's memory that the bench has not passed on yet.
    memory_faults: Vec<MemoryFault>,
    /// The same of the flash.
    flash_faults: Vec<FlashArea>,
    /// When start was pressed (ms).
    start_ms: Option<u64>,
    /// When the first firing with this work began: fault times count from then on.
    first_start_ms: Option<u64>,
    /// The furnace when start was pressed.
    furnace_at_start: Option<FurnaceState>,
    not_started: Option<NotStarted>,
    power_cuts: Vec<PowerCut>,
    ending: Option<Ending>,
    /// Ticks left in which the chamber is still open.
    loading: u8,
    ticks: u64,
    cycles_per_row: f64,
    /// Rows since the firing ended.
    tail: u32,
    row: RowTotals,
    piece_c: f64,
}

/// A power cut of a firing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PowerCut {
    /// When it came (s from the start button).
    pub at_s: f64,
    /// How long it lasted (s).
    pub length_s: f64,
}

/// Totals since the last row.
#[derive(Clone, Copy, Debug, Default)]
struct RowTotals {
    ticks: u32,
    /// True time (ticks): it differs if the core's clock is wrong.
    true_ticks: f64,
    cycles: u32,
    energy_j: f64,
}

/// The plant's totals of one second.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SecondTotals {
    /// Time since the start button (s).
    pub(crate) at_s: f64,
    /// Mean duty, 0 to 1.
    pub(crate) duty: f64,
    /// Energy from the mains (J).
    pub(crate) energy_j: f64,
    /// The modelled quantities.
    pub(crate) modelled: ModelState,
}

impl World {
    /// A cold furnace with the work in it.
    ///
    /// # Errors
    /// The furnace and the work do not form a valid thermal network.
    pub fn new(
        furnace: &FurnaceSpec,
        work: &WorkSpec,
        seed: u64,
        faults: Vec<Fault>,
    ) -> Result<Self, NetworkError> {
        let cold = FurnaceState::evenly_warm(furnace, furnace.ambient_c);
        Self::starting(furnace, work, seed, faults, &cold)
    }

    /// A furnace in this state, with the work in it, which is cold.
    ///
    /// # Errors
    /// The furnace and the work do not form a valid thermal network.
    pub fn starting(
        furnace: &FurnaceSpec,
        work: &WorkSpec,
        seed: u64,
        faults: Vec<Fault>,
        state: &FurnaceState,
    ) -> Result<Self, NetworkError> {
        Ok(Self {
            plant: Plant::starting(furnace, work, seed, state)?,
            faults: FaultInjector::new(faults),
            now_ms: 0,
            clock_ahead_ms: 0,
            memory_faults: Vec::new(),
            flash_faults: Vec::new(),
            start_ms: None,
            first_start_ms: None,
            furnace_at_start: None,
            not_started: None,
            power_cuts: Vec::new(),
            ending: None,
            loading: LOADING_TICKS,
            ticks: 0,
            // One row per second.
            cycles_per_row: f64::from(furnace.mains.hz),
            tail: 0,
            row: RowTotals::default(),
            piece_c: 0.0,
        })
    }

    /// Sets the time since power-up (ms).
    #[must_use]
    pub fn at_time(self, now_ms: u64) -> Self {
        Self { now_ms, ..self }
    }

    /// Lets a tick pass in which nothing moves; returns its time.
    pub(crate) const fn stand_still(&mut self) -> Instant {
        self.now_ms += TICK_MS as u64;
        Instant::from_millis(self.now_ms.saturating_add_signed(self.clock_ahead_ms))
    }

    /// Replaces the scheduled faults.
    pub(crate) fn with_faults(self, faults: Vec<Fault>) -> Self {
        Self { faults: self.faults.with_scheduled(faults), ..self }
    }

    /// Advances one tick under the controller's outputs; returns the time and the instrument readings.
    /// The buttons are left to the operator.
    #[inline]
    pub(crate) fn advance(&mut self, outputs: &Outputs) -> (Instant, Inputs) {
        if self.faults.any_pending_or_active() {
            self.let_faults_strike();
        }
        self.now_ms += u64::from(TICK_MS);
        self.row.energy_j += self.plant.tick(outputs, &self.faults);
        let mut inputs: Inputs = self.plant.sample_inputs(&self.faults);
        if self.loading > 0 {
            self.loading -= 1;
            inputs.closure = ClosureContacts::default();
        }
        if !self.faults.none_active() {
            self.faults.corrupt(self.faults_s(), &mut inputs);
        }
        (Instant::from_millis(self.now_ms.saturating_add_signed(self.clock_ahead_ms)), inputs)
    }

    /// Lets faults come and go in this tick.
    fn let_faults_strike(&mut self) {
        let effects = self.faults.activate_due(self.faults_s());
        self.now_ms += effects.late_ms;
        if effects.late_ms > 0 {
            self.plant.pass_mains(effects.late_ms as f64 / f64::from(TICK_MS));
        }
        self.clock_ahead_ms += effects.clock_jump_ms;
        if self.faults.condition().clock_stopped {
            self.clock_ahead_ms -= i64::from(TICK_MS);
        }
        self.memory_faults.extend(effects.memory);
        self.flash_faults.extend(effects.flash);
    }

    /// Adds this fault now, whatever the time at which it says to strike.
    pub fn inject(&mut self, fault: Fault) {
        self.faults.schedule(Fault { from_s: self.faults_s(), ..fault });
    }

    /// Mends every fault of this kind. Returns whether there was one.
    pub fn mend(&mut self, kind: FaultKind) -> bool {
        self.faults.mend(kind, self.faults_s())
    }

    /// The faults that are there.
    pub fn active_faults(&self) -> impl Iterator<Item = &Fault> {
        self.faults.active()
    }

    /// The faults that have struck and are not mended.
    pub fn standing_faults(&self) -> impl Iterator<Item = &Fault> {
        self.faults.standing(self.faults_s())
    }

    /// Takes the parts of the flash in which a bit has flipped, to be flipped by whoever has the flash.
    pub fn take_flash_faults(&mut self) -> Vec<FlashArea> {
        std::mem::take(&mut self.flash_faults)
    }

    /// Takes the flipped bits of the core's memory.
    pub(crate) fn take_memory_faults(&mut self) -> Vec<MemoryFault> {
        std::mem::take(&mut self.memory_faults)
    }

    /// Takes the mains away for this time (s), rounded to ticks and at least one: the controller is off,
    /// the contactor drops out, the lift or door stays, and the valves go to their rest positions. The
    /// furnace and the piece go on, and faults strike. The time since power-up counts on, so that
    /// times in a trace stay in order; the firmware that is booted afterwards is the caller's. Called again
    /// without a tick in between, it prolongs the cut.
    pub fn cut_power(&mut self, length_s: f64, rest: ValvesAtRest) {
        let now_s = self.now_s();
        let goes_on = |last: &&mut PowerCut| last.at_s + last.length_s > now_s - TICK_S / 2.0;
        match self.power_cuts.last_mut().filter(goes_on) {
            Some(last) => last.length_s += length_s,
            None => self.power_cuts.push(PowerCut { at_s: now_s, length_s }),
        }
        // The piece has not seen the ticks since the last whole second.
        self.plant.end_second(std::mem::take(&mut self.row.true_ticks) * TICK_S);
        let ticks = (length_s / TICK_S).round().max(1.0) as u64;
        for done in 1..=ticks {
            if self.faults.any_pending_or_active() {
                // Nothing is left of what happens to memory and clock.
                self.flash_faults.extend(self.faults.activate_due(self.faults_s()).flash);
            }
            self.now_ms += u64::from(TICK_MS);
            self.plant.tick_without_power(rest, &self.faults);
            let of_second = done % u64::from(ROW_TICKS);
            if of_second == 0 {
                self.plant.end_second(f64::from(ROW_TICKS) * TICK_S);
            } else if done == ticks {
                self.plant.end_second(of_second as f64 * TICK_S);
            }
        }
        self.piece_c = self.plant.model_state().piece_c;
    }

    /// Counts a tick. Returns whether a second is complete; the caller then calls [`Self::end_second`].
    #[inline]
    pub(crate) fn count_tick(&mut self, outputs: &Outputs) -> bool {
        self.row.ticks += 1;
        self.row.true_ticks += self.faults.condition().tick_length.unwrap_or(1.0);
        self.row.cycles += outputs.heater_cycles.count_ones();
        if self.start_ms.is_none() {
            return false;
        }
        self.ticks += 1;
        self.row.ticks >= ROW_TICKS
    }

    /// Begins a firing with the current tick, or records why it did not begin. Its time counts from this
    /// tick.
    pub(crate) fn start_firing(&mut self, not_started: Option<NotStarted>) {
        self.start_ms = Some(self.now_ms);
        self.first_start_ms.get_or_insert(self.now_ms);
        self.furnace_at_start = Some(self.plant.furnace_state());
        (self.not_started, self.ending) = (not_started, None);
        self.power_cuts.clear();
        (self.ticks, self.tail, self.row) = (0, 0, RowTotals::default());
    }

    /// Ends the firing and begins its tail.
    pub(crate) fn end_firing(&mut self, ending: Option<Ending>) {
        self.ending = ending;
    }

    /// Ends a second; `firing` says whether a step of the programme runs.
    pub(crate) fn end_second(&mut self, firing: bool) -> SecondTotals {
        let totals = std::mem::take(&mut self.row);
        self.plant.end_second(totals.true_ticks * TICK_S);
        let modelled = self.plant.model_state();
        self.piece_c = modelled.piece_c;
        self.tail += u32::from(!firing);
        SecondTotals {
            at_s: self.now_s(),
            duty: f64::from(totals.cycles) / self.cycles_per_row,
            energy_j: totals.energy_j,
            modelled,
        }
    }

    /// Whether the firing has ended and nothing more can happen to the piece.
    pub fn is_finished(&self) -> bool {
        self.tail >= TAIL_ROWS && (self.piece_c < INERT_BELOW_C || self.tail >= TAIL_ROWS_MAX)
    }

    /// Time since power-up (ms).
    pub const fn now_ms(&self) -> u64 {
        self.now_ms
    }

    /// Seconds since the start button.
    pub fn now_s(&self) -> f64 {
        (self.now_ms as f64 - self.start_ms.unwrap_or(self.now_ms) as f64) / 1000.0
    }

    /// Time since the first firing with this work began (s), from which fault times count; before that,
    /// only the faults that were there before the start are due.
    pub fn faults_s(&self) -> f64 {
        let Some(start_ms) = self.first_start_ms else {
            return Fault::BEFORE_START_S;
        };
        self.now_ms.saturating_sub(start_ms) as f64 / 1000.0
    }

    /// The power cuts of this firing, in order.
    pub fn power_cuts(&self) -> &[PowerCut] {
        &self.power_cuts
    }

    /// When the firing began (ms since power-up).
    pub const fn start_ms(&self) -> Option<u64> {
        self.start_ms
    }

    /// Whether a firing has begun, or a start was not accepted.
    pub const fn is_started(&self) -> bool {
        self.start_ms.is_some()
    }

    /// Why the firing did not begin.
    pub const fn not_started(&self) -> Option<NotStarted> {
        self.not_started
    }

    /// How the firing ended; `None` while it runs.
    pub const fn ending(&self) -> Option<Ending> {
        self.ending
    }

    /// Ticks since the start button.
    pub const fn ticks(&self) -> u64 {
        self.ticks
    }

    /// The inputs of the chamber in the last tick.
    pub fn drive(&self) -> ChamberDrive {
        self.plant.drive()
    }

    /// The state of the furnace, with what a following firing finds.
    pub fn furnace_state(&self) -> FurnaceState {
        self.plant.furnace_state()
    }

    /// The state of the furnace and the piece when start was pressed; the present one before that.
    pub fn furnace_at_start(&self) -> FurnaceState {
        self.furnace_at_start.unwrap_or_else(|| self.furnace_state())
    }

    /// The true state of the plant at the last whole second.
    pub fn modelled(&self) -> ModelState {
        self.plant.model_state()
    }

    /// The states of the pieces, one for each ring of places, the inner one first.
    pub fn pieces(&self) -> &[Piece] {
        self.plant.pieces()
    }
}

/// Highest setpoint of a programme (°C); `None` for one without a ramp.
pub(crate) fn setpoint_max_c(programme: &ProgrammeImage) -> Option<f64> {
    programme.setpoint_max_mc().map(|mc| f64::from(mc) / 1000.0)
}
