//! The times of faults: their limits, and how they are written.

/// Written in place of a minute for a fault that is there before the start button is pressed.
pub const BEFORE_START: &str = "before";

/// The latest minute of a fault: three days.
pub const MINUTE_MAX: f64 = 4320.0;

/// The longest period of a fault that comes and goes (s): a day.
pub const PERIOD_MAX_S: f64 = 86_400.0;

/// The shortest time for which a fault is there, or away (s): one tick, so that none falls between two.
pub const SHORTEST_S: f64 = 0.1;

/// Times of faults are whole milliseconds.
pub(super) fn whole_ms(seconds: f64) -> f64 {
    (seconds * 1000.0).round() / 1000.0
}

/// Minutes with as few digits as give the same millisecond: five are always enough.
pub(super) fn minutes_text(seconds: f64) -> String {
    let ms = |seconds: f64| (seconds * 1000.0).round() as i64;
    let minutes = seconds / 60.0;
    let exact = |text: &String| {
        text.parse::<f64>().is_ok_and(|minutes| ms(minutes * 60.0) == ms(seconds))
    };
    (0..=5)
        .map(|digits| format!("{minutes:.digits$}"))
        .find(exact)
        .unwrap_or_else(|| minutes.to_string())
}

/// Seconds with as many digits as they need.
pub(super) fn seconds_text(seconds: f64) -> String {
    seconds.to_string()
}
