//! What the verdict wants to know of a firing, read off its record.

use saggar_core::programme::{Action, Image, Step, Timeline};
use saggar_core::sequencer;

use crate::record::{Record, Sample};
use crate::verdict::{Allowed, FiringSummary, SoakSummary};

/// A soak of the programme.
struct Soak {
    step: u8,
    setpoint_c: f64,
    band_k: f64,
    way_s_per_k: f64,
}

pub(super) fn of(
    record: &Record,
    programme: &Image,
    sensor_tolerance_k: f64,
    allowed: Allowed,
    ending: Option<sequencer::Ending>,
) -> FiringSummary {
    let fired = || record.samples.iter().filter(|sample| sample.step.is_some());
    let read = |sample: &Sample| sample.sensor_c.map(|c| (c, sample.at_s));
    let (hottest_sensor_c, hottest_sensor_at_s) = fired()
        .filter_map(read)
        .fold((f64::MIN, 0.0), |best, next| if next.0 > best.0 { next } else { best });
    FiringSummary {
        ending,
        duration_s: record.duration_s(),
        energy_j: record.energy_j,
        hottest_sensor_c,
        hottest_sensor_at_s,
        highest_setpoint_c: highest_setpoint_c(programme),
        soak: hottest_soak(programme.steps()).and_then(|soak| soak_summary(&soak, record)),
        sensor_tolerance_k,
        allowed,
    }
}

/// Highest setpoint of a programme (°C); `None` for one without a ramp.
pub(super) fn highest_setpoint_c(programme: &Image) -> Option<f64> {
    let setpoints = programme.steps().filter_map(|step| step.action.setpoint_mc());
    setpoints.max().map(|mc| f64::from(mc) / 1000.0)
}

fn hottest_soak(steps: impl Iterator<Item = Step>) -> Option<Soak> {
    let (mut timeline, mut way_s_per_k) = (Timeline::start(), 0.0);
    let mut best: Option<Soak> = None;
    for (step, action) in (0u8..).zip(steps.map(|step| step.action)) {
        if let Action::Ramp { rate_mk_per_min, .. } = action {
            way_s_per_k = 60e3 / f64::from(rate_mk_per_min.max(1));
        }
        if let (Action::Soak { band_mk, .. }, Some(held_mc)) = (action, timeline.held_mc()) {
            let setpoint_c = f64::from(held_mc) / 1000.0;
            if best.as_ref().is_none_or(|best| setpoint_c > best.setpoint_c) {
                let band_k = f64::from(band_mk) / 1000.0;
                best = Some(Soak { step, setpoint_c, band_k, way_s_per_k });
            }
        }
        timeline.pass(&action);
    }
    best
}

/// Reads the soak off the rows, from the first inside its band on: that is when it counts.
fn soak_summary(soak: &Soak, record: &Record) -> Option<SoakSummary> {
    let away = |sample: &Sample| sample.sensor_c.map(|c| c - soak.setpoint_c);
    let rows: Vec<(&Sample, f64)> = record
        .samples
        .iter()
        .filter(|sample| sample.step == Some(soak.step))
        .filter_map(|sample| Some((sample, away(sample)?)))
        .skip_while(|(_, away)| away.abs() > soak.band_k)
        .collect();
    let (worst, deviation_k) = rows.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    let apart =
        rows.iter().map(|(row, away)| away + soak.setpoint_c - row.piece_c).sum::<f64>();
    let count = rows.len() as f64;
    let mean_c = rows.iter().map(|(row, _)| row.piece_c).sum::<f64>() / count;
    let end_c = rows.last().map_or(mean_c, |(row, _)| row.piece_c);
    Some(SoakSummary {
        setpoint_c: soak.setpoint_c,
        deviation_k: deviation_k.abs(),
        deviation_at_s: worst.at_s,
        band_k: soak.band_k,
        sensor_minus_piece_k: apart / count,
        piece_c: mean_c.min(end_c),
        // A row a second.
        seconds: count,
        way_s_per_k: soak.way_s_per_k,
    })
}
