//! Temperatures as a technician wants them: in degrees Celsius or Fahrenheit.

use super::number::{distinct, one_decimal};
use crate::rounding;

/// In which scale temperatures are said.
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
        format!("{} {}", one_decimal(self.reading(c)), self.sign())
    }

    /// A difference of temperatures: "5 K" or "9 °F".
    pub fn difference(self, k: f64) -> String {
        format!("{} {}", one_decimal(self.degrees(k)), self.degree())
    }

    /// A rate, from K/min: "15 K/min" or "27 °F/min".
    pub fn rate(self, k_per_min: f64) -> String {
        format!("{}/min", self.difference(k_per_min))
    }

    /// A temperature, in whole degrees.
    pub fn whole(self, c: f64) -> String {
        format!("{:.0} {}", self.reading(c), self.sign())
    }

    /// A difference of temperatures, always with its tenths: "5.0 K".
    pub fn tenths(self, k: f64) -> String {
        format!("{:.1} {}", self.degrees(k), self.degree())
    }

    /// A difference of temperatures beside another that it must not pass, to as many digits as
    /// show on which side it is.
    pub fn beside(self, k: f64, limit_k: f64) -> (String, String) {
        let (k, limit) = distinct(self.degrees(k), self.degrees(limit_k), 1);
        (format!("{k} {}", self.degree()), format!("{limit} {}", self.degree()))
    }

    /// A temperature that advice asks to reach: rounded up to whole degrees, or to as many digits as
    /// keep it at or below `most_c`.
    pub fn at_least(self, c: f64, most_c: f64) -> String {
        let (reading, most) = (self.reading(c), self.reading(most_c));
        let whole = rounding::up(reading, 0);
        let fits = |number: &f64| *number <= most;
        let mut finer = (1..=3).map(|digits| rounding::up(reading, digits));
        let said = Some(whole).filter(fits).or_else(|| finer.find(fits)).unwrap_or(whole);
        format!("{said} {}", self.sign())
    }

    /// A temperature that advice asks not to pass: rounded down to whole degrees.
    pub fn at_most(self, c: f64) -> String {
        format!("{} {}", rounding::down(self.reading(c), 0), self.sign())
    }

    /// A setpoint, to a tenth and never below what it is.
    pub fn setpoint(self, c: f64) -> String {
        format!("{} {}", rounding::up(self.reading(c), 1), self.sign())
    }

    /// A difference that is not to be reached, rounded down to a tenth.
    pub fn difference_at_most(self, k: f64) -> String {
        format!("{:.1} {}", rounding::down(self.degrees(k), 1), self.degree())
    }

    /// A temperature (°C) in the scale.
    pub fn reading(self, c: f64) -> f64 {
        match self {
            Self::Celsius => c,
            // Nine fifths are exact for whole degrees, as 1.8 is not.
            Self::Fahrenheit => c * 9.0 / 5.0 + 32.0,
        }
    }

    /// The sign of a temperature.
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
        }
    }

    /// A difference of temperatures (K) in degrees of the scale.
    pub fn degrees(self, k: f64) -> f64 {
        match self {
            Self::Celsius => k,
            Self::Fahrenheit => k * 1.8,
        }
    }

    /// The sign of a degree, in a difference.
    pub const fn degree(self) -> &'static str {
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
        assert_eq!((c.whole(1120.0), f.whole(1120.0)), words("1120 °C", "2048 °F"));
        assert_eq!((c.tenths(10.0), f.tenths(10.0)), words("10.0 K", "18.0 °F"));
    }

    fn words(celsius: &str, fahrenheit: &str) -> (String, String) {
        (celsius.to_owned(), fahrenheit.to_owned())
    }

    #[test]
    fn advice_lies_on_its_side_in_both_scales() {
        let (c, f) = (Scale::Celsius, Scale::Fahrenheit);
        assert_eq!(
            (c.at_least(1120.2, 1180.0), c.at_most(96.04)),
            ("1121 °C".into(), "96 °C".into())
        );
        assert_eq!(
            (f.at_least(1121.0, 1180.0), f.at_most(96.04)),
            ("2050 °F".into(), "204 °F".into())
        );
        // A whole degree more would be hotter than the furnace allows.
        assert_eq!(f.at_least(1121.0, 1121.0), "2049.8 °F");
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
