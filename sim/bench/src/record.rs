//! The trace of a firing: what every instrument, and the piece, went through.

use saggar_core::events::{Event, What};
use saggar_plant::plant::Modelled;

/// One row of a trace.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sample {
    /// Time since the start button (s).
    pub at_s: f64,
    /// Step of the programme, from 0; `None` outside a firing.
    pub step: Option<u8>,
    /// What the control follows (°C); `None` where no heat is asked for.
    pub setpoint_c: Option<f64>,
    /// The control channel as the core believes it (°C); `None` when faulty.
    pub sensor_c: Option<f64>,
    /// Mean temperature of the piece (°C). Only a rehearsal knows it.
    pub piece_c: f64,
    /// Hottest less coldest layer of the piece (K).
    pub piece_spread_k: f64,
    /// Temperature of the muffle (°C).
    pub muffle_c: f64,
    /// Temperature of the element (°C).
    pub element_c: f64,
    /// Heater duty, mean since the row before, 0 to 1.
    pub duty: f64,
    /// Absolute chamber pressure (Pa).
    pub pressure_pa: f64,
    /// Depth that the glass has reached (m).
    pub depth_m: f64,
    /// Water left, as a share of what there was.
    pub water_left: f64,
    /// Lubricant left, as a share of what there was.
    pub lubricant_left: f64,
    /// How far the lift or door is open, 0 to 1.
    pub opening: f64,
}

impl Sample {
    /// A row with what only a simulation knows.
    pub fn of(modelled: &Modelled) -> Self {
        let Modelled {
            piece_c,
            piece_spread_k,
            muffle_c,
            element_c,
            pressure_pa,
            depth_m,
            water_left,
            lubricant_left,
            opening,
        } = *modelled;
        Self {
            piece_c,
            piece_spread_k,
            muffle_c,
            element_c,
            pressure_pa,
            depth_m,
            water_left,
            lubricant_left,
            opening,
            ..Self::default()
        }
    }
}

/// A column of a trace: its name in files, its unit, and where it comes from.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// Name in files, with the unit as its last word.
    pub name: &'static str,
    /// The value in that unit; `None` where there is none.
    pub value: fn(&Sample) -> Option<f64>,
}

/// All columns, in the order of files.
pub const COLUMNS: [Column; 14] = [
    Column { name: "time_second", value: |s| Some(s.at_s) },
    Column { name: "step", value: |s| s.step.map(|step| f64::from(step) + 1.0) },
    Column { name: "setpoint_celsius", value: |s| s.setpoint_c },
    Column { name: "sensor_celsius", value: |s| s.sensor_c },
    Column { name: "piece_celsius", value: |s| Some(s.piece_c) },
    Column { name: "piece_spread_kelvin", value: |s| Some(s.piece_spread_k) },
    Column { name: "muffle_celsius", value: |s| Some(s.muffle_c) },
    Column { name: "element_celsius", value: |s| Some(s.element_c) },
    Column { name: "duty_percent", value: |s| Some(s.duty * 100.0) },
    Column { name: "pressure_hectopascal", value: |s| Some(s.pressure_pa / 100.0) },
    Column { name: "glass_depth_millimetre", value: |s| Some(s.depth_m * 1000.0) },
    Column { name: "water_left_percent", value: |s| Some(s.water_left * 100.0) },
    Column { name: "lubricant_left_percent", value: |s| Some(s.lubricant_left * 100.0) },
    Column { name: "opening_percent", value: |s| Some(s.opening * 100.0) },
];

/// A stretch of time in which one step of the programme ran.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Step of the programme, from 0.
    pub step: u8,
    /// Beginning (s since the start button).
    pub from_s: f64,
    /// End (s).
    pub to_s: f64,
}

/// The whole trace.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Record {
    /// One row a second.
    pub samples: Vec<Sample>,
    /// What happened.
    pub events: Vec<Event>,
    /// Energy from the mains (J).
    pub energy_j: f64,
}

impl Record {
    /// Length of the firing (s): from the start button to the event that ended it, or to the last
    /// row of a firing that has not ended.
    pub fn duration_s(&self) -> f64 {
        let ended = |event: &&Event| matches!(event.what, What::Ended(_));
        let ended_s = self.events.iter().find(ended).map(|e| e.at.millis() as f64 / 1000.0);
        let fired = || self.samples.iter().rfind(|sample| sample.step.is_some());
        ended_s.or_else(|| fired().map(|sample| sample.at_s)).unwrap_or(0.0)
    }

    /// Nobody can tell this trace from the other: the same events at the same times, and the same
    /// values in every cell of a file, to a millionth of their units.
    pub fn shows_the_same_as(&self, other: &Self) -> bool {
        let close = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => (a - b).abs() < 1e-6 || a.to_bits() == b.to_bits(),
            (None, None) => true,
            (Some(_), None) | (None, Some(_)) => false,
        };
        let same = |(a, b): (&Sample, &Sample)| {
            COLUMNS.iter().all(|column| close((column.value)(a), (column.value)(b)))
        };
        self.events == other.events
            && self.samples.len() == other.samples.len()
            && self.samples.iter().zip(&other.samples).all(same)
    }

    /// When each step ran, from the events.
    pub fn spans(&self) -> Vec<Span> {
        let end_s = self.samples.last().map_or(0.0, |sample| sample.at_s);
        let mut spans: Vec<Span> = Vec::new();
        for event in &self.events {
            let at_s = event.at.millis() as f64 / 1000.0;
            let step = match event.what {
                What::StepBegan(step) => Some(step),
                What::Ended(_) => None,
                What::Started
                | What::VacuumReached
                | What::Asked
                | What::Tripped(_)
                | What::Accepted => continue,
            };
            if let Some(open) = spans.last_mut().filter(|span| span.to_s.is_infinite()) {
                open.to_s = at_s;
            }
            spans.extend(step.map(|step| Span { step, from_s: at_s, to_s: f64::INFINITY }));
        }
        if let Some(open) = spans.last_mut().filter(|span| span.to_s.is_infinite()) {
            open.to_s = end_s;
        }
        spans
    }
}
