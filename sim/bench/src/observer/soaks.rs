//! Tracks each soak of a programme row by row.

use saggar_core::programme::{Action, Step, Timeline};
use saggar_verdict::{BandExcursion, EffectiveSoak, SoakSummary};

/// A soak of the programme.
#[derive(Clone, Copy, Debug)]
struct PlannedSoak {
    step: u8,
    setpoint_c: f64,
    band_k: f64,
    /// Time per kelvin of the ramp that leads to it (s/K).
    ramp_s_per_k: f64,
    /// The step that leads to its setpoint.
    approach_step: u8,
    /// The first step whose overshoot counts for this soak: after a previous soak at the same setpoint.
    overshoot_from_step: u8,
}

/// A soak and its figures so far.
#[derive(Clone, Debug)]
pub(super) struct SoakTracker {
    soak: PlannedSoak,
    /// The approach began above the setpoint.
    from_above: Option<bool>,
    /// The sensor has reached the setpoint.
    arrived: bool,
    /// Overshoot since then (K) and its time (s).
    overshoot: (f64, f64),
    begun: bool,
    /// A power cut interrupted it, and the sensor is not back inside its band.
    interrupted: bool,
    counting: Option<SoakTotals>,
    above: OutOfBandReadings,
    below: OutOfBandReadings,
}

/// Readings outside the band on one side: their number, and the farthest (K) with its time (s).
#[derive(Clone, Copy, Debug, Default)]
struct OutOfBandReadings {
    count: u64,
    farthest: Option<BandExcursion>,
}

/// Totals of a soak from the first reading inside its band on.
#[derive(Clone, Copy, Debug)]
struct SoakTotals {
    rows: f64,
    deviation_k: f64,
    deviation_at_s: f64,
    sensor_minus_piece_k: f64,
    piece_c: f64,
    end_c: f64,
    pressure_min_pa: f64,
}

/// The values of a row that a soak needs.
#[derive(Clone, Copy, Debug)]
pub(super) struct SoakSample {
    pub(super) step: u8,
    pub(super) at_s: f64,
    pub(super) sensor_c: f64,
    pub(super) piece_c: f64,
    pub(super) pressure_pa: f64,
}

/// The soaks of a programme.
pub(super) fn of(steps: impl Iterator<Item = Step>) -> Vec<SoakTracker> {
    let (mut timeline, mut ramp_s_per_k) = (Timeline::new(), 0.0);
    let (mut approach_step, mut overshoot_from_step) = (0, 0);
    let mut soaks = Vec::new();
    for (step, action) in (0u8..).zip(steps.map(|step| step.action)) {
        match action {
            Action::Ramp { rate_mk_per_min, .. } => {
                ramp_s_per_k = 60e3 / f64::from(rate_mk_per_min.max(1));
                (approach_step, overshoot_from_step) = (step, step);
            }
            Action::Cool { .. } => (approach_step, overshoot_from_step) = (step, step),
            Action::Soak { band_mk, .. } => {
                if let Some(held_mc) = timeline.held_setpoint_mc() {
                    let setpoint_c = f64::from(held_mc) / 1000.0;
                    let band_k = f64::from(band_mk) / 1000.0;
                    let soak = PlannedSoak {
                        step,
                        setpoint_c,
                        band_k,
                        ramp_s_per_k,
                        approach_step,
                        overshoot_from_step,
                    };
                    soaks.push(SoakTracker::new(soak));
                }
                overshoot_from_step = step.saturating_add(1);
            }
            Action::MoveClosure { .. } | Action::Hold { .. } => {}
        }
        timeline.advance(&action);
    }
    soaks
}

/// The step of the hottest soak; of equals the first.
pub(super) fn hottest(soaks: &[SoakTracker]) -> Option<u8> {
    let hottest = soaks
        .iter()
        .map(|tracker| tracker.soak)
        .reduce(|best, next| if next.setpoint_c > best.setpoint_c { next } else { best });
    hottest.map(|soak| soak.step)
}

impl SoakTracker {
    const fn new(soak: PlannedSoak) -> Self {
        let none = OutOfBandReadings { count: 0, farthest: None };
        Self {
            soak,
            from_above: None,
            arrived: false,
            overshoot: (0.0, 0.0),
            begun: false,
            interrupted: false,
            counting: None,
            above: none,
            below: none,
        }
    }

    /// A power cut has interrupted this step of the firing. Until the sensor is back inside the band the
    /// soak does not count, as in the core.
    pub(super) fn interrupt(&mut self, step: u8) {
        self.interrupted |= self.begun && step == self.soak.step;
    }

    /// Adds a row of the firing.
    pub(super) fn row(&mut self, row: &SoakSample) {
        let soak = self.soak;
        if !(soak.approach_step..=soak.step).contains(&row.step) {
            return;
        }
        let deviation_k = row.sensor_c - soak.setpoint_c;
        let inside = deviation_k.abs() <= soak.band_k;
        self.interrupted &= !inside;
        if self.interrupted {
            return;
        }
        let from_above = *self.from_above.get_or_insert(deviation_k > 0.0);
        self.arrived |= if from_above { deviation_k <= 0.0 } else { deviation_k >= 0.0 };
        if self.arrived
            && row.step >= soak.overshoot_from_step
            && deviation_k > self.overshoot.0
        {
            self.overshoot = (deviation_k, row.at_s);
        }
        self.begun |= row.step == soak.step;
        if !self.begun {
            return;
        }
        if deviation_k.abs() > soak.band_k {
            let side = if deviation_k > 0.0 { &mut self.above } else { &mut self.below };
            side.record(deviation_k, row.at_s);
        }
        if self.counting.is_none() && deviation_k.abs() <= soak.band_k {
            self.counting = Some(SoakTotals::begin());
        }
        if let Some(counting) = &mut self.counting {
            counting.count(row, deviation_k);
        }
    }

    /// The summary; `None` if the soak did not begin.
    pub(super) fn summary(&self) -> Option<SoakSummary> {
        let side = if self.above.count > self.below.count { self.above } else { self.below };
        self.begun.then(|| SoakSummary {
            step: self.soak.step,
            setpoint_c: self.soak.setpoint_c,
            band_k: self.soak.band_k,
            ramp_s_per_k: self.soak.ramp_s_per_k,
            overshoot_k: self.overshoot.0,
            overshoot_at_s: self.overshoot.1,
            effective: self.counting.as_ref().map(SoakTotals::averages),
            excursion: side.farthest,
        })
    }
}

impl OutOfBandReadings {
    /// Adds a reading. Of equal deviations the last is kept.
    fn record(&mut self, deviation_k: f64, at_s: f64) {
        self.count += 1;
        if self.farthest.is_none_or(|farthest| deviation_k.abs() >= farthest.deviation_k.abs())
        {
            self.farthest = Some(BandExcursion { deviation_k, at_s });
        }
    }
}

impl SoakTotals {
    const fn begin() -> Self {
        Self {
            rows: 0.0,
            deviation_k: 0.0,
            deviation_at_s: 0.0,
            sensor_minus_piece_k: 0.0,
            piece_c: 0.0,
            end_c: 0.0,
            pressure_min_pa: f64::INFINITY,
        }
    }

    /// Adds a row. Of equal deviations the last is kept.
    fn count(&mut self, row: &SoakSample, deviation_k: f64) {
        self.rows += 1.0;
        if deviation_k.abs() >= self.deviation_k {
            (self.deviation_k, self.deviation_at_s) = (deviation_k.abs(), row.at_s);
        }
        self.sensor_minus_piece_k += row.sensor_c - row.piece_c;
        self.piece_c += row.piece_c;
        self.end_c = row.piece_c;
        self.pressure_min_pa = self.pressure_min_pa.min(row.pressure_pa);
    }

    fn averages(&self) -> EffectiveSoak {
        EffectiveSoak {
            deviation_k: self.deviation_k,
            deviation_at_s: self.deviation_at_s,
            sensor_minus_piece_k: self.sensor_minus_piece_k / self.rows,
            piece_c: (self.piece_c / self.rows).min(self.end_c),
            pressure_min_pa: self.pressure_min_pa,
            // There is one row per second.
            seconds: self.rows,
        }
    }
}
