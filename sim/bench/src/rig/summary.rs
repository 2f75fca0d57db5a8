//! What the verdict wants to know of a firing, read off its record.

use saggar_core::programme::{Action, Image, Step, Timeline};
use saggar_core::sequencer;

use crate::record::{Record, Sample};
use saggar_plant::verdict::{
    Allowed, Counted, FiringSummary, Mover, Outside, SoakSummary, StepStress,
};

/// A soak of the programme.
#[derive(Clone, Copy)]
struct Soak {
    step: u8,
    setpoint_c: f64,
    band_k: f64,
    way_s_per_k: f64,
    /// The step that leads to its setpoint.
    way: u8,
    /// The first step whose overshoot is its own: behind the soak before, at the same setpoint.
    own: u8,
}

pub(super) fn of(
    record: &Record,
    programme: &Image,
    sensor_tolerance_k: f64,
    allowed: Allowed,
    tensions_pa: &[f64],
    ending: Option<sequencer::Ending>,
) -> FiringSummary {
    let fired = || record.samples.iter().filter(|sample| sample.step.is_some());
    let read = |sample: &Sample| sample.sensor_c.map(|c| (c, sample.at_s));
    let (hottest_sensor_c, hottest_sensor_at_s) = fired()
        .filter_map(read)
        .fold((f64::MIN, 0.0), |best, next| if next.0 > best.0 { next } else { best });
    let soaks = soaks(programme.steps());
    FiringSummary {
        ending,
        not_begun: None,
        duration_s: record.duration_s(),
        energy_j: record.energy_j,
        hottest_sensor_c,
        hottest_sensor_at_s,
        highest_setpoint_c: highest_setpoint_c(programme),
        hottest_soak: hottest(&soaks).map(|soak| soak.step),
        soaks: soaks.iter().filter_map(|soak| soak_summary(soak, record)).collect(),
        stresses: stresses(programme.steps(), tensions_pa),
        sensor_tolerance_k,
        allowed,
    }
}

/// Highest setpoint of a programme (°C); `None` for one without a ramp.
pub(super) fn highest_setpoint_c(programme: &Image) -> Option<f64> {
    let setpoints = programme.steps().filter_map(|step| step.action.setpoint_mc());
    setpoints.max().map(|mc| f64::from(mc) / 1000.0)
}

/// The soaks of a programme.
fn soaks(steps: impl Iterator<Item = Step>) -> Vec<Soak> {
    let (mut timeline, mut way_s_per_k) = (Timeline::start(), 0.0);
    let (mut way, mut own) = (0, 0);
    let mut soaks = Vec::new();
    for (step, action) in (0u8..).zip(steps.map(|step| step.action)) {
        match action {
            Action::Ramp { rate_mk_per_min, .. } => {
                way_s_per_k = 60e3 / f64::from(rate_mk_per_min.max(1));
                (way, own) = (step, step);
            }
            Action::Cool { .. } => (way, own) = (step, step),
            Action::Soak { band_mk, .. } => {
                if let Some(held_mc) = timeline.held_mc() {
                    let setpoint_c = f64::from(held_mc) / 1000.0;
                    let band_k = f64::from(band_mk) / 1000.0;
                    soaks.push(Soak { step, setpoint_c, band_k, way_s_per_k, way, own });
                }
                own = step.saturating_add(1);
            }
            Action::Move { .. } | Action::Ask { .. } => {}
        }
        timeline.pass(&action);
    }
    soaks
}

/// The steps that moved the temperature, each with the largest tension in it and until the next.
/// `tensions_pa` has one for each step that began.
fn stresses(steps: impl Iterator<Item = Step>, tensions_pa: &[f64]) -> Vec<StepStress> {
    let mut stresses: Vec<StepStress> = Vec::new();
    for ((step, action), tension_pa) in
        (0u8..).zip(steps.map(|step| step.action)).zip(tensions_pa)
    {
        let by = match action {
            Action::Ramp { .. } => Mover::Ramp,
            Action::Cool { .. } => Mover::Cooling,
            Action::Move { .. } => Mover::Opening,
            Action::Soak { .. } | Action::Ask { .. } => {
                let last = stresses.last_mut();
                if let Some(last) = last.filter(|last| *tension_pa > last.tension_pa) {
                    last.tension_pa = *tension_pa;
                }
                continue;
            }
        };
        stresses.push(StepStress { step, tension_pa: *tension_pa, by });
    }
    stresses
}

/// The hottest, the first of equals.
fn hottest(soaks: &[Soak]) -> Option<&Soak> {
    soaks
        .iter()
        .reduce(|best, next| if next.setpoint_c > best.setpoint_c { next } else { best })
}

/// A row, and the sensor's distance from the setpoint in it (K).
type Row<'r> = (&'r Sample, f64);

/// Reads a soak off the rows; `None` if it did not begin.
fn soak_summary(soak: &Soak, record: &Record) -> Option<SoakSummary> {
    let rows: Vec<Row<'_>> = record
        .samples
        .iter()
        .filter(|row| row.step.is_some_and(|step| (soak.way..=soak.step).contains(&step)))
        .filter_map(|row| Some((row, row.sensor_c? - soak.setpoint_c)))
        .collect();
    let begins = rows.iter().position(|(row, _)| row.step == Some(soak.step))?;
    let soaked = rows.get(begins..)?;
    let (overshoot_k, overshoot_at_s) = overshoot(soak, &rows);
    Some(SoakSummary {
        step: soak.step,
        setpoint_c: soak.setpoint_c,
        band_k: soak.band_k,
        way_s_per_k: soak.way_s_per_k,
        overshoot_k,
        overshoot_at_s,
        counted: counted(soak.band_k, soaked),
        outside: outside(soak.band_k, soaked),
    })
}

/// How far the sensor rose above the setpoint (K), and when (s). It counts from the arrival on: from
/// the first reading at the setpoint or past it, seen from where its way began.
fn overshoot(soak: &Soak, rows: &[Row<'_>]) -> (f64, f64) {
    let from_above = rows.first().is_some_and(|(_, away)| *away > 0.0);
    let arrived = |away: f64| if from_above { away <= 0.0 } else { away >= 0.0 };
    rows.iter()
        .skip_while(|(_, away)| !arrived(*away))
        .filter(|(row, _)| row.step.is_some_and(|step| step >= soak.own))
        .fold(
            (0.0, 0.0),
            |best, (row, away)| if *away > best.0 { (*away, row.at_s) } else { best },
        )
}

/// The soak from the first reading inside its band on: that is when it counts.
fn counted(band_k: f64, soaked: &[Row<'_>]) -> Option<Counted> {
    let from = soaked.iter().position(|(_, away)| away.abs() <= band_k)?;
    let rows = soaked.get(from..)?;
    let (worst, deviation_k) = rows.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    let count = rows.len() as f64;
    let apart =
        |(row, _): &Row<'_>| row.sensor_c.map_or(0.0, |sensor_c| sensor_c - row.piece_c);
    let mean_c = rows.iter().map(|(row, _)| row.piece_c).sum::<f64>() / count;
    let end_c = rows.last().map_or(mean_c, |(row, _)| row.piece_c);
    Some(Counted {
        deviation_k: deviation_k.abs(),
        deviation_at_s: worst.at_s,
        sensor_minus_piece_k: rows.iter().map(apart).sum::<f64>() / count,
        piece_c: mean_c.min(end_c),
        lowest_pa: rows.iter().map(|(row, _)| row.pressure_pa).fold(f64::INFINITY, f64::min),
        // A row a second.
        seconds: count,
    })
}

/// The farthest reading outside the band, on the side on which more of them are.
fn outside(band_k: f64, soaked: &[Row<'_>]) -> Option<Outside> {
    let (above, below): (Vec<Row<'_>>, Vec<Row<'_>>) = soaked
        .iter()
        .filter(|(_, away)| away.abs() > band_k)
        .partition(|(_, away)| *away > 0.0);
    let side = if above.len() > below.len() { above } else { below };
    let (row, away_k) = side.into_iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    Some(Outside { away_k, at_s: row.at_s })
}
