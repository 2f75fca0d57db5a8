//! Rounds the numbers of advice to their safe side.
//!
//! Rounding to nearest would give the wrong side half of the time. These functions guarantee the side
//! even after the printed digits are parsed again.

use std::cmp::Ordering;

/// The smallest number with at most this many decimals that is at or above `value`.
pub fn up(value: f64, digits: u8) -> f64 {
    let count = (value * steps(digits)).round();
    let near = of_steps(count, digits);
    let up = if near < value { of_steps(count + 1.0, digits) } else { near };
    // Avoids a printed "-0".
    up + 0.0
}

/// The largest number with at most this many decimals that is at or below `value`.
pub fn down(value: f64, digits: u8) -> f64 {
    0.0 - up(-value, digits)
}

/// The first number with at most this many decimals, from `low` to `high`, that passes the test; `None`
/// if the last does not. The test must be one that, once passed, is passed by all larger numbers: few of them are
/// tried. The number that is returned has passed in any case.
pub fn first_passing(
    low: f64,
    high: f64,
    digits: u8,
    mut passes: impl FnMut(f64) -> bool,
) -> Option<f64> {
    let count = |number: f64| (number * steps(digits)).round();
    let (first, last) = (count(up(low, digits)), count(down(high, digits)));
    if !matches!(first.partial_cmp(&last), Some(Ordering::Less | Ordering::Equal)) {
        return None;
    }
    if !passes(of_steps(last, digits)) {
        return None;
    }
    let (mut failed, mut passed) = (first - 1.0, last);
    while passed - failed > 1.0 {
        let middle = (0.5 * (failed + passed)).floor();
        if passes(of_steps(middle, digits)) {
            passed = middle;
        } else {
            failed = middle;
        }
    }
    Some(of_steps(passed, digits))
}

/// Number of steps of the last digit in a unit.
fn steps(digits: u8) -> f64 {
    10.0_f64.powi(i32::from(digits))
}

/// Dividing gives the float nearest to the decimal, as parsing its digits does; multiplying by 0.1
/// would not.
fn of_steps(count: f64, digits: u8) -> f64 {
    count / steps(digits)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn rounding_up_never_lowers_and_rounding_down_never_raises() {
        let text = |number: f64| format!("{number}");
        assert_eq!(text(up(0.2551, 2)), "0.26");
        assert_eq!(text(down(0.2599, 2)), "0.25");
        assert_eq!(text(up(0.26, 2)), "0.26");
        assert_eq!(text(down(0.26, 2)), "0.26");
        assert_eq!(text(up(28.000_000_001, 0)), "29");
        assert_eq!(text(down(-0.3, 0)), "-1");
        assert_eq!((text(up(-0.3, 0)), text(down(0.3, 0))), ("0".into(), "0".into()));
        assert!(up(f64::NAN, 2).is_nan() && down(f64::NAN, 2).is_nan());
        assert!(up(f64::INFINITY, 2).is_infinite());
    }

    #[test]
    fn the_first_number_that_passes_is_found_or_none() {
        let first_from = |least: f64| first_passing(0.0, 0.5, 2, |number| number >= least);
        assert_eq!(first_from(0.071).map(|number| format!("{number}")), Some("0.08".into()));
        assert_eq!(first_from(0.5).map(|number| format!("{number}")), Some("0.5".into()));
        assert_eq!(first_from(0.501), None);
        let mut tried = 0;
        let found = first_passing(0.0, 5.0, 2, |number| {
            tried += 1;
            number >= 1.234
        });
        assert!(
            found.is_some_and(|number| format!("{number}") == "1.24") && tried <= 10,
            "{tried}"
        );
        assert_eq!(first_passing(3.2, 3.9, 0, |_| true), None);
        assert_eq!(first_passing(f64::NAN, 3.0, 0, |_| true), None);
        assert_eq!(first_passing(1.0, f64::NAN, 0, |_| true), None);
    }

    proptest! {
        #[test]
        fn what_is_read_lies_on_the_safe_side_and_near(value in -5e3f64..5e3, digits in 0u8..4) {
            let places = usize::from(digits);
            let read = |number: f64| format!("{number:.places$}").parse::<f64>();
            let step = 1.0 / steps(digits);
            let (above, below) = (read(up(value, digits)), read(down(value, digits)));
            prop_assert!(above.clone().is_ok_and(|above| above >= value && above < value + step));
            prop_assert!(below.clone().is_ok_and(|below| below <= value && below > value - step));
        }
    }
}
