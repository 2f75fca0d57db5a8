//! The sentence about the melted back surface.

use super::advice;
use super::finding::{Finding, Outcome};
use super::outer_glass::{LeastSoak, MeltBackFinding};
use crate::format::{Scale, distinct};
use crate::rounding;

/// Alternatives where no soak melts the surface back.
const ALTERNATIVES: &str = "Blast more finely, leave a thicker skin of glass, or use a furnace that allows \
                            a hotter or longer soak.";

pub(super) fn levelled(f: &Finding, found: MeltBackFinding, scale: Scale) -> String {
    let (left, limit) = distinct(f.measured * 1e6, f.limit * 1e6, 1);
    match found {
        MeltBackFinding::NoGlass => {
            "cannot be computed: the work names no glass. Name it under [work.coat].".into()
        }
        MeltBackFinding::Indistinct { times, even_m, least } => format!(
            "the model {} {} times over, so it cannot tell this firing from a much shorter or \
             colder one, nor what the extra heat does to shape and margins. {}",
            even_m.map_or_else(
                || "has levelled the surface".into(),
                |even_m| format!("would have levelled even {:.0} µm", even_m * 1e6)
            ),
            count(times),
            enough(least, scale)
        ),
        MeltBackFinding::Computed { times, even_m, .. }
            if f.outcome == Outcome::Pass && times >= 2.0 && times.is_finite() =>
        {
            format!(
                "yes, {left} µm of roughness left, {limit} µm allowed; the heat was enough {} times \
                 over{}.",
                count(times),
                even_m.map_or_else(String::new, |even_m| format!(
                    " even for {:.0} µm",
                    even_m * 1e6
                ))
            )
        }
        MeltBackFinding::Computed { .. } if f.outcome == Outcome::Pass => {
            format!("yes, {left} µm of roughness left, {limit} µm allowed.")
        }
        MeltBackFinding::Computed { advice, .. } => format!(
            "no, {left} µm of roughness left, {limit} µm allowed.{}",
            advice::advised(advice, scale, ALTERNATIVES)
        ),
    }
}

/// The least soaks that meet the limit.
fn enough(LeastSoak { as_long, as_hot: (minutes, at_c) }: LeastSoak, scale: Scale) -> String {
    let hot = format!("after {minutes} min at {}", scale.setpoint(at_c));
    match as_long {
        Some((from_c, soak_min)) => format!(
            "The limit is met from {} for {soak_min:.0} min, or {hot}.",
            scale.round_up_within(from_c, at_c)
        ),
        None => format!("The limit is met {hot}."),
    }
}

/// A count in two digits, rounded down: 14239 is "14,000".
fn count(times: f64) -> String {
    let digits = libm::floor(libm::log10(times)) - 1.0;
    let step = libm::pow(10.0, digits.max(0.0));
    let whole = format!("{:.0}", rounding::down(times / step, 0) * step);
    let grouped = whole.char_indices().map(|(at, digit)| {
        let after = whole.len() - at;
        if at > 0 && after.is_multiple_of(3) { format!(",{digit}") } else { digit.to_string() }
    });
    grouped.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_have_two_digits() {
        let said: Vec<_> =
            [2.9, 14.7, 99.9, 128.0, 14_239.0, 2_999_999.0].map(count).into_iter().collect();
        assert_eq!(said, ["2", "14", "99", "120", "14,000", "2,900,000"]);
    }
}
