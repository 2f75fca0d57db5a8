//! All that surrounds a controller, whichever it is: plant, faults, clock, and the record.
//!
//! Who runs the controller decides how it hears of the instruments: directly, as a rehearsal
//! does, or through the registers of the parts on a board.

use saggar_core::TICK_MS;
use saggar_core::controller::Status;
use saggar_core::events::Event;
use saggar_core::furnace::Furnace;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::programme::Image;
use saggar_core::sequencer::Ending;
use saggar_core::units::Instant;

use super::{Firing, summary};
use crate::record::{Record, Sample};
use saggar_plant::faults::{Faults, Scheduled};
use saggar_plant::plant::{Drive, Plant};
use saggar_plant::spec::{FurnaceSpec, WorkSpec};
use saggar_plant::thermal::{NetworkError, TICK_S};
use saggar_plant::verdict::{self, Allowed, FiringSummary, NotBegun};

/// Ticks between two rows of a record, and two steps of the piece: one second.
const ROW_TICKS: u32 = 10;

/// The piece's time at the highest setpoint counts from this far below it (K).
const WATCH_BELOW_K: f64 = 10.0;

/// Rows recorded after a firing has ended, at least and at most: a firing that tripped is
/// followed until nothing more can happen to the piece.
const TAIL_ROWS: u32 = 30;
const TAIL_ROWS_MAX: u32 = 3_600;

/// Cooler than this nothing flows and nothing burns (°C).
const QUIET_C: f64 = 450.0;

/// The furnace, the piece, and what has been recorded of them.
pub struct World {
    plant: Plant,
    faults: Faults,
    sensor_tolerance_k: f64,
    allowed: Allowed,
    now_ms: u64,
    /// When the operator pressed start; until then the estimate settles.
    start_ms: Option<u64>,
    not_begun: Option<NotBegun>,
    ticks: u64,
    cycles_per_row: f64,
    /// Rows recorded since the firing ended.
    tail: u32,
    row: Row,
    record: Record,
    /// Largest tension of the piece in each step that began (Pa).
    tensions_pa: Vec<f64>,
}

/// What gathers between two rows.
#[derive(Clone, Copy, Debug, Default)]
struct Row {
    ticks: u32,
    cycles: u32,
    energy_j: f64,
}

impl World {
    /// A cold furnace with the work in it. `programme` is the one that will be fired: the piece
    /// counts its time near the highest setpoint. `device` is the furnace as its controller knows it:
    /// the verdict advises nothing that it would refuse.
    ///
    /// # Errors
    /// The furnace and the work make no network of masses and conductances.
    pub fn new(
        furnace: &FurnaceSpec,
        device: &Furnace,
        work: &WorkSpec,
        programme: &Image,
        seed: u64,
        faults: Vec<Scheduled>,
    ) -> Result<Self, NetworkError> {
        let highest_c = summary::highest_setpoint_c(programme).unwrap_or(f64::INFINITY);
        Ok(Self {
            plant: Plant::new(furnace, work, highest_c - WATCH_BELOW_K, seed)?,
            faults: Faults::new(faults),
            sensor_tolerance_k: furnace.control_sensor.tolerance_k,
            allowed: Allowed::by(device),
            now_ms: 0,
            start_ms: None,
            not_begun: None,
            ticks: 0,
            // A row is a second long.
            cycles_per_row: f64::from(furnace.mains.hz),
            tail: 0,
            row: Row::default(),
            record: Record::default(),
            tensions_pa: Vec::new(),
        })
    }

    /// The same at a later time after power-up (ms).
    pub fn later(self, now_ms: u64) -> Self {
        Self { now_ms, ..self }
    }

    /// The world a tick later, under what the controller asked for: the time, and what the
    /// instruments say. Buttons are the caller's.
    #[inline]
    pub fn advance(&mut self, outputs: &Outputs) -> (Instant, Inputs) {
        // Nothing breaks before the firing: its faults are counted from the start button on.
        let strikes = self.started() && self.faults.any();
        let late_ms = if strikes { self.faults.strike(self.now_s()) } else { 0 };
        self.now_ms += u64::from(TICK_MS) + late_ms;
        let watt = self.plant.tick(outputs, &self.faults);
        let mut inputs: Inputs = self.plant.inputs();
        if !self.faults.none() {
            self.faults.spoil(self.now_s(), &mut inputs);
        }
        self.row.energy_j += watt * TICK_S;
        (Instant::from_millis(self.now_ms), inputs)
    }

    /// What the controller answered: counts the tick, and says whether a row of the record is
    /// full. [`Self::end_row`] then writes it.
    #[inline]
    pub fn answered(&mut self, outputs: &Outputs) -> bool {
        self.row.ticks += 1;
        self.row.cycles += outputs.heater_cycles.count_ones();
        if self.start_ms.is_none() {
            return false;
        }
        self.ticks += 1;
        self.row.ticks >= ROW_TICKS
    }

    /// The operator presses start in the coming tick: the record begins.
    pub fn press_start(&mut self) {
        self.start_ms = Some(self.now_ms + u64::from(TICK_MS));
        self.row = Row::default();
    }

    /// The controller has not begun a firing though start was pressed.
    pub fn start_was_refused(&mut self, why: NotBegun) {
        self.not_begun = Some(why);
    }

    /// Writes a row, with what the controller shows and what it has told since the last one.
    pub fn end_row(&mut self, status: &Status, events: impl Iterator<Item = Event>) {
        let gathered = std::mem::take(&mut self.row);
        self.plant.second(f64::from(gathered.ticks) * TICK_S);
        let sample = Sample {
            at_s: self.now_s(),
            step: status.step,
            setpoint_c: status.setpoint.map(|setpoint| f64::from(setpoint.celsius)),
            sensor_c: status.reading_c.map(f64::from),
            duty: f64::from(gathered.cycles) / self.cycles_per_row,
            ..Sample::of(&self.plant.modelled())
        };
        if let Some(step) = status.step {
            self.note_tension(usize::from(step));
        }
        self.record.samples.push(sample);
        self.record.energy_j += gathered.energy_j;
        for mut event in events {
            let at = event.at.millis().saturating_sub(self.start_ms.unwrap_or(0));
            event.at = Instant::from_millis(at);
            self.record.events.push(event);
        }
        self.tail += u32::from(status.step.is_none());
    }

    fn note_tension(&mut self, step: usize) {
        let now_pa = self.plant.piece().stress.tension_now_pa;
        if self.tensions_pa.len() <= step {
            self.tensions_pa.resize(step + 1, 0.0);
        }
        if let Some(most) = self.tensions_pa.get_mut(step)
            && (now_pa > *most || now_pa.is_nan())
        {
            *most = now_pa;
        }
    }

    /// The firing has ended and its tail is recorded.
    pub fn told(&self) -> bool {
        let piece_c = self.record.samples.last().map_or(0.0, |row| row.piece_c);
        self.tail >= TAIL_ROWS && (piece_c < QUIET_C || self.tail >= TAIL_ROWS_MAX)
    }

    /// Time since power-up (ms).
    pub const fn now_ms(&self) -> u64 {
        self.now_ms
    }

    /// Seconds since the start button.
    pub fn now_s(&self) -> f64 {
        (self.now_ms as f64 - self.start_ms.unwrap_or(self.now_ms) as f64) / 1000.0
    }

    /// The start button has been pressed.
    pub const fn started(&self) -> bool {
        self.start_ms.is_some()
    }

    /// Ticks since the start button.
    pub const fn ticks(&self) -> u64 {
        self.ticks
    }

    /// What has been recorded.
    pub const fn record(&self) -> &Record {
        &self.record
    }

    /// At the beginning of a row.
    pub const fn row_begins(&self) -> bool {
        self.row.ticks == 0
    }

    /// What moved the chamber in the last tick.
    pub fn drive(&self) -> Drive {
        self.plant.drive()
    }

    /// What it comes to.
    pub fn finish(self, work: &WorkSpec, programme: &Image, ending: Option<Ending>) -> Firing {
        let (tolerance_k, allowed) = (self.sensor_tolerance_k, self.allowed);
        let (tensions_pa, not_begun) = (&self.tensions_pa, self.not_begun);
        let seen =
            summary::of(&self.record, programme, tolerance_k, allowed, tensions_pa, ending);
        let summary = FiringSummary { not_begun, ..seen };
        let piece = self.plant.piece().clone();
        let verdict = verdict::judge(work, &piece, &summary);
        Firing { record: self.record, piece, verdict, ending, not_begun, ticks: self.ticks }
    }
}
