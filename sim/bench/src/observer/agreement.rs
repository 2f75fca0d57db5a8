//! Compares the simulated control sensor with the recorded one while a recording is played.

use saggar_core::programme::ProgrammeImage;
use saggar_verdict::SensorAgreement;

use super::{Observer, soaks};
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
}

impl AgreementRecorder {
    /// The figures for a firing of this programme; `None` if there was no reading.
    pub fn finish(&self, programme: &ProgrammeImage) -> Option<SensorAgreement> {
        let hottest = soaks::hottest(&soaks::of(programme.steps()));
        let of_soak = hottest.and_then(|step| self.steps.get(usize::from(step)));
        (self.rows > 0.0).then(|| SensorAgreement {
            rms_k: (self.squares / self.rows).sqrt(),
            largest_k: self.largest.0,
            largest_at_s: self.largest.1,
            soak_k: of_soak.filter(|(rows, _)| *rows > 0.0).map(|(rows, sum)| sum / rows),
        })
    }
}

impl Observer for AgreementRecorder {
    fn row(&mut self, row: &Row, _: f64, world: &World) {
        let (Some(step), Some(sensor_c)) = (row.measured.step, row.measured.sensor_c) else {
            return;
        };
        let simulated_c = world.furnace_state().temperatures.control_sensor_c;
        let apart_k = simulated_c - sensor_c;
        self.rows += 1.0;
        self.squares += apart_k * apart_k;
        if apart_k.abs() >= self.largest.0.abs() || apart_k.is_nan() {
            self.largest = (apart_k, row.at_s);
        }
        let step = usize::from(step);
        if self.steps.len() <= step {
            self.steps.resize(step + 1, (0.0, 0.0));
        }
        if let Some((rows, sum)) = self.steps.get_mut(step) {
            *rows += 1.0;
            *sum += apart_k;
        }
    }
}
