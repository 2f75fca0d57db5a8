//! What a programme amounts to, in a few figures.

use saggar_core::programme::{Action, ProgrammeImage, Timeline};
use serde::Serialize;

use saggar_files::hex;

/// What a programme amounts to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProgrammeSummary {
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

impl ProgrammeSummary {
    /// Sums up the steps of an image.
    pub fn of(image: &ProgrammeImage) -> Self {
        let actions = || image.steps().map(|step| step.action);
        let mut timeline = Timeline::new();
        let times = actions().map(|action| timeline.advance(&action));
        let deepest = image.steps().filter_map(|step| step.vacuum).min_by_key(|it| it.to_pa);
        Self {
            name: image.name().to_owned(),
            steps: image.len(),
            bytes: image.bytes().len(),
            digest: hex(&image.digest()),
            shortest_seconds: times.fold(0, u64::saturating_add) as f64 / 1e3,
            peak_celsius: image.setpoint_max_mc().map(|mc| f64::from(mc) / 1e3),
            vacuum: deepest.map(|stage| VacuumSummary {
                from_celsius: f64::from(stage.from_mc) / 1e3,
                to_hectopascal: f64::from(stage.to_pa) / 1e2,
            }),
            holds: actions().filter(|action| matches!(action, Action::Hold { .. })).count(),
            cools: actions().any(|action| matches!(action, Action::Cool { .. })),
        }
    }
}
