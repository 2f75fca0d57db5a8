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
    /// Time between transition and [`APPROACHED_C`] that counts (s).
    between_s: f64,
    /// The same since the last arrival (s): counts only if the piece comes back, or fills its wall there.
    pending_s: f64,
    arrived: bool,
    full: bool,
}

impl Approach {
    /// Nothing measured yet.
    pub const fn new(glass: &GlassSpec) -> Self {
        Self {
            transition_c: glass.transition_c,
            slowest_k_min: glass.slowest_approach_k_min,
            last: None,
            between_s: 0.0,
            pending_s: 0.0,
            arrived: false,
            full: false,
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

    /// The way over all the time that the piece spent on it (K/min): every passage up, time at rest and a
    /// fall that another passage follows; not the last fall, on which the wall is full or fails anyway.
    /// `None` if the piece never arrived at [`APPROACHED_C`].
    pub fn mean_k_min(&self) -> Option<f64> {
        let way_k = APPROACHED_C - self.transition_c;
        self.arrived.then(|| 60.0 * way_k / self.between_s)
    }

    /// One step that ends at `mean_c` and `at_s`, with or without a wall that is full by then.
    pub(super) fn step(&mut self, mean_c: f64, at_s: f64, full: bool) {
        let (from_s, from_c) = self.last.replace((at_s, mean_c)).unwrap_or((at_s, mean_c));
        self.pending_s += (at_s - from_s) * self.share_between(from_c, mean_c);
        let filled = full && !self.full;
        self.full = full;
        let arrives = mean_c >= APPROACHED_C;
        self.arrived |= arrives;
        // What the glass gains after a return counts for the confidence, so the way back counts as well.
        if arrives || filled {
            self.between_s += core::mem::take(&mut self.pending_s);
        }
    }

    /// Share of a step, a straight line, that is between the transition and the end of the way.
    fn share_between(&self, from_c: f64, to_c: f64) -> f64 {
        let (low, high) = (from_c.min(to_c), from_c.max(to_c));
        let inside = high.min(APPROACHED_C) - low.max(self.transition_c);
        if high > low {
            (inside / (high - low)).max(0.0)
        } else if (self.transition_c..APPROACHED_C).contains(&to_c) {
            1.0
        } else {
            0.0
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
                approach.step(from_c + share * (to_c - from_c), at_s, false);
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
    fn every_passage_counts_with_the_fall_before_it() {
        // 2 min up, 20 min down at 10 K/min to the transition, 7.3 min up at 50 K/min.
        let again = [(0.0, 35.0), (14.0, 735.0), (34.0, 535.0), (46.0, 1135.0)];
        assert_rate(&again, 365.0 / (2.0 + 10.0 + 7.3));
        // 36.5 min up, rest above, down to 850 °C and three hours there, and 50 min up.
        let dip = [(0.0, 35.0), (100.0, 1035.0), (110.0, 1035.0), (128.5, 850.0)];
        let up = [(308.5, 850.0), (406.5, 1144.0)];
        let way_min = 36.5 + 15.0 + 180.0 + 50.0;
        assert_rate(&[&dip[..], &up].concat(), 365.0 / way_min);
    }

    #[test]
    fn the_last_fall_does_not_count_unless_the_wall_fills_on_it() {
        let down = [(0.0, 35.0), (20.0, 1035.0), (21.0, 985.0), (600.0, 985.0), (700.0, 35.0)];
        assert_rate(&down, 50.0);
        let mut approach = Approach::new(&GlassSpec::named("lanthanum-glass").unwrap());
        approach.step(1000.0, 0.0, false);
        approach.step(990.0, 10.0, false);
        approach.step(990.0, 6570.0, false);
        assert!(approach.mean_k_min().unwrap().is_infinite());
        approach.step(990.0, 7300.0, true);
        approach.step(990.0, 9900.0, true);
        assert!((approach.mean_k_min().unwrap() - 3.0).abs() < 1e-9, "{approach:?}");
    }

    #[test]
    fn a_piece_that_never_arrives_has_no_rate() {
        assert_eq!(mean_k_min(&[(0.0, 20.0), (60.0, 990.0), (600.0, 990.0)]), None);
    }
}
