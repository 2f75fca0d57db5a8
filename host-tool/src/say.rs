//! Quantities as people say them.

/// A temperature: "1120 °C".
pub fn celsius(celsius: f64) -> String {
    format!("{} °C", tidy(celsius))
}

/// A temperature, in degrees Fahrenheit as well if that is wanted: "1120 °C (2048 °F)".
pub fn temperature(celsius: f64, fahrenheit: bool) -> String {
    if fahrenheit {
        format!("{} °C ({:.0} °F)", tidy(celsius), celsius * 1.8 + 32.0)
    } else {
        self::celsius(celsius)
    }
}

/// A rate: "15 K/min"; with Fahrenheit "15 K/min (27 °F/min)".
pub fn rate(kelvin_per_minute: f64, fahrenheit: bool) -> String {
    if fahrenheit {
        format!("{} K/min ({:.0} °F/min)", tidy(kelvin_per_minute), kelvin_per_minute * 1.8)
    } else {
        format!("{} K/min", tidy(kelvin_per_minute))
    }
}

/// A difference: "5 K"; with Fahrenheit "5 K (9 °F)".
pub fn difference(kelvin: f64, fahrenheit: bool) -> String {
    if fahrenheit {
        format!("{} K ({} °F)", tidy(kelvin), tidy(kelvin * 1.8))
    } else {
        format!("{} K", tidy(kelvin))
    }
}

/// A time: "2 h 10 min", "45 min", "30 s".
pub fn duration(seconds: f64) -> String {
    if seconds < 59.5 {
        return format!("{} s", tidy(seconds));
    }
    let whole = seconds.round();
    if whole < 600.0 && whole % 60.0 >= 1.0 {
        return format!("{} min {} s", (whole / 60.0).floor(), whole % 60.0);
    }
    let minutes = (seconds / 60.0).round();
    let (hours, rest) = ((minutes / 60.0).floor(), minutes % 60.0);
    if hours < 1.0 {
        format!("{minutes} min")
    } else if rest < 1.0 {
        format!("{hours} h")
    } else {
        format!("{hours} h {rest} min")
    }
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
    fn fahrenheit_comes_with_celsius() {
        assert_eq!(temperature(1120.0, true), "1120 °C (2048 °F)");
        assert_eq!(temperature(0.05, false), "0.1 °C");
        assert_eq!(rate(10.0, true), "10 K/min (18 °F/min)");
    }
}
