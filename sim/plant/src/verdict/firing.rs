//! How the firing itself went: the findings that need no piece.

use saggar_core::Cause;
use saggar_core::sequencer::Ending;

use super::limits::{OVERSHOOT_MAX_K, PIECE_OVER_MAX_K};
use super::{Allowed, Detail, Finding, Outcome, StepStress, Subject};
use crate::constants::KELVIN;
use crate::piece::PieceState;

/// A soak that began.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoakSummary {
    /// Its step of the programme, from 0.
    pub step: u8,
    /// Its setpoint (°C).
    pub setpoint_c: f64,
    /// The band that the programme asks for (K).
    pub band_k: f64,
    /// Time that the way to the setpoint takes for a kelvin (s/K).
    pub way_s_per_k: f64,
    /// How far the sensor rose above the setpoint after it had arrived there (K), 0 if it did not.
    pub overshoot_k: f64,
    /// When that was (s).
    pub overshoot_at_s: f64,
    /// What it was since it first counted; `None` if the sensor never came inside the band.
    pub counted: Option<Counted>,
    /// Where the sensor was when it was outside the band; `None` if it was inside all the time.
    pub outside: Option<Outside>,
}

/// A soak from the moment at which the sensor first was inside its band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counted {
    /// Largest distance of the sensor from the setpoint (K).
    pub deviation_k: f64,
    /// When that was (s).
    pub deviation_at_s: f64,
    /// Sensor minus mean of the piece, averaged (K).
    pub sensor_minus_piece_k: f64,
    /// What the piece had at the least: its mean, or at the end (°C).
    pub piece_c: f64,
    /// Lowest pressure of the chamber (Pa).
    pub lowest_pa: f64,
    /// How long it was (s).
    pub seconds: f64,
}

/// A sensor outside the band of a soak.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outside {
    /// Its farthest reading from the setpoint, on the side on which it was for longer (K):
    /// positive above the setpoint.
    pub away_k: f64,
    /// When that was (s).
    pub at_s: f64,
}

/// Why a press on start began no firing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotBegun {
    /// An interlock had tripped before.
    Tripped(Cause),
    /// The control sensor gave no reading that the controller believes.
    NoReading,
}

/// What the rig knows of a firing.
#[derive(Clone, Debug, PartialEq)]
pub struct FiringSummary {
    /// How it ended; `None` if it was still running when the record ends.
    pub ending: Option<Ending>,
    /// Why it did not begin; `None` if it did.
    pub not_begun: Option<NotBegun>,
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
    /// The soaks that began, in order.
    pub soaks: Vec<SoakSummary>,
    /// The step of the programme's hottest soak, the first of equals; `None` if it has none.
    pub hottest_soak: Option<u8>,
    /// The steps that moved the temperature, with the tension in each.
    pub stresses: Vec<StepStress>,
    /// Class tolerance of the control sensor at the soak (K), as a limit and not as a
    /// deviation.
    pub sensor_tolerance_k: f64,
    /// What advice may ask for.
    pub allowed: Allowed,
}

impl FiringSummary {
    /// The programme's hottest soak, if it counted.
    pub(super) fn hottest(&self) -> Option<(&SoakSummary, &Counted)> {
        let hottest = self.soaks.iter().find(|soak| Some(soak.step) == self.hottest_soak)?;
        Some((hottest, hottest.counted.as_ref()?))
    }

    /// The soak that ended the firing because it lost its band.
    fn lost(&self) -> Option<(&SoakSummary, &Outside)> {
        let last = self.soaks.last().filter(|_| self.ending == Some(Ending::BandLost))?;
        Some((last, last.outside.as_ref()?))
    }
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
    let lost = firing.lost();
    let detail = Detail::Ending {
        ending: firing.ending,
        not_begun: firing.not_begun,
        lost: lost.map(|(soak, outside)| LostSoak {
            setpoint_c: soak.setpoint_c,
            band_k: soak.band_k,
            outside: *outside,
        }),
    };
    Finding {
        outcome,
        step: lost.map(|(soak, _)| soak.step),
        ..Finding::note(Subject::Ending, firing.duration_s, at_s)
    }
    .with(detail)
}

/// The soak whose band was lost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LostSoak {
    /// Its setpoint (°C).
    pub setpoint_c: f64,
    /// Its band (K).
    pub band_k: f64,
    /// Where the sensor was.
    pub outside: Outside,
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
        found.extend(overshoot(firing, sensor));
        found.push(Finding::at_most(
            Subject::PieceOverSetpoint,
            piece,
            PIECE_OVER_MAX_K,
            hot_at,
        ));
    }
    // A sensor that was never read has no hottest reading.
    if read < -KELVIN {
        found.retain(|f| !matches!(f.subject, Subject::HottestSensor | Subject::Overshoot));
    }
    found.extend(soak_band(firing));
    if let Some((soak, counted)) = firing.hottest() {
        let apart = Finding::note(Subject::SensorToPiece, counted.sensor_minus_piece_k, None);
        found.push(Finding { step: Some(soak.step), ..apart });
    }
    found.push(Finding::note(Subject::Energy, firing.energy_j, None));
    found.push(Finding::note(Subject::Duration, firing.duration_s, None));
    found
}

/// The worst overshoot: that of a soak, or of the hottest reading over the highest setpoint, where
/// no soak need be.
fn overshoot(firing: &FiringSummary, over_highest_k: f64) -> Option<Finding> {
    let of_soaks = firing.soaks.iter().map(|soak| {
        let limit = OVERSHOOT_MAX_K.max(soak.band_k);
        let at_s = Some(soak.overshoot_at_s);
        let found = Finding::at_most(Subject::Overshoot, soak.overshoot_k, limit, at_s);
        Finding { step: Some(soak.step), ..found }
    });
    // A soak at the highest setpoint says how far the work bears to be above it.
    let is_highest = |soak: &&SoakSummary| {
        firing.highest_setpoint_c.is_some_and(|highest_c| soak.setpoint_c >= highest_c)
    };
    let bands = firing.soaks.iter().filter(is_highest).map(|soak| soak.band_k);
    let limit = bands.fold(OVERSHOOT_MAX_K, f64::max);
    let at_s = Some(firing.hottest_sensor_at_s);
    let of_all = Finding::at_most(Subject::Overshoot, over_highest_k, limit, at_s);
    worst(of_soaks.chain([of_all])).map(|found| {
        // Nothing rose above anything: there is no moment and no stage to name.
        if found.measured <= 0.0 { Finding { at_s: None, step: None, ..found } } else { found }
    })
}

/// The soak that was farthest from its setpoint for its band.
fn soak_band(firing: &FiringSummary) -> Option<Finding> {
    let lost = firing.lost().map(|(soak, outside)| (soak, outside.away_k.abs(), outside.at_s));
    let counted = firing.soaks.iter().filter_map(|soak| {
        soak.counted.map(|counted| (soak, counted.deviation_k, counted.deviation_at_s))
    });
    worst(counted.chain(lost).map(|(soak, away_k, at_s)| {
        let found = Finding::at_most(Subject::SoakBand, away_k, soak.band_k, Some(at_s));
        Finding { step: Some(soak.step), ..found }
    }))
}

/// The finding that uses up most of its limit, the first of equals; one that is no number is worst.
fn worst(findings: impl Iterator<Item = Finding>) -> Option<Finding> {
    findings.reduce(|worst, next| {
        let beyond = next.margin < worst.margin;
        let unknown = next.margin.is_nan() && !worst.margin.is_nan();
        if beyond || unknown { next } else { worst }
    })
}
