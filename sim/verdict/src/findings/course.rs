//! Findings about the firing itself, independent of the work.

use saggar_core::events::Ending;

use super::finding::{Finding, Outcome};
use super::limits::{OVERSHOOT_MAX_K, PIECE_OVER_MAX_K};
use super::subject::Subject;
use super::summary::{FiringSummary, Interruption, LostSoak, SoakSummary};
use saggar_plant::constants::KELVIN;
use saggar_plant::piece::Piece;

pub(super) fn ending(firing: &FiringSummary) -> Finding {
    let outcome = match firing.ending {
        Some(Ending::Completed) => Outcome::Pass,
        Some(
            Ending::Stopped
            | Ending::Tripped(_)
            | Ending::Unanswered
            | Ending::BandLost
            | Ending::TooLong,
        )
        | None => Outcome::Fail,
    };
    let lost = firing.lost();
    let subject = Subject::Ending {
        ending: firing.ending,
        not_started: firing.not_started,
        after_cut: !firing.interruptions.is_empty(),
        lost: lost.map(|(soak, outside)| LostSoak {
            setpoint_c: soak.setpoint_c,
            band_k: soak.band_k,
            excursion: *outside,
        }),
    };
    let at_s = Some(firing.duration_s);
    let step = lost.map(|(soak, _)| soak.step);
    Finding { outcome, step, ..Finding::note(subject, firing.duration_s, at_s) }
}

/// Each power cut marks the piece, whatever the other findings say.
pub(super) fn interruptions(firing: &FiringSummary) -> Vec<Finding> {
    let each = |cut: &Interruption| {
        let found = Finding::note(Subject::Interruption(*cut), cut.fall_k, Some(cut.at_s));
        Finding { step: Some(cut.step), ..found }
    };
    firing.interruptions.iter().map(each).collect()
}

/// Longest time for which a piece goes on warming after the heat went off (s).
const PIECE_LAG_S: f64 = 120.0;

pub(super) fn course(piece: &Piece, firing: &FiringSummary) -> Vec<Finding> {
    let hottest_at = Some(firing.sensor_max_at_s);
    let above = |c: f64, setpoint_c: f64| {
        let above = c - setpoint_c;
        // `max` would turn NaN into 0.
        if above < 0.0 { 0.0 } else { above }
    };
    let hot = piece.hottest;
    let hot_at = Some(hot.at_s);
    let read = firing.sensor_max_c;
    let mut found = vec![
        Finding::note(Subject::SensorMax, read, hottest_at),
        Finding::note(Subject::PieceMax, hot.value, hot_at),
    ];
    if let Some(setpoint_c) = firing.setpoint_max_c {
        let (sensor, piece) = (above(read, setpoint_c), above(hot.value, setpoint_c));
        found.extend(overshoot(firing, sensor));
        found.push(Finding::at_most(
            Subject::PieceOverSetpoint {
                after_firing: hot.at_s > firing.duration_s + PIECE_LAG_S,
            },
            piece,
            PIECE_OVER_MAX_K,
            hot_at,
        ));
    }
    // A sensor that was never read has no maximum.
    if read < -KELVIN {
        found.retain(|f| !matches!(f.subject, Subject::SensorMax | Subject::Overshoot));
    }
    found.extend(soak_band(firing));
    if let Some((soak, counted)) = firing.hottest() {
        let apart = Finding::note(Subject::SensorToPiece, counted.sensor_minus_piece_k, None);
        found.push(Finding { step: Some(soak.step), ..apart });
    }
    found.push(Finding::note(Subject::Energy, firing.energy_j, None));
    found.push(duration(firing));
    found
}

/// The duration, with the ramp that was the latest.
fn duration(firing: &FiringSummary) -> Finding {
    let late = firing.late_ramps.iter().copied();
    let latest = late.reduce(|a, b| if b.late_s() > a.late_s() { b } else { a });
    let step = latest.map(|ramp| ramp.step);
    let subject = Subject::Duration { latest };
    Finding { step, ..Finding::note(subject, firing.duration_s, None) }
}

/// The worst overshoot: that of a soak, or of the hottest reading over the highest setpoint, even if
/// there is no soak.
fn overshoot(firing: &FiringSummary, over_highest_k: f64) -> Option<Finding> {
    let of_soaks = firing.soaks.iter().map(|soak| {
        let limit = OVERSHOOT_MAX_K.max(soak.band_k);
        let at_s = Some(soak.overshoot_at_s);
        let found = Finding::at_most(Subject::Overshoot, soak.overshoot_k, limit, at_s);
        Finding { step: Some(soak.step), ..found }
    });
    // The band of a soak at the highest setpoint says how much overshoot the work tolerates.
    let is_highest = |soak: &&SoakSummary| {
        firing.setpoint_max_c.is_some_and(|highest_c| soak.setpoint_c >= highest_c)
    };
    let bands = firing.soaks.iter().filter(is_highest).map(|soak| soak.band_k);
    let limit = bands.fold(OVERSHOOT_MAX_K, f64::max);
    let at_s = Some(firing.sensor_max_at_s);
    let of_all = Finding::at_most(Subject::Overshoot, over_highest_k, limit, at_s);
    worst(of_soaks.chain([of_all])).map(|found| {
        // Without an overshoot there is no time and no stage to name.
        if found.measured <= 0.0 { Finding { at_s: None, step: None, ..found } } else { found }
    })
}

/// The soak with the largest deviation relative to its band.
fn soak_band(firing: &FiringSummary) -> Option<Finding> {
    let lost =
        firing.lost().map(|(soak, outside)| (soak, outside.deviation_k.abs(), outside.at_s));
    let counted = firing.soaks.iter().filter_map(|soak| {
        soak.effective.map(|counted| (soak, counted.deviation_k, counted.deviation_at_s))
    });
    worst(counted.chain(lost).map(|(soak, away_k, at_s)| {
        let found = Finding::at_most(Subject::SoakBand, away_k, soak.band_k, Some(at_s));
        Finding { step: Some(soak.step), ..found }
    }))
}

/// The finding with the smallest margin, the first of equals; NaN counts as the worst.
fn worst(findings: impl Iterator<Item = Finding>) -> Option<Finding> {
    findings.reduce(|worst, next| {
        let beyond = next.margin < worst.margin;
        let unknown = next.margin.is_nan() && !worst.margin.is_nan();
        if beyond || unknown { next } else { worst }
    })
}
