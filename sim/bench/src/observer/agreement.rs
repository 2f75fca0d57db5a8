//! Compares the simulated control sensor and pressure with the recorded ones while a recording is played.

use saggar_core::programme::{Action, ProgrammeImage};
use saggar_verdict::{PressureAgreement, SensorAgreement};

use super::Observer;
use crate::trace::Row;
use crate::world::World;

/// The differences so far, a row a second, simulated minus recorded (K).
#[derive(Clone, Debug, Default)]
pub struct AgreementRecorder {
    rows: f64,
    squares: f64,
    largest: (f64, f64),
    /// For each step that ran: rows and sum.
    steps: Vec<(f64, f64)>,
    /// Flow of the glass so far (1/Pa); the part of it with readings, and its sum with the difference.
    flow_per_pa: f64,
    flows: (f64, f64),
    /// For each step that ran: rows with a gauge reading, and the sums of gauge and simulated chamber (Pa).
    pressures: Vec<(f64, f64, f64)>,
}

impl AgreementRecorder {
    /// The figures for a firing of this programme; `None` if there was no reading.
    pub fn finish(&self, programme: &ProgrammeImage) -> Option<SensorAgreement> {
        let soaks = programme.steps().zip(&self.steps).filter_map(|(step, (rows, sum))| {
            (matches!(step.action, Action::Soak { .. }) && *rows > 0.0).then_some(sum / rows)
        });
        // What is not a number is the worst.
        let worse = |a: f64, b: f64| if b.abs() <= a.abs() || a.is_nan() { a } else { b };
        let (flow, sum) = self.flows;
        (self.rows > 0.0).then(|| SensorAgreement {
            rms_k: (self.squares / self.rows).sqrt(),
            largest_k: self.largest.0,
            largest_at_s: self.largest.1,
            soak_k: soaks.reduce(worse),
            flow_k: (flow > 0.0).then_some(sum / flow),
        })
    }
}

impl AgreementRecorder {
    /// The pressures in the soak under vacuum in which they are farthest apart by their ratio; `None` without
    /// such a soak, or a gauge.
    pub fn pressure(&self, programme: &ProgrammeImage) -> Option<PressureAgreement> {
        let soaks =
            programme.steps().zip(&self.pressures).filter_map(|(step, (rows, gauge, own))| {
                let under_vacuum =
                    step.vacuum.is_some() && matches!(step.action, Action::Soak { .. });
                (under_vacuum && *rows > 0.0).then(|| PressureAgreement {
                    gauge_pa: gauge / rows,
                    simulated_pa: own / rows,
                })
            });
        let doubtful = |soak: &PressureAgreement| !soak.is_believed();
        let ratio = |soak: &PressureAgreement| (soak.simulated_pa / soak.gauge_pa).ln().abs();
        soaks.max_by(|a, b| {
            doubtful(a).cmp(&doubtful(b)).then_with(|| ratio(a).total_cmp(&ratio(b)))
        })
    }

    fn record_pressure(&mut self, step: usize, row: &Row) {
        let (Some(gauge_pa), Some(modelled)) = (row.measured.inputs.pressure_pa, row.modelled)
        else {
            return;
        };
        if self.pressures.len() <= step {
            self.pressures.resize(step + 1, (0.0, 0.0, 0.0));
        }
        if let Some((rows, gauge, own)) = self.pressures.get_mut(step) {
            *rows += 1.0;
            *gauge += f64::from(gauge_pa);
            *own += modelled.pressure_pa;
        }
    }
}

impl Observer for AgreementRecorder {
    fn row(&mut self, row: &Row, _: f64, world: &World) {
        // All rings are nearly equally warm, so one tells when the glass flows.
        let flow = world.pieces().iter().find_map(|piece| piece.flow.as_ref());
        let per_pa = flow.map_or(0.0, |flow| flow.per_pa());
        let added_per_pa = per_pa - core::mem::replace(&mut self.flow_per_pa, per_pa);
        let (Some(step), Some(sensor_c)) = (row.measured.step, row.measured.sensor_c) else {
            return;
        };
        let simulated_c = world.furnace_state().temperatures.control_sensor_c;
        let apart_k = simulated_c - sensor_c;
        self.rows += 1.0;
        self.squares += apart_k * apart_k;
        self.flows.0 += added_per_pa;
        self.flows.1 += added_per_pa * apart_k;
        if apart_k.abs() >= self.largest.0.abs() || apart_k.is_nan() {
            self.largest = (apart_k, row.at_s);
        }
        let step = usize::from(step);
        self.record_pressure(step, row);
        if self.steps.len() <= step {
            self.steps.resize(step + 1, (0.0, 0.0));
        }
        if let Some((rows, sum)) = self.steps.get_mut(step) {
            *rows += 1.0;
            *sum += apart_k;
        }
    }
}
