//! The trace of a firing: what every instrument said and every output did, and in a simulation what
//! the furnace and the piece went through. A rehearsal and a device have the same columns; what a
//! device cannot know is empty.

mod columns;
mod meter;

use saggar_core::events::{Event, EventKind};
use saggar_core::io::{Inputs, Outputs};
use saggar_plant::plant::ModelState;

pub use columns::{COLUMNS, Column};
pub use meter::MeasurementReader;

/// One row of a trace.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Row {
    /// Time since the start button (s); of a device, since it came up.
    pub at_s: f64,
    /// What a controller knows.
    pub measured: Measurements,
    /// What only a simulation knows.
    pub modelled: Option<ModelState>,
}

/// What a controller was told, believed and did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Measurements {
    /// Number of the tick, since the controller came up.
    pub tick: u64,
    /// Step of the programme, from 0; `None` outside a firing.
    pub step: Option<u8>,
    /// What the control follows (°C); `None` where no heat is asked for.
    pub setpoint_c: Option<f64>,
    /// The control channel as the core believes it (°C); `None` when faulty. Where no core runs, as the
    /// sample says.
    pub sensor_c: Option<f64>,
    /// The limit channel as its sample says (°C); `None` when faulty.
    pub limit_c: Option<f64>,
    /// Heater duty, mean since the row before, 0 to 1.
    pub duty: f64,
    /// All that it was told in the row's last tick.
    pub inputs: Inputs,
    /// All that it answered.
    pub outputs: Outputs,
}

impl Row {
    /// Mean temperature of the piece (°C), where it is known.
    pub fn piece_c(&self) -> Option<f64> {
        self.modelled.map(|modelled| modelled.piece_c)
    }

    /// Chamber pressure (Pa): the true one where it is known, else what the gauge says.
    pub fn pressure_pa(&self) -> Option<f64> {
        let gauge = self.measured.inputs.pressure_pa.map(f64::from);
        self.modelled.map(|modelled| modelled.pressure_pa).or(gauge)
    }
}

/// A stretch of time in which one step of the programme ran.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepSpan {
    /// Step of the programme, from 0.
    pub step: u8,
    /// Beginning (s since the start button).
    pub from_s: f64,
    /// End (s).
    pub to_s: f64,
}

/// The whole trace.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// One row a second.
    pub rows: Vec<Row>,
    /// What happened.
    pub events: Vec<Event>,
    /// Energy from the mains (J).
    pub energy_j: f64,
}

impl Trace {
    /// Length of the firing (s): from the start button to the event that ended it, or to the last
    /// row of a firing that has not ended.
    pub fn duration_s(&self) -> f64 {
        let ended = |event: &&Event| matches!(event.kind, EventKind::FiringEnded(_));
        let ended_s = self.events.iter().find(ended).map(|e| e.at.millis() as f64 / 1000.0);
        let fired = || self.rows.iter().rfind(|row| row.measured.step.is_some());
        ended_s.or_else(|| fired().map(|row| row.at_s)).unwrap_or(0.0)
    }

    /// Nothing came of whatever the two firings were told differently: the same events at the same
    /// times, and the same values in every cell of a file but those of the inputs, to a millionth of
    /// their units.
    pub fn has_same_effects_as(&self, other: &Self) -> bool {
        let close = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => (a - b).abs() < 1e-6 || a.to_bits() == b.to_bits(),
            (None, None) => true,
            (Some(_), None) | (None, Some(_)) => false,
        };
        let same = |(a, b): (&Row, &Row)| {
            let mut columns = COLUMNS.iter().filter(|column| !column.is_input);
            columns.all(|column| close((column.value)(a), (column.value)(b)))
        };
        self.events == other.events
            && self.rows.len() == other.rows.len()
            && self.rows.iter().zip(&other.rows).all(same)
    }

    /// When each step ran, from the events.
    pub fn spans(&self) -> Vec<StepSpan> {
        let end_s = self.rows.last().map_or(0.0, |row| row.at_s);
        let mut spans: Vec<StepSpan> = Vec::new();
        for event in &self.events {
            let at_s = event.at.millis() as f64 / 1000.0;
            let step = match event.kind {
                EventKind::StepStarted(step) => Some(step),
                EventKind::FiringEnded(_) => None,
                EventKind::FiringStarted
                | EventKind::VacuumReached
                | EventKind::HoldStarted
                | EventKind::Tripped(_)
                | EventKind::TripAccepted => continue,
            };
            if let Some(open) = spans.last_mut().filter(|span| span.to_s.is_infinite()) {
                open.to_s = at_s;
            }
            spans.extend(step.map(|step| StepSpan { step, from_s: at_s, to_s: f64::INFINITY }));
        }
        if let Some(open) = spans.last_mut().filter(|span| span.to_s.is_infinite()) {
            open.to_s = end_s;
        }
        spans
    }
}
