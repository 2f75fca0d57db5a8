//! Temperatures in degrees Celsius or Fahrenheit.

use super::number::{distinct, one_decimal};
use crate::rounding;

/// The temperature scale of the output.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Scale {
    /// Degrees Celsius.
    #[default]
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
}

impl Scale {
    /// A temperature: "1120 °C", "2048 °F", "21.5 °C".
    pub fn temperature(self, c: f64) -> String {
        format!("{} {}", one_decimal(self.value(c)), self.unit())
    }

    /// A difference of temperatures: "5 K" or "9 °F".
    pub fn difference(self, k: f64) -> String {
        format!("{} {}", one_decimal(self.difference_value(k)), self.difference_unit())
    }

    /// A rate, from K/min: "15 K/min" or "27 °F/min".
    pub fn rate(self, k_per_min: f64) -> String {
        format!("{}/min", self.difference(k_per_min))
    }

    /// A temperature, in whole degrees.
    pub fn whole_degrees(self, c: f64) -> String {
        format!("{:.0} {}", self.value(c), self.unit())
    }

    /// A temperature difference with one decimal: "5.0 K".
    pub fn difference_tenths(self, k: f64) -> String {
        format!("{:.1} {}", self.difference_value(k), self.difference_unit())
    }

    /// A temperature difference and its limit, with enough digits to show which one is larger.
    pub fn difference_and_limit(self, k: f64, limit_k: f64) -> (String, String) {
        let (k, limit) = distinct(self.difference_value(k), self.difference_value(limit_k), 1);
        (
            format!("{k} {}", self.difference_unit()),
            format!("{limit} {}", self.difference_unit()),
        )
    }

    /// A minimum temperature in advice: rounded up to whole degrees, or to more digits if a whole degree
    /// would exceed `most_c`.
    pub fn round_up_within(self, c: f64, most_c: f64) -> String {
        let (reading, most) = (self.value(c), self.value(most_c));
        let whole = rounding::up(reading, 0);
        let fits = |number: &f64| *number <= most;
        let mut finer = (1..=3).map(|digits| rounding::up(reading, digits));
        let said = Some(whole).filter(fits).or_else(|| finer.find(fits)).unwrap_or(whole);
        format!("{said} {}", self.unit())
    }

    /// A maximum temperature in advice: rounded down to whole degrees.
    pub fn round_down(self, c: f64) -> String {
        format!("{} {}", rounding::down(self.value(c), 0), self.unit())
    }

    /// A setpoint, rounded up to a tenth.
    pub fn setpoint(self, c: f64) -> String {
        format!("{} {}", rounding::up(self.value(c), 1), self.unit())
    }

    /// A difference that must stay below this value, rounded down to a tenth.
    pub fn difference_at_most(self, k: f64) -> String {
        format!("{:.1} {}", rounding::down(self.difference_value(k), 1), self.difference_unit())
    }

    /// A temperature (°C) in the scale.
    pub fn value(self, c: f64) -> f64 {
        match self {
            Self::Celsius => c,
            // Nine fifths are exact for whole degrees, as 1.8 is not.
            Self::Fahrenheit => c * 9.0 / 5.0 + 32.0,
        }
    }

    /// The sign of a temperature.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
        }
    }

    /// A difference of temperatures (K) in degrees of the scale.
    pub fn difference_value(self, k: f64) -> f64 {
        match self {
            Self::Celsius => k,
            Self::Fahrenheit => k * 1.8,
        }
    }

    /// The sign of a degree, in a difference.
    pub const fn difference_unit(self) -> &'static str {
        match self {
            Self::Celsius => "K",
            Self::Fahrenheit => "°F",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_scales() {
        let (c, f) = (Scale::Celsius, Scale::Fahrenheit);
        assert_eq!((c.temperature(0.05), f.temperature(1120.0)), words("0.1 °C", "2048 °F"));
        assert_eq!((c.difference(5.0), f.difference(5.0)), words("5 K", "9 °F"));
        assert_eq!((c.rate(10.0), f.rate(10.0)), words("10 K/min", "18 °F/min"));
        assert_eq!(
            (c.whole_degrees(1120.0), f.whole_degrees(1120.0)),
            words("1120 °C", "2048 °F")
        );
        assert_eq!(
            (c.difference_tenths(10.0), f.difference_tenths(10.0)),
            words("10.0 K", "18.0 °F")
        );
    }

    fn words(celsius: &str, fahrenheit: &str) -> (String, String) {
        (celsius.to_owned(), fahrenheit.to_owned())
    }

    #[test]
    fn advice_is_rounded_to_the_safe_side_in_both_scales() {
        let (c, f) = (Scale::Celsius, Scale::Fahrenheit);
        assert_eq!(
            (c.round_up_within(1120.2, 1180.0), c.round_down(96.04)),
            ("1121 °C".into(), "96 °C".into())
        );
        assert_eq!(
            (f.round_up_within(1121.0, 1180.0), f.round_down(96.04)),
            ("2050 °F".into(), "204 °F".into())
        );
        // A whole degree more would be hotter than the furnace allows.
        assert_eq!(f.round_up_within(1121.0, 1121.0), "2049.8 °F");
        assert_eq!(
            (c.setpoint(1120.0), f.setpoint(1120.0)),
            ("1120 °C".into(), "2048 °F".into())
        );
        assert_eq!(
            (c.setpoint(1120.04), f.setpoint(1121.0)),
            ("1120.1 °C".into(), "2049.8 °F".into())
        );
        assert_eq!(
            (c.difference_at_most(65.79), f.difference_at_most(10.0)),
            ("65.7 K".into(), "18.0 °F".into())
        );
    }
}
