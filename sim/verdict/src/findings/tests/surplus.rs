//! Surplus glass: what runs over the margin, what stays, and what is advised.

use super::*;

/// Alumina under a coat of this thickness (mm), wet.
fn brushed(mm: f64) -> WorkSpec {
    let mut work = coated();
    if let Some(coat) = &mut work.coat {
        coat.thickness_m = UncertainValue::relative(mm * 1e-3, 0.05);
    }
    work
}

fn with_rim(mut work: WorkSpec, mm: f64) -> WorkSpec {
    if let Some(coat) = &mut work.coat {
        coat.bare_rim_m = mm * 1e-3;
    }
    work
}

/// The finding after 30 min at 1120 °C.
fn found(work: &WorkSpec) -> Finding {
    verdict(work, 1120.0, 1800, 5000.0).find(is!(Surplus)).unwrap().clone()
}

fn advice(finding: &Finding) -> SurplusAdvice {
    let Subject::Surplus(Surplus { advice: Some(cure), .. }) = &finding.subject else {
        panic!("{finding:?}")
    };
    *cure
}

#[test]
fn two_millimetres_of_coat_on_half_a_millimetre_of_wall_run_over_the_margin() {
    let thick = found(&brushed(2.0));
    assert_eq!(thick.outcome, Outcome::Fail);
    let line = thick.line(Scale::Celsius);
    assert!(line.contains("over the margin at minute "), "{line}");
    assert!(line.contains("onto the pin and the fitting surface"), "{line}");
    // Far more than the wall is high: no rim helps.
    assert_eq!(advice(&thick).rim_mm, None);
    assert!(line.contains("the wall is not high enough"), "{line}");
}

#[test]
fn a_coat_that_the_pores_drink_stays_where_it_is() {
    let thin = found(&brushed(0.3));
    assert_eq!(thin.outcome, Outcome::Pass);
    let line = thin.line(Scale::Celsius);
    assert!(line.starts_with("Surplus glass: stays where it was brushed"), "{line}");
    assert!(
        line.contains(" Left to grind: 0.01 mm of glass on average, 2 mm³ per piece. At the "),
        "{line}"
    );
}

#[test]
fn glass_that_stays_only_at_the_best_estimate_is_not_known_to_stay() {
    let over = found(&brushed(0.45));
    assert_eq!(over.outcome, Outcome::NotKnown, "{}", over.line(Scale::Celsius));
    let line = over.line(Scale::Celsius);
    assert!(
        line.contains("glass: may run over the margin: only a run of less than "),
        "{line}"
    );
    assert!(
        line.contains(" mm has 90 % confidence, most of the difference from the contact angle")
    );
    assert!(line.contains("At the best estimate it runs 0.1 mm below the coat."), "{line}");
    // The glass as it wets at 20° is no best estimate that stays.
    let mut flat = brushed(0.45);
    flat.coat.as_mut().unwrap().glass.contact_angle_deg = 20.0;
    assert_eq!(found(&flat).outcome, Outcome::Fail);
    // A rough coat is the worse input where the angle is known to be large.
    let mut rough = brushed(0.45);
    let coat = rough.coat.as_mut().unwrap();
    coat.glass.contact_angle_deg = 50.0;
    coat.thickness_m = UncertainValue::absolute(0.45e-3, 0.6e-3);
    let line = found(&rough).line(Scale::Celsius);
    assert!(line.contains("from the thickness of the coat"), "{line}");
}

#[test]
fn the_advised_rim_and_the_advised_coat_are_just_enough() {
    let over = found(&brushed(0.38));
    assert_eq!(over.outcome, Outcome::NotKnown, "{}", over.line(Scale::Celsius));
    let SurplusAdvice { rim_mm: Some(rim_mm), coat: Some(coat) } = advice(&over) else {
        panic!("{:?}", advice(&over))
    };
    let line = over.line(Scale::Celsius);
    assert!(line.contains(&format!("end the coat {rim_mm:.1} mm above the margin")), "{line}");
    assert!(coat.fills_wall);
    assert!(line.ends_with(&format!("at most {:.2} mm thick.", coat.mm)), "{line}");
    let outcome = |rim: f64, mm: f64| found(&with_rim(brushed(mm), rim)).outcome;
    assert_eq!(outcome(rim_mm, 0.38), Outcome::Pass);
    assert_eq!(outcome(rim_mm - 0.1, 0.38), Outcome::NotKnown);
    assert_eq!(outcome(2.0, coat.mm), Outcome::Pass);
    assert_eq!(outcome(2.0, coat.mm + 0.01), Outcome::NotKnown);
}

/// How far it runs with 90 % confidence (m).
fn likely_m(work: &WorkSpec, soak_s: u32) -> f64 {
    let found = verdict(work, 1120.0, soak_s, 5000.0).find(is!(Surplus)).unwrap().clone();
    let Subject::Surplus(Surplus { likely_run_m, .. }) = found.subject else {
        panic!("{found:?}")
    };
    likely_run_m
}

#[test]
fn a_coat_that_is_known_well_runs_less_far() {
    let with = |sd: f64| {
        let mut work = brushed(0.38);
        work.coat.as_mut().unwrap().thickness_m = UncertainValue::relative(0.38e-3, sd);
        likely_m(&work, 1800)
    };
    assert!(with(0.02) < with(0.1) && with(0.1) < with(0.2));
}

#[test]
fn the_viscosity_counts_once_the_wall_is_full() {
    let with = |log10_sd: f64, soak_s: u32| {
        let mut work = brushed(0.6);
        work.coat.as_mut().unwrap().glass.log10_sd = log10_sd;
        likely_m(&work, soak_s)
    };
    assert!(with(0.5, 5400) > 1.1 * with(0.0, 5400), "{} {}", with(0.5, 5400), with(0.0, 5400));
}

#[test]
fn what_is_no_number_never_passes() {
    let mut work = brushed(0.3);
    assert_eq!(found(&work).outcome, Outcome::Pass);
    work.coat.as_mut().unwrap().glass.log10_sd = f64::NAN;
    assert_eq!(found(&work).outcome, Outcome::NotKnown);
}

#[test]
fn a_coat_too_thin_for_the_wall_is_not_advised() {
    // This wall needs more glass than stays on it at once.
    let mut work = brushed(1.6);
    work.wall_m = UncertainValue::relative(1.2e-3, 0.05);
    let over = found(&work);
    let cure = advice(&over);
    assert!(cure.coat.is_some_and(|coat| !coat.fills_wall), "{cure:?}");
    let line = over.line(Scale::Celsius);
    assert!(line.contains("would not hold enough glass for the wall"), "{line}");
    assert!(!line.contains("make the wet coat"), "{line}");
}

#[test]
fn without_a_rim_only_glass_that_moves_fails() {
    assert_eq!(found(&with_rim(brushed(0.1), 0.0)).outcome, Outcome::Pass);
    let over = found(&with_rim(brushed(0.65), 0.0));
    assert_eq!(over.outcome, Outcome::Fail);
    assert!(over.margin.is_finite() && over.margin < 0.0);
    let line = over.line(Scale::Celsius);
    assert!(
        line.contains(" mm below the coat, and no rim is bare: it runs over the margin at"),
        "{line}"
    );
    let perhaps = found(&with_rim(brushed(0.2), 0.0));
    assert_eq!(perhaps.outcome, Outcome::NotKnown);
    let line = perhaps.line(Scale::Celsius);
    assert!(line.contains("from the contact angle, and no rim is bare. At the best"), "{line}");
    assert!(!line.contains("000"), "{line}");
}

#[test]
fn a_glass_that_never_softened_has_no_finding() {
    assert_eq!(verdict(&brushed(2.0), 600.0, 600, 5000.0).find(is!(Surplus)), None);
    assert_eq!(verdict(&bare(), 1120.0, 600, ATMOSPHERE_PA).find(is!(Surplus)), None);
}

#[test]
fn a_film_that_hardly_moves_is_told_in_hundredths() {
    // At this angle it moves by a few micrometres.
    let at = |angle: f64| {
        let mut work = with_rim(brushed(0.4), 0.0);
        work.coat.as_mut().unwrap().glass.contact_angle_deg = angle;
        found(&work)
    };
    let (mut moves, mut stays) = (20.0, 40.0);
    for _ in 0..14 {
        let middle = 0.5 * (moves + stays);
        if at(middle).outcome == Outcome::Fail { moves = middle } else { stays = middle }
    }
    let line = at(moves).line(Scale::Celsius);
    assert!(
        line.contains("runs less than 0.01 mm below the coat, and no rim is bare"),
        "{line}"
    );
}

#[test]
fn the_strip_that_glass_does_not_reach_is_told() {
    let said = |rim_mm: f64, soak_s: u32| {
        let work = with_rim(brushed(0.3), rim_mm);
        let depth_mm = {
            let (piece, _) = fire(&work, 1120.0, soak_s, 5000.0);
            1e3 * piece.front.unwrap().predicted_depth_m()
        };
        let found = verdict(&work, 1120.0, soak_s, 5000.0);
        let line = line_of(&found, is!(Surplus));
        let dry = line.split_once(" At the margin about ").map(|(_, rest)| {
            let (mm, after) = rest.split_once(' ').unwrap();
            assert!(after.starts_with("mm stay without glass."), "{line}");
            mm.parse::<f64>().unwrap()
        });
        (dry, depth_mm)
    };
    for (rim_mm, soak_s) in [(2.0, 1800), (3.0, 1800), (2.0, 600)] {
        let (dry, depth_mm) = said(rim_mm, soak_s);
        assert!((dry.unwrap() - (rim_mm - depth_mm)).abs() < 0.051, "{dry:?} {depth_mm}");
    }
    // A rim as narrow as the glass goes sideways gets all of it.
    let (_, depth_mm) = said(2.0, 1800);
    assert_eq!(said(depth_mm - 0.1, 1800).0, None);
    // Nothing is dry where there are no pores.
    let mut skin = brushed(0.1);
    (skin.infiltrated, skin.body) = (true, BodySpec::named("alumina-infiltrated").unwrap());
    assert!(!found(&skin).line(Scale::Celsius).contains("without glass"));
}
