//! Formats durations and the times of events.

use super::number::one_decimal;

/// A time: "2 h 10 min", "45 min", "30 s".
pub fn duration(seconds: f64) -> String {
    rounded(seconds, f64::round)
}

/// A duration that is a limit, rounded down.
pub fn duration_at_most(seconds: f64) -> String {
    rounded(seconds, f64::floor)
}

/// A duration that exceeded a limit, rounded up.
pub fn duration_at_least(seconds: f64) -> String {
    rounded(seconds, f64::ceil)
}

fn rounded(seconds: f64, round: impl Fn(f64) -> f64) -> String {
    let tenths = round(seconds * 10.0) / 10.0;
    if tenths < 59.5 {
        return format!("{} s", one_decimal(tenths));
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

/// A duration for a table: `1 h 05 min`, `4 min 10 s`, `30 s`.
pub fn padded_duration(seconds: f64) -> String {
    if !seconds.is_finite() {
        return "–".into();
    }
    // A number and its unit stay on one line.
    match hours_minutes_seconds(seconds.round()) {
        (0, 0, s) => format!("{s}\u{a0}s"),
        (0, m, 0) => format!("{m}\u{a0}min"),
        (0, m, s) => format!("{m}\u{a0}min {s:02}\u{a0}s"),
        (h, m, 0) => format!("{h}\u{a0}h {m:02}\u{a0}min"),
        (h, m, s) => format!("{h}\u{a0}h {m:02}\u{a0}min {s:02}\u{a0}s"),
    }
}

/// A duration, always in hours and minutes: `0 h 45 min`.
pub fn hours_and_minutes(seconds: f64) -> String {
    let (hours, minutes, _) = hours_minutes_seconds((seconds / 60.0).round() * 60.0);
    format!("{hours} h {minutes:02} min")
}

/// A time on a clock that starts at zero: `1:05`, or `1:05:30` where the seconds count.
pub fn clock(at_s: f64) -> String {
    if !at_s.is_finite() {
        return "–".into();
    }
    match hours_minutes_seconds(at_s.round()) {
        (hours, minutes, 0) => format!("{hours}:{minutes:02}"),
        (hours, minutes, seconds) => format!("{hours}:{minutes:02}:{seconds:02}"),
    }
}

/// A running clock with whole seconds: `0:05:12`.
pub fn clock_with_seconds(at_s: f64) -> String {
    let (hours, minutes, seconds) = hours_minutes_seconds(at_s);
    format!("{hours}:{minutes:02}:{seconds:02}")
}

fn hours_minutes_seconds(seconds: f64) -> (u64, u64, u64) {
    let full = seconds.max(0.0) as u64;
    (full / 3600, full / 60 % 60, full % 60)
}

/// The time of an event in minutes, after a leading space.
pub fn at_minute(at_s: Option<f64>) -> String {
    at_s.map_or_else(String::new, |s| format!(" at minute {:.0}", s / 60.0))
}

/// The time of an event in minutes and seconds, after a leading space.
pub fn at_second(at_s: Option<f64>) -> String {
    at_s.map_or_else(String::new, |s| {
        let seconds = s.round();
        format!(" at {:.0}:{:02.0} min", (seconds / 60.0).floor(), seconds % 60.0)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_are_shown_in_the_customary_units() {
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
    fn seconds_do_not_round_to_sixty() {
        assert_eq!(at_second(Some(2707.0)), " at 45:07 min");
        assert_eq!(at_second(Some(2699.7)), " at 45:00 min");
        assert_eq!(at_second(None), "");
    }

    #[test]
    fn times_are_written_as_on_a_clock() {
        assert_eq!((clock(3671.4), clock(3540.0)), limits("1:01:11", "0:59"));
        assert_eq!(clock_with_seconds(3723.9), "1:02:03");
        assert_eq!(hours_and_minutes(2699.7), "0 h 45 min");
    }
}
