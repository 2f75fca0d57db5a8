//! Formats numbers with their units, beside their limits, to a meaningful precision.

use crate::rounding;

/// Maximum number of decimals used to show that two numbers differ.
const DIGITS_MAX: usize = 6;

/// Two numbers with `digits` decimals, or with more if rounding would make different numbers look equal:
/// a value beyond its limit must not read like the limit.
pub fn distinct(value: f64, limit: f64, digits: usize) -> (String, String) {
    let shown = |digits: usize| (format!("{value:.digits$}"), format!("{limit:.digits$}"));
    let alike = |digits: &usize| {
        let (value_said, limit_said) = shown(*digits);
        value_said == limit_said
    };
    let same = (value - limit).abs() < 1e-9 * limit.abs();
    let digits = if same || !value.is_finite() {
        digits
    } else {
        (digits..DIGITS_MAX).find(|digits| !alike(digits)).unwrap_or(DIGITS_MAX)
    };
    shown(digits)
}

/// A number without a trailing `.0`.
pub fn without_zero_decimal(number: &str) -> &str {
    number.strip_suffix(".0").unwrap_or(number)
}

/// A share in whole percent.
pub fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// A confidence in whole percent, rounded down and at most 99 %.
pub fn confidence(probability: f64) -> String {
    format!("{:.0} %", (100.0 * probability).floor().min(99.0))
}

/// An amount of energy (J) in kWh.
pub fn energy(joule: f64) -> String {
    if joule.is_finite() { format!("{:.2} kWh", joule / 3.6e6) } else { "–".into() }
}

/// Units that must not be separated from their number.
const UNITS: [&str; 32] = [
    "%", "°C", "°F", "°F/min", "K", "K/min", "K/s", "s", "min", "h", "mm", "mm²", "mm³", "µm",
    "nm", "cm²", "cm³", "g", "kg", "L", "L/min", "Pa", "hPa", "kPa", "MPa", "GPa", "V", "mA",
    "W", "kW", "kWh", "µV",
];

/// Words that must not be separated from the number after them.
const COUNTED: [&str; 2] = ["minute", "seed"];

/// Joins numbers with the units after them, and with "minute" before them, by no-break spaces, so that
/// no line breaks between them.
pub fn with_nonbreaking_units(text: &str) -> String {
    let mut joined = String::with_capacity(text.len());
    for (nth, word) in text.split(' ').enumerate() {
        let unit = word.trim_end_matches(|c: char| ".,;:)".contains(c));
        let number = joined.ends_with(|last: char| last.is_ascii_digit());
        let digits = word.starts_with(|first: char| first.is_ascii_digit());
        let counted = digits && COUNTED.iter().any(|before| joined.ends_with(before));
        if nth > 0 {
            let stays = number && UNITS.contains(&unit) || counted;
            joined.push(if stays { '\u{a0}' } else { ' ' });
        }
        joined.push_str(word);
    }
    joined
}

/// An upper limit, rounded down to at most this many decimals.
pub fn upper_limit(number: f64, digits: u8) -> String {
    format!("{}", rounding::down(number, digits))
}

/// A lower limit, rounded up to at most this many decimals.
pub fn lower_limit(number: f64, digits: u8) -> String {
    format!("{}", rounding::up(number, digits))
}

/// A number with at most one decimal, and none if it is whole.
pub fn one_decimal(number: f64) -> String {
    let rounded = (number * 10.0).round() / 10.0;
    format!("{rounded}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_never_reads_like_a_limit_that_it_differs_from() {
        let shown = |value, limit| {
            let (value, limit) = distinct(value, limit, 1);
            format!("{value} of {limit}")
        };
        assert_eq!(shown(0.2, 10.0), "0.2 of 10.0");
        assert_eq!(shown(5.02, 5.0), "5.02 of 5.00");
        assert_eq!(shown(4.9996, 5.0), "4.9996 of 5.0000");
        assert_eq!(shown(5.0, 5.0), "5.0 of 5.0");
        assert_eq!(shown(5.0 + 1e-7, 5.0), "5.000000 of 5.000000");
        assert_eq!(shown(f64::NAN, 5.0), "NaN of 5.0");
    }

    #[test]
    fn a_trailing_zero_decimal_is_left_out() {
        assert_eq!(
            (
                without_zero_decimal("10.0"),
                without_zero_decimal("1.00"),
                without_zero_decimal("0.5")
            ),
            ("10", "1.00", "0.5")
        );
    }

    #[test]
    fn numbers_stay_with_their_units() {
        let bound = with_nonbreaking_units(
            "0.68 mm (36 %), 2 h 10 min: 28 more at minute 9, 1120 °C. 4 mmm",
        );
        let wanted = "0.68~mm (36~%), 2~h 10~min: 28 more at minute~9, 1120~°C. 4 mmm";
        assert_eq!(bound, wanted.replace('~', "\u{a0}"));
    }
}
