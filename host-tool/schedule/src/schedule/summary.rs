//! Size, duration and extremes of a programme.

use saggar_core::programme::{Action, ProgrammeImage, Timeline};
use serde::Serialize;

use saggar_files::hex;

/// Size, duration and extremes of a programme.
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
    /// Shortest duration (s): every ramp on time, no time for cooling, holds answered at once.
    pub shortest_seconds: f64,
    /// Highest setpoint (°C); `None` without a ramp.
    pub peak_celsius: Option<f64>,
    /// The vacuum stage with the lowest pressure.
    pub vacuum: Option<VacuumSummary>,
    /// Number of operator holds.
    pub holds: usize,
    /// It has a cooling step, whose duration is unknown.
    pub cools: bool,
}

/// The lowest pressure that a programme asks for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct VacuumSummary {
    /// Reading at which the pump starts (°C).
    pub from_celsius: f64,
    /// Pressure (hPa).
    pub to_hectopascal: f64,
}

impl ProgrammeSummary {
    /// Summarises the steps of an image.
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
