//! Quantities as people say them.

use saggar_plant::safe_side;

/// A temperature: "1120 °C".
pub fn celsius(celsius: f64) -> String {
    format!("{} °C", tidy(celsius))
}

/// A temperature in the scale that is wanted: "1120 °C" or "2048 °F".
pub fn temperature(celsius: f64, fahrenheit: bool) -> String {
    if fahrenheit {
        format!("{} °F", tidy(celsius * 1.8 + 32.0))
    } else {
        self::celsius(celsius)
    }
}

/// A rate: "15 K/min" or "27 °F/min".
pub fn rate(kelvin_per_minute: f64, fahrenheit: bool) -> String {
    format!("{}/min", difference(kelvin_per_minute, fahrenheit))
}

/// A difference: "5 K" or "9 °F".
pub fn difference(kelvin: f64, fahrenheit: bool) -> String {
    if fahrenheit {
        format!("{} °F", tidy(kelvin * 1.8))
    } else {
        format!("{} K", tidy(kelvin))
    }
}

/// A time: "2 h 10 min", "45 min", "30 s".
pub fn duration(seconds: f64) -> String {
    rounded(seconds, f64::round)
}

/// A time that is a limit: no longer than it is, in the same form.
pub fn duration_at_most(seconds: f64) -> String {
    rounded(seconds, f64::floor)
}

/// A time that passed a limit: no shorter than it is.
pub fn duration_at_least(seconds: f64) -> String {
    rounded(seconds, f64::ceil)
}

fn rounded(seconds: f64, round: impl Fn(f64) -> f64) -> String {
    let tenths = round(seconds * 10.0) / 10.0;
    if tenths < 59.5 {
        return format!("{} s", tidy(tenths));
    }
    let whole = round(seconds);
    if whole < 600.0 && whole % 60.0 >= 1.0 {
        return format!("{} min {} s", (whole / 60.0).floor(), whole % 60.0);
    }
    let minutes = round(seconds / 60.0);
    let (hours, rest) = ((minutes / 60.0).floor(), minutes % 60.0);
    if hours < 1.0 {
        format!("{minutes} min")
    } else if rest < 1.0 {
        format!("{hours} h")
    } else {
        format!("{hours} h {rest} min")
    }
}

/// The units that a number stays with.
const UNITS: [&str; 32] = [
    "%", "°C", "°F", "°F/min", "K", "K/min", "K/s", "s", "min", "h", "mm", "mm²", "mm³", "µm",
    "nm", "cm²", "cm³", "g", "kg", "L", "L/min", "Pa", "hPa", "kPa", "MPa", "GPa", "V", "mA",
    "W", "kW", "kWh", "µV",
];

/// Words that stay with the number behind them.
const COUNTED: [&str; 2] = ["minute", "seed"];

/// A text whose numbers stay on one line with the units after them, and with "minute" before
/// them, by blanks that do not break.
pub fn bound(text: &str) -> String {
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

/// A number that is the most that is allowed, with at most so many decimals.
pub fn at_most(number: f64, digits: u8) -> String {
    format!("{}", safe_side::down(number, digits))
}

/// A number that is the least that is allowed, with at most so many decimals.
pub fn at_least(number: f64, digits: u8) -> String {
    format!("{}", safe_side::up(number, digits))
}

/// A number with at most one decimal, and none if it is whole.
pub fn tidy(number: f64) -> String {
    let rounded = (number * 10.0).round() / 10.0;
    format!("{rounded}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_said_in_the_unit_that_people_use() {
        assert_eq!(duration(0.5), "0.5 s");
        assert_eq!(duration(59.6), "1 min");
        assert_eq!(duration(90.0), "1 min 30 s");
        assert_eq!(duration(2700.0), "45 min");
        assert_eq!(duration(3600.0), "1 h");
        assert_eq!(duration(7799.0), "2 h 10 min");
    }

    #[test]
    fn a_time_beside_its_limit_is_rounded_away_from_it() {
        assert_eq!(
            (duration_at_least(7801.0), duration_at_most(7859.0)),
            limits("2 h 11 min", "2 h 10 min")
        );
        assert_eq!(
            (duration_at_least(1188.0), duration_at_most(1188.0)),
            limits("20 min", "19 min")
        );
        assert_eq!(
            (duration_at_least(95.2), duration_at_most(95.8)),
            limits("1 min 36 s", "1 min 35 s")
        );
        assert_eq!((duration_at_least(7200.0), duration_at_most(7200.0)), limits("2 h", "2 h"));
        assert_eq!(
            (duration_at_least(12.34), duration_at_most(12.37)),
            limits("12.4 s", "12.3 s")
        );
    }

    fn limits(above: &str, below: &str) -> (String, String) {
        (above.to_owned(), below.to_owned())
    }

    #[test]
    fn fahrenheit_stands_alone() {
        assert_eq!(temperature(1120.0, true), "2048 °F");
        assert_eq!(temperature(0.05, false), "0.1 °C");
        assert_eq!(rate(10.0, true), "18 °F/min");
        assert_eq!(difference(5.0, true), "9 °F");
    }

    #[test]
    fn numbers_stay_with_their_units() {
        let bound = bound("0.68 mm (36 %), 2 h 10 min: 28 more at minute 9, 1120 °C. 4 mmm");
        let wanted = "0.68~mm (36~%), 2~h 10~min: 28 more at minute~9, 1120~°C. 4 mmm";
        assert_eq!(bound, wanted.replace('~', "\u{a0}"));
    }
}
