//! What a programme amounts to, in a few figures.

use saggar_core::programme::{Action, Image, Timeline, VacuumStage};
use serde::Serialize;

use saggar_files::hex;

/// What a programme amounts to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Name.
    pub name: String,
    /// How many steps.
    pub steps: u8,
    /// Size (bytes).
    pub bytes: usize,
    /// SHA-256 of the bytes, hexadecimal.
    pub digest: String,
    /// Shortest duration (s): every ramp on time, no time to cool, no wait for an answer.
    pub shortest_seconds: f64,
    /// Highest setpoint (°C); `None` without a ramp.
    pub peak_celsius: Option<f64>,
    /// The deepest vacuum it asks for.
    pub vacuum: Option<VacuumSummary>,
    /// How many times it waits for the operator.
    pub holds: usize,
    /// It lets the chamber cool, which takes a time of its own.
    pub cools: bool,
}

/// A vacuum in a few figures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct VacuumSummary {
    /// From here (°C).
    pub from_celsius: f64,
    /// Pressure (hPa).
    pub to_hectopascal: f64,
}

impl Summary {
    /// Sums up the steps of an image.
    pub fn of(image: &Image) -> Self {
        let mut summary = Self {
            name: image.name().to_owned(),
            steps: image.len(),
            bytes: image.bytes().len(),
            digest: hex(&image.digest()),
            shortest_seconds: 0.0,
            peak_celsius: None,
            vacuum: None,
            holds: 0,
            cools: false,
        };
        let mut timeline = Timeline::start();
        let mut shortest_ms = 0u64;
        let mut deepest: Option<VacuumStage> = None;
        for step in image.steps() {
            shortest_ms = shortest_ms.saturating_add(timeline.pass(&step.action));
            summary.add(&step.action);
            if let Some(stage) = step.vacuum
                && deepest.is_none_or(|deepest| stage.to_pa < deepest.to_pa)
            {
                deepest = Some(stage);
            }
        }
        summary.shortest_seconds = shortest_ms as f64 / 1e3;
        summary.vacuum = deepest.map(|stage| VacuumSummary {
            from_celsius: f64::from(stage.from_mc) / 1e3,
            to_hectopascal: f64::from(stage.to_pa) / 1e2,
        });
        summary
    }

    fn add(&mut self, action: &Action) {
        match *action {
            Action::Ramp { to_mc, .. } => {
                let to = f64::from(to_mc) / 1e3;
                self.peak_celsius = Some(self.peak_celsius.map_or(to, |peak| peak.max(to)));
            }
            Action::Cool { .. } => self.cools = true,
            Action::Ask { .. } => self.holds += 1,
            Action::Soak { .. } | Action::Move { .. } => {}
        }
    }
}
