//! Advice on a soak is enough, and not much more than enough.

use super::*;

/// A glass whose viscosity is known at all temperatures as well as at that of the fit.
fn of_known_glass() -> WorkSpec {
    let mut work = coated();
    work.coat.as_mut().unwrap().glass.activation_error = 0.0;
    work
}

/// The advised soak.
fn advised(verdict: &Verdict) -> SoakAdvice {
    let found = verdict.find(is!(Infiltration)).unwrap();
    let Subject::Infiltration { advice: Some(cure), .. } = found.subject else {
        panic!("{found:?}")
    };
    cure
}

#[test]
fn a_short_soak_fails_and_its_advice_is_just_enough() {
    let short = verdict(&coated(), 1120.0, 300, 5000.0);
    assert!(!short.passed());
    let SoakAdvice::Longer { minutes, at_c } = advised(&short) else {
        panic!("{:?}", advised(&short))
    };
    assert!((at_c - 1120.0).abs() < 1e-9);
    let line = line_of(&short, is!(Infiltration));
    assert!(line.starts_with("FAIL Infiltrated through: no. The front stopped at"), "{line}");
    assert!(line.contains("when the glass stiffened at minute"), "{line}");
    assert!(
        line.ends_with(&format!(" {minutes} more minutes at 1120 °C would be enough.")),
        "{line}"
    );
    let longer = |minutes: f64| {
        let soak_s = 300 + (60.0 * minutes) as u32;
        verdict(&coated(), 1120.0, soak_s, 5000.0).find(is!(Infiltration)).unwrap().outcome
    };
    assert_eq!(longer(minutes), Outcome::Pass);
    // The advice includes a small reserve and is rounded up to a whole minute.
    assert_eq!(longer(minutes - 2.0), Outcome::Fail);
}

#[test]
fn advice_uses_the_temperature_of_the_colder_piece() {
    let (piece, mut firing) = fire(&of_known_glass(), 1120.0, 300, 5000.0);
    let mut minutes = |piece_c: f64| {
        firing.counted().piece_c = piece_c;
        let cure = advised(&assess(&of_known_glass(), std::slice::from_ref(&piece), &firing));
        let SoakAdvice::Longer { minutes, .. } = cure else { panic!("{cure:?}") };
        minutes
    };
    // 20 K change the viscosity by 1 / 0.742; both times are rounded up to whole minutes.
    let (even, cold) = (minutes(1120.0), minutes(1100.0));
    assert!((cold - even / 0.742).abs() < 2.0, "{cold} after {even}");
}

#[test]
fn advice_stays_within_the_limits_of_the_furnace() {
    let (piece, mut firing) = fire(&of_known_glass(), 1120.0, 300, 5000.0);
    let mut within = |most_c: f64, spare_min: f64| {
        firing.limits.programme_max_c = most_c;
        firing.limits.firing_max_s = firing.duration_s + 60.0 * spare_min;
        let verdict = assess(&of_known_glass(), std::slice::from_ref(&piece), &firing);
        (advised(&verdict), line_of(&verdict, is!(Infiltration)))
    };
    let (SoakAdvice::Longer { minutes, .. }, _) = within(1180.0, 600.0) else {
        panic!("no time")
    };
    assert_eq!(within(1180.0, minutes + 1.0).0, SoakAdvice::Longer { minutes, at_c: 1120.0 });
    // There is no time for a longer soak, so the advice is a hotter one.
    let (hotter, line) = within(1300.5, minutes + 0.5);
    assert!(matches!(hotter, SoakAdvice::Hotter { at_c, .. } if at_c > 1120.0), "{hotter:?}");
    assert!(line.contains("too cold: as long at 1"), "{line}");
    let (both, line) = within(1140.5, minutes + 0.5);
    let SoakAdvice::HottestAndLonger { minutes: fewer, at_c, .. } = both else {
        panic!("{both:?}")
    };
    assert!(fewer < minutes && (at_c - 1140.0).abs() < 1e-9, "{both:?}");
    assert!(
        line.contains(" at 1140 °C, as hot as the furnace allows, would be enough."),
        "{line}"
    );
    let (none, line) = within(1140.5, 6.0);
    let SoakAdvice::OutOfReach { minutes, at_c, .. } = none else { panic!("{none:?}") };
    assert!(minutes < 5.0 && (at_c - 1140.0).abs() < 1e-9, "{none:?}");
    assert!(
        line.contains(
            "This furnace cannot do it: no soak within its limits is enough, not even "
        ) && line.contains(" at 1140 °C. "),
        "{line}"
    );
}

#[test]
fn a_soak_far_from_the_temperature_of_the_fit_has_to_be_longer() {
    let minutes = |work: &WorkSpec| {
        let SoakAdvice::Longer { minutes, .. } = advised(&verdict(work, 1080.0, 300, 5000.0))
        else {
            panic!("no longer soak")
        };
        minutes
    };
    let known = minutes(&of_known_glass());
    let unknown = minutes(&coated());
    let mut fitted_here = coated();
    fitted_here.body.fitted_at_c = 1080.0;
    let fitted_here = minutes(&fitted_here);
    assert!(
        unknown > 1.3 * known && unknown > 1.3 * fitted_here,
        "{unknown} {known} {fitted_here}"
    );
    let soak_s = 300 + 60 * unknown as u32;
    assert!(verdict(&coated(), 1080.0, soak_s, 5000.0).passed());
}

#[test]
fn a_soak_that_is_too_cold_gets_a_higher_temperature_as_advice() {
    let cold = verdict(&coated(), 850.0, 1800, 5000.0);
    let SoakAdvice::Hotter { at_c, .. } = advised(&cold) else {
        panic!("{:?}", advised(&cold))
    };
    let line = line_of(&cold, is!(Infiltration));
    assert!(line.ends_with(&format!(" as long at {at_c} °C would be enough.")), "{line}");
    let found = cold.find(is!(Infiltration)).unwrap();
    let line = found.line(Scale::Fahrenheit);
    let fahrenheit = (at_c * 9.0 / 5.0 + 32.0).ceil();
    assert!(line.ends_with(&format!(" as long at {fahrenheit} °F would be enough.")), "{line}");
    assert!(verdict(&coated(), at_c, 1800, 5000.0).passed());
}

#[test]
fn a_firing_that_was_cut_short_gets_no_advice_on_its_soak() {
    let (piece, mut firing) = fire(&coated(), 500.0, 0, 5000.0);
    let line =
        line_of(&assess(&coated(), std::slice::from_ref(&piece), &firing), is!(Infiltration));
    assert!(
        line.contains(" A soak of ") && line.ends_with(" min at 1180 °C would be enough."),
        "{line}"
    );
    firing.ending = Some(Ending::Tripped(Cause::SensorOpen));
    firing.duration_s = 77.0 * 60.0 + 43.0;
    let line =
        line_of(&assess(&coated(), std::slice::from_ref(&piece), &firing), is!(Infiltration));
    assert!(line.starts_with("FAIL ") && !line.contains("more"), "{line}");
    assert!(!line.contains("too cold"), "{line}");
    let end = "no. The glass never entered the wall: the firing ended at minute 78.";
    assert!(line.ends_with(end), "{line}");
}
