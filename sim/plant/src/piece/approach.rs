//! The approach: the piece's way from the glass's transition to the temperatures of infiltration.
//!
//! On a slow way the glass changes, presumably it crystallises, and no model here follows that. A
//! verdict therefore has to know how fast the way was.

use crate::spec::GlassSpec;

/// End of the way (°C): the temperature between which and the transition published trials ramped
/// slowly or started in a preheated furnace. Where the way ends is ours, like the bound on its rate.
pub const APPROACHED_C: f64 = 1000.0;

/// The way of one piece, from its own mean temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct Approach {
    transition_c: f64,
    slowest_k_min: f64,
    /// Time (s) and temperature (°C) at the end of the last step.
    last: Option<(f64, f64)>,
    left_at_s: Option<f64>,
    reached_at_s: Option<f64>,
}

impl Approach {
    /// Nothing measured yet.
    pub const fn new(glass: &GlassSpec) -> Self {
        Self {
            transition_c: glass.transition_c,
            slowest_k_min: glass.slowest_approach_k_min,
            last: None,
            left_at_s: None,
            reached_at_s: None,
        }
    }

    /// Slowest mean rate at which the glass is known to infiltrate (K/min).
    pub const fn slowest_k_min(&self) -> f64 {
        self.slowest_k_min
    }

    /// The glass's transition, where the way begins (°C).
    pub const fn transition_c(&self) -> f64 {
        self.transition_c
    }

    /// Mean rate from the last passage of the transition upward to the first arrival at
    /// [`APPROACHED_C`] (K/min), time at rest included; `None` if the piece never arrived.
    pub fn mean_k_min(&self) -> Option<f64> {
        let (left_s, reached_s) = (self.left_at_s?, self.reached_at_s?);
        Some(60.0 * (APPROACHED_C - self.transition_c) / (reached_s - left_s))
    }

    /// One step that ends at `mean_c` and `at_s`.
    pub(super) fn step(&mut self, mean_c: f64, at_s: f64) {
        let (from_s, from_c) = self.last.replace((at_s, mean_c)).unwrap_or((at_s, mean_c));
        if self.reached_at_s.is_some() {
            return;
        }
        // The step is a straight line, and a piece that is put in hot begins its way there.
        let passed_s = |level_c: f64| {
            let share = (level_c - from_c) / (mean_c - from_c);
            if share > 0.0 { from_s + share * (at_s - from_s) } else { from_s }
        };
        if mean_c >= self.transition_c
            && (from_c < self.transition_c || self.left_at_s.is_none())
        {
            self.left_at_s = Some(passed_s(self.transition_c));
        }
        if mean_c >= APPROACHED_C {
            self.reached_at_s = Some(passed_s(APPROACHED_C));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The rate along corners of time (min) and temperature (°C), a step a second.
    fn mean_k_min(corners: &[(f64, f64)]) -> Option<f64> {
        let mut approach = Approach::new(&GlassSpec::named("lanthanum-glass")?);
        for pair in corners.windows(2) {
            let [(from_min, from_c), (to_min, to_c)] = pair else { return None };
            let seconds = ((to_min - from_min) * 60.0) as u32;
            for second in 1..=seconds {
                let share = f64::from(second) / f64::from(seconds);
                let at_s = from_min * 60.0 + f64::from(second);
                approach.step(from_c + share * (to_c - from_c), at_s);
            }
        }
        approach.mean_k_min()
    }

    fn assert_rate(corners: &[(f64, f64)], k_min: f64) {
        let found = mean_k_min(corners).expect("it arrives");
        assert!((found / k_min - 1.0).abs() < 1e-9, "{found} instead of {k_min} K/min");
    }

    #[test]
    fn the_rate_of_a_straight_ramp_is_its_rate() {
        assert_rate(&[(0.0, 20.0), (110.0, 1120.0)], 10.0);
        assert_rate(&[(0.0, 20.0), (360.0, 1100.0)], 3.0);
    }

    #[test]
    fn time_at_rest_counts_from_the_transition_up() {
        // 365 K from 635 to 1000 °C: 7.3 min at 50 K/min, and half an hour at 700 °C.
        let rests = [(0.0, 35.0), (13.3, 700.0), (43.3, 700.0), (51.3, 1100.0)];
        assert_rate(&rests, 365.0 / 37.3);
        // Below the transition it does not, nor above the end of the way.
        assert_rate(&[(0.0, 35.0), (11.0, 585.0), (99.0, 585.0), (109.0, 1085.0)], 50.0);
        assert_rate(&[(0.0, 35.0), (20.0, 1035.0), (200.0, 1035.0), (202.0, 1135.0)], 50.0);
    }

    #[test]
    fn the_last_passage_of_the_transition_counts_and_the_first_arrival() {
        let again = [(0.0, 35.0), (20.0, 735.0), (60.0, 535.0), (72.0, 1135.0)];
        assert_rate(&again, 50.0);
        let twice = [(0.0, 35.0), (20.0, 1035.0), (60.0, 235.0), (400.0, 1035.0)];
        assert_rate(&twice, 50.0);
    }

    #[test]
    fn a_piece_that_never_arrives_has_no_rate() {
        assert_eq!(mean_k_min(&[(0.0, 20.0), (60.0, 990.0), (600.0, 990.0)]), None);
    }
}
