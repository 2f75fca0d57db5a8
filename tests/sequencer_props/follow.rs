//! A furnace that does not follow: its effect on the setpoint and on the control loop.

use saggar_core::control::HeatControl;
use saggar_core::sequencer::Setpoint;

use super::SequencerBench;
use crate::support::{RATED_W, furnace, ramp, step};

/// The setpoint waits once the furnace lags 30 K, in both directions: 10 K further it stands.
#[test]
fn the_setpoint_waits_for_a_furnace_that_lags() {
    for (to_c, up) in [(1100, 1.0), (500, -1.0)] {
        let mut bench = SequencerBench::new(800.0, &[step(ramp(to_c, 30))]);
        for _ in 0..3000 {
            bench.tick(|now| now.reading_c = Some(800.0));
        }
        let setpoint = bench.plan.setpoint.unwrap();
        let ahead = (setpoint.celsius - 800.0) * up;
        assert!((30.0..41.0).contains(&ahead), "{ahead} K ahead");
        assert!(setpoint.rate_k_per_s.abs() < 1.0e-6, "{setpoint:?}");
        // It goes on with the furnace.
        bench.until_close_to(to_c as f32);
    }
}

impl SequencerBench {
    fn until_close_to(&mut self, to_c: f32) {
        for _ in 0..20_000 {
            self.tick(|_| {});
        }
        assert!((self.reading_c - to_c).abs() < 0.01, "{} °C", self.reading_c);
    }
}

/// The integral of one heated stretch is not carried into the next.
#[test]
fn every_heated_stretch_starts_without_an_old_integral() {
    let (furnace, mut heat) = (furnace(), HeatControl::default());
    let at = |celsius| Some(Setpoint::steady(celsius));
    let feed = 0.8 * (800.0 - 20.0) / RATED_W as f32;
    for _ in 0..1000 {
        heat.duty(&furnace, at(800.0), Some(780.0), 0.0);
    }
    let wound = heat.duty(&furnace, at(800.0), Some(800.0), 0.0);
    assert!(wound > feed + 0.3, "nothing was wound up: {wound}");
    // A reading that is missing for a tick is no new stretch.
    assert!(heat.duty(&furnace, at(800.0), None, 0.0) <= 0.0);
    assert!(heat.duty(&furnace, at(800.0), Some(800.0), 0.0) > feed + 0.3);
    assert!(heat.duty(&furnace, None, Some(800.0), 0.0) <= 0.0);
    let fresh = heat.duty(&furnace, at(800.0), Some(800.0), 0.0);
    assert!((fresh - feed).abs() < 1.0e-3, "{fresh}, not {feed}");
}
