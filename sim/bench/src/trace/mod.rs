//! The trace of a firing: instrument readings and outputs, and in a simulation the true state of the
//! furnace and the piece. A rehearsal and a device have the same columns; those that a device cannot
//! know are empty.

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
    /// Time since the start button (s); for a device, since it booted.
    pub at_s: f64,
    /// The measured values.
    pub measured: Measurements,
    /// The modelled values; `None` for a device.
    pub modelled: Option<ModelState>,
}

/// Inputs, estimates and outputs of a controller.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Measurements {
    /// Number of the tick since the controller booted.
    pub tick: u64,
    /// Step of the programme, from 0; `None` outside a firing.
    pub step: Option<u8>,
    /// Setpoint of the control (°C); `None` while no heat is requested.
    pub setpoint_c: Option<f64>,
    /// The control channel as the core accepts it (°C); `None` when faulty. Without a core, from the
    /// sample.
    pub sensor_c: Option<f64>,
    /// The limit channel, from its sample (°C); `None` when faulty.
    pub limit_c: Option<f64>,
    /// Mean heater duty since the previous row, 0 to 1.
    pub duty: f64,
    /// Inputs of the row's last tick.
    pub inputs: Inputs,
    /// Outputs of the row's last tick.
    pub outputs: Outputs,
}

impl Row {
    /// Mean temperature of the piece (°C), where it is known.
    pub fn piece_c(&self) -> Option<f64> {
        self.modelled.map(|modelled| modelled.piece_c)
    }

    /// Chamber pressure (Pa): the true one where it is known, else the gauge reading.
    pub fn pressure_pa(&self) -> Option<f64> {
        let gauge = self.measured.inputs.pressure_pa.map(f64::from);
        self.modelled.map(|modelled| modelled.pressure_pa).or(gauge)
    }
}

/// The time span of one step of the programme.
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
    /// The events.
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

    /// Whether two firings are equal apart from their inputs: the same events at the same times, and the
    /// same values in every other column, to a millionth of the unit.
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

    /// The time span of each step, from the events.
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
                | EventKind::TripAccepted
                | EventKind::ChannelFailed(_)
                | EventKind::WaitIsLong(_)
                | EventKind::HeaterWeak
                | EventKind::ContactChecked
                | EventKind::FiringResumed(_)
                | EventKind::FiringDiscarded => continue,
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
