//! How much more of the element the limit sensor sees than the control sensor, as a share of what the
//! furnace's table says. A sensor that was replaced or moved sees more or less; the watch learns it from
//! the two readings, slowly, so that a sensor that goes wrong is not taken for one that sees more.

use serde::Serialize;

/// Range of the share. Beyond it the sensors are not where the table was measured.
const SHARE_MIN: f32 = 0.3;
const SHARE_MAX: f32 = 1.6;

/// Time constants of the learning of a smaller and of a larger share, in steps of a second.
const SMALLER_STEPS: f32 = 600.0;
const LARGER_STEPS: f32 = 3_600.0;

/// Explained difference below which little is learned (K): noise and drifts would be taken for a view.
const LITTLE_K: f32 = 3.0;

/// The share, learned so far.
#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct View {
    share: f32,
}

impl Default for View {
    /// Begins with the largest share: a healthy furnace must not trip before anything was learned.
    fn default() -> Self {
        Self { share: SHARE_MAX }
    }
}

impl View {
    /// Advances by a second in which the table explains this difference of the channels, and in which
    /// they differed by so much (K). Returns the difference that is explained with what was learned.
    pub(super) fn step(&mut self, table_k: f32, difference_k: f32) -> f32 {
        let error_k = difference_k - self.share * table_k;
        // A step of the normalised least mean squares method.
        let gain = table_k / (table_k * table_k + LITTLE_K * LITTLE_K);
        let steps = if error_k < 0.0 { SMALLER_STEPS } else { LARGER_STEPS };
        let share = self.share + error_k * gain / steps;
        // A NaN teaches nothing.
        if share.is_finite() {
            self.share = share.clamp(SHARE_MIN, SHARE_MAX);
        }
        self.share * table_k
    }
}

#[cfg(test)]
mod tests {
    use super::{LARGER_STEPS, SHARE_MAX, SMALLER_STEPS, View};

    #[test]
    fn the_share_is_learned_within_its_range() {
        for (true_share, expected) in [(1.0, 1.0), (0.5, 0.5), (3.0, SHARE_MAX), (-1.0, 0.3)] {
            let mut view = View::default();
            let explained = (0..6_000).map(|_| view.step(20.0, 20.0 * true_share)).last();
            let share = explained.map_or(0.0, |kelvin| kelvin / 20.0);
            assert!((share - expected).abs() < 0.01, "{share}, not {expected}");
        }
    }

    /// By the error, times the table's difference, through the sum of its square and that of the little one.
    #[test]
    fn a_step_is_a_share_of_the_error() {
        for (table_k, error_k, steps) in [
            (10.0f32, -6.0, SMALLER_STEPS),
            (10.0, 6.0, LARGER_STEPS),
            (3.0, -20.0, SMALLER_STEPS),
            (3.0, 200.0, LARGER_STEPS),
            (0.5, -30.0, SMALLER_STEPS),
        ] {
            let mut view = View { share: 1.0 };
            view.step(table_k, table_k + error_k);
            let expected = error_k * table_k / (table_k * table_k + 9.0) / steps;
            let learned = view.share - 1.0;
            let allowed = expected.abs() * 0.001 + 2.0e-7;
            assert!((learned - expected).abs() <= allowed, "{learned}, not {expected}");
        }
    }

    #[test]
    fn what_cannot_be_read_teaches_nothing() {
        let mut view = View::default();
        for odd in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
            view.step(20.0, odd);
            view.step(odd, 20.0);
        }
        let explained_k = view.step(10.0, f32::NAN);
        assert!((explained_k - 10.0 * SHARE_MAX).abs() < 1.0e-4, "{explained_k} K");
    }
}
