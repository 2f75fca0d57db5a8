//! Measures how long each ramp of a programme takes.

use saggar_core::programme::{Action, Step};
use saggar_verdict::LateRamp;

/// The duration of each ramp that ran to its end.
#[derive(Clone, Debug, Default)]
pub(super) struct RampTimes {
    /// The step that runs, when it began (s), and where its setpoint began (°C).
    current: Option<(u8, f64, f64)>,
    done: Vec<RampTime>,
}

#[derive(Clone, Copy, Debug)]
struct RampTime {
    step: u8,
    from_c: f64,
    seconds: f64,
}

impl RampTimes {
    /// Adds a row of the firing. Without a setpoint, a ramp begins at the reading.
    pub(super) fn row(&mut self, step: u8, at_s: f64, begins_c: f64) {
        match self.current {
            Some((current, ..)) if current == step => {}
            current => {
                self.end(current, at_s);
                self.current = Some((step, at_s, begins_c));
            }
        }
    }

    /// The programme ran to its end.
    pub(super) fn complete(&mut self, at_s: f64) {
        let current = self.current.take();
        self.end(current, at_s);
    }

    fn end(&mut self, step: Option<(u8, f64, f64)>, at_s: f64) {
        if let Some((step, from_s, from_c)) = step {
            self.done.push(RampTime { step, from_c, seconds: at_s - from_s });
        }
    }

    /// The ramps that were clearly late. A ramp that did not end is none of them.
    pub(super) fn late(&self, steps: impl Iterator<Item = Step>) -> Vec<LateRamp> {
        let ramps = (0u8..).zip(steps).filter_map(|(step, Step { action, .. })| {
            let Action::Ramp { to_mc, rate_mk_per_min } = action else { return None };
            let time = self.done.iter().find(|time| time.step == step)?;
            let to_c = f64::from(to_mc) / 1e3;
            let k_per_s = f64::from(rate_mk_per_min) / 60e3;
            let at_rate_s = (to_c - time.from_c).abs() / k_per_s;
            Some(LateRamp { step, to_c, at_rate_s, takes_s: time.seconds })
        });
        ramps.filter(LateRamp::is_clearly_late).collect()
    }
}
