//! The sentence about the cooling mismatch.

use super::finding::{Finding, Outcome};
use super::limits::STRESS_SAFETY;
use super::outer_glass::Mismatch;
use crate::format::{Scale, distinct};

pub(super) fn stress(f: &Finding, found: &Mismatch, scale: Scale) -> String {
    let (glass, body) = (found.glass_per_k * 1e6, found.body_per_k * 1e6);
    let cause = format!(
        "a first approximation, from expansions of {glass:.2} (glass) and {body:.2} (infiltrated body) \
         millionths per kelvin below {}",
        scale.whole_degrees(found.transition_c)
    );
    if f.outcome == Outcome::Note {
        return format!(
            "compression of {:.0} MPa in the skin of glass once it is cold; {cause}.",
            -f.measured / 1e6
        );
    }
    let (tension, allowed) = distinct(f.measured / 1e6, f.limit / 1e6, 0);
    let cure = if f.outcome == Outcome::Fail {
        " The skin may craze: use a glass that expands less than the body."
    } else {
        ""
    };
    format!(
        "tension of {tension} MPa in the skin of glass once it is cold; {allowed} MPa is allowed \
         (strength {:.0} MPa, safety factor {STRESS_SAFETY:.0}); {cause}.{cure}",
        f.limit * STRESS_SAFETY / 1e6
    )
}
