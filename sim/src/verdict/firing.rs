//! How the firing itself went: the findings that need no piece.

use saggar_core::sequencer::Ending;

use super::limits::{OVERSHOOT_MAX_K, PIECE_OVER_MAX_K};
use super::{Allowed, Detail, Finding, Outcome, Subject};
use crate::piece::PieceState;

/// Nothing is colder (°C).
const ABSOLUTE_ZERO_C: f64 = -273.15;

/// The hottest soak of a programme.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoakSummary {
    /// Its setpoint (°C).
    pub setpoint_c: f64,
    /// Largest distance of the sensor from the setpoint once the soak counted (K).
    pub deviation_k: f64,
    /// When that was (s).
    pub deviation_at_s: f64,
    /// The band that the programme asks for (K).
    pub band_k: f64,
    /// Sensor minus mean of the piece, averaged over the soak (K).
    pub sensor_minus_piece_k: f64,
    /// What the piece had at the least: its mean over the soak, or at the end of it (°C).
    pub piece_c: f64,
    /// Time since the soak counted (s).
    pub seconds: f64,
    /// Time that the way up takes for a kelvin (s/K).
    pub way_s_per_k: f64,
}

/// What the rig knows of a firing.
#[derive(Clone, Debug, PartialEq)]
pub struct FiringSummary {
    /// How it ended; `None` if it was still running when the record ends.
    pub ending: Option<Ending>,
    /// From start to end (s).
    pub duration_s: f64,
    /// Electrical energy (J).
    pub energy_j: f64,
    /// Highest reading of the control sensor (°C); below absolute zero if there was none.
    pub hottest_sensor_c: f64,
    /// When that was (s).
    pub hottest_sensor_at_s: f64,
    /// Highest setpoint of the programme (°C); `None` for one without a ramp.
    pub highest_setpoint_c: Option<f64>,
    /// The hottest soak; `None` for a programme without one.
    pub soak: Option<SoakSummary>,
    /// Class tolerance of the control sensor at the soak (K), as a limit and not as a
    /// deviation.
    pub sensor_tolerance_k: f64,
    /// What advice may ask for.
    pub allowed: Allowed,
}

pub(super) fn ending(firing: &FiringSummary) -> Finding {
    let outcome = match firing.ending {
        Some(Ending::Completed) => Outcome::Pass,
        Some(
            Ending::Stopped
            | Ending::Tripped(_)
            | Ending::Unanswered
            | Ending::BandLost
            | Ending::ClosureStuck
            | Ending::TooLong,
        )
        | None => Outcome::Fail,
    };
    let at_s = Some(firing.duration_s);
    Finding { outcome, ..Finding::note(Subject::Ending, firing.duration_s, at_s) }
        .with(Detail::Ending(firing.ending))
}

pub(super) fn course(piece: &PieceState, firing: &FiringSummary) -> Vec<Finding> {
    let hottest_at = Some(firing.hottest_sensor_at_s);
    let above = |c: f64, setpoint_c: f64| {
        let above = c - setpoint_c;
        // `max` would swallow a reading that is no number.
        if above < 0.0 { 0.0 } else { above }
    };
    let hot = piece.exposure.hottest;
    let hot_at = Some(hot.at_s);
    let read = firing.hottest_sensor_c;
    let mut found = vec![
        Finding::note(Subject::HottestSensor, read, hottest_at),
        Finding::note(Subject::HottestPiece, hot.value, hot_at),
    ];
    if let Some(setpoint_c) = firing.highest_setpoint_c {
        let (sensor, piece) = (above(read, setpoint_c), above(hot.value, setpoint_c));
        found.extend([
            Finding::at_most(Subject::Overshoot, sensor, OVERSHOOT_MAX_K, hottest_at),
            Finding::at_most(Subject::PieceOverSetpoint, piece, PIECE_OVER_MAX_K, hot_at),
        ]);
    }
    // A sensor that was never read has no hottest reading.
    if read < ABSOLUTE_ZERO_C {
        found.retain(|f| !matches!(f.subject, Subject::HottestSensor | Subject::Overshoot));
    }
    if let Some(soak) = &firing.soak {
        let at_s = Some(soak.deviation_at_s);
        found.push(Finding::at_most(Subject::SoakBand, soak.deviation_k, soak.band_k, at_s));
        found.push(Finding::note(Subject::SensorToPiece, soak.sensor_minus_piece_k, None));
    }
    found.push(Finding::note(Subject::Energy, firing.energy_j, None));
    found.push(Finding::note(Subject::Duration, firing.duration_s, None));
    found
}
