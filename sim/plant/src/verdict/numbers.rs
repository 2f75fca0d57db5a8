//! How the numbers of a verdict are said.

/// Most digits after the point that show two numbers apart.
const DIGITS_MAX: usize = 6;

/// Two numbers to `digits` after the point, or to more of them where rounding would make equal
/// what is not: a value that passed its limit must not read like the limit.
pub(super) fn apart(value: f64, limit: f64, digits: usize) -> (String, String) {
    let said = |digits: usize| (format!("{value:.digits$}"), format!("{limit:.digits$}"));
    let alike = |digits: &usize| {
        let (value_said, limit_said) = said(*digits);
        value_said == limit_said
    };
    let same = (value - limit).abs() < 1e-9 * limit.abs();
    let digits = if same || !value.is_finite() {
        digits
    } else {
        (digits..DIGITS_MAX).find(|digits| !alike(digits)).unwrap_or(DIGITS_MAX)
    };
    said(digits)
}

/// A number without a nought after its point.
pub(super) fn whole(number: &str) -> &str {
    number.strip_suffix(".0").unwrap_or(number)
}

/// When something happened, to the minute, with a blank before it.
pub(super) fn at_minute(at_s: Option<f64>) -> String {
    at_s.map_or_else(String::new, |s| format!(" at minute {:.0}", s / 60.0))
}

/// When something happened, to the second, with a blank before it.
pub(super) fn at_second(at_s: Option<f64>) -> String {
    at_s.map_or_else(String::new, |s| {
        let seconds = s.round();
        format!(" at {:.0}:{:02.0} min", (seconds / 60.0).floor(), seconds % 60.0)
    })
}

/// A share in whole percent.
pub(super) fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// A probability, rounded down and never to certainty.
pub(super) fn sure(probability: f64) -> String {
    format!("{:.0} %", (100.0 * probability).floor().min(99.0))
}

/// A length of time, in hours and minutes.
pub(super) fn duration(seconds: f64) -> String {
    let minutes = (seconds / 60.0).round();
    format!("{:.0} h {:02.0} min.", (minutes / 60.0).floor(), minutes % 60.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_beside_its_limit_is_told_apart_from_it() {
        let said = |value, limit| {
            let (value, limit) = apart(value, limit, 1);
            format!("{value} of {limit}")
        };
        assert_eq!(said(0.2, 10.0), "0.2 of 10.0");
        assert_eq!(said(5.02, 5.0), "5.02 of 5.00");
        assert_eq!(said(4.9996, 5.0), "4.9996 of 5.0000");
        assert_eq!(said(5.0, 5.0), "5.0 of 5.0");
        assert_eq!(said(5.0 + 1e-7, 5.0), "5.000000 of 5.000000");
        assert_eq!(said(f64::NAN, 5.0), "NaN of 5.0");
    }

    #[test]
    fn a_nought_after_the_point_is_left_out() {
        assert_eq!((whole("10.0"), whole("1.00"), whole("0.5")), ("10", "1.00", "0.5"));
    }

    #[test]
    fn seconds_do_not_round_to_sixty() {
        assert_eq!(at_second(Some(2707.0)), " at 45:07 min");
        assert_eq!(at_second(Some(2699.7)), " at 45:00 min");
        assert_eq!(at_second(None), "");
    }
}
