//! Findings that are not known, although the model has a figure.

use super::*;
use saggar_plant::spec::Purpose;

/// As [`verdict`], with another rate of the ramp to the soak.
fn ramped(work: &WorkSpec, soak_c: f64, soak_s: u32, k_min: f64) -> Verdict {
    let (piece, firing) = fire_at(work, (soak_c, soak_s), 5000.0, k_min / 60.0);
    assess(work, std::slice::from_ref(&piece), &firing)
}

fn infiltration(verdict: &Verdict) -> &Finding {
    verdict.find(is!(Infiltration)).unwrap()
}

/// The slower ramp gives the model more flow, so its own figure would only get better.
#[test]
fn a_slow_approach_makes_an_infiltration_not_known() {
    let fast = ramped(&coated(), 1120.0, 2700, 10.5);
    assert!(fast.passed(), "{:#?}", lines(&fast));
    let slow = ramped(&coated(), 1120.0, 2700, 9.5);
    assert_eq!(slow.result(), VerdictResult::NotKnown, "{:#?}", lines(&slow));
    let through = infiltration(&slow);
    assert!(through.margin > infiltration(&fast).margin);
    let line = through.line(Scale::Celsius);
    let begins = "NOT KNOWN Infiltrated through: the piece went from the glass's transition at 635 °C \
                  to 1000 °C at 9.5 K/min on average, slower than 10 K/min, a bound of our own: what the \
                  glass does on such a way is not known. In a published trial ";
    assert!(line.starts_with(begins), "{line}");
    let modelled = " Ramp faster there, and well past 1000 °C. The model, which leaves this out, says: yes, at minute ";
    assert!(line.contains(modelled), "{line}");
    let headline = slow.headline();
    assert!(headline.starts_with("1 of ") && headline.ends_with(": Infiltrated through"));
    let fahrenheit = through.line(Scale::Fahrenheit);
    assert!(fahrenheit.contains("at 17.1 °F/min on average"), "{fahrenheit}");
    assert!(!fahrenheit.contains("°C") && !fahrenheit.contains(" K/min"), "{fahrenheit}");
}

/// A short visit to 1000 °C does not make a slow way fast.
#[test]
fn a_slow_way_back_makes_an_infiltration_not_known() {
    let mut piece = Piece::new(&coated());
    let corners_min_c: [(f64, f64); 7] = [
        (0.0, 20.0),
        (28.7, 1025.0),
        (33.7, 850.0),
        (213.7, 850.0),
        (312.0, 1145.0),
        (336.0, 1145.0),
        (448.0, 20.0),
    ];
    for pair in corners_min_c.windows(2) {
        let [(from_min, from_c), (to_min, to_c)] = pair else { continue };
        let seconds = (60.0 * (to_min - from_min)).round();
        for second in 1..=seconds as u32 {
            let c = from_c + (to_c - from_c) * f64::from(second) / seconds;
            let (layers_c, vapour_share) = ([c; 4], AMBIENT_VAPOUR_SHARE);
            piece.step(1.0, &PieceConditions { layers_c, pressure_pa: 5000.0, vapour_share });
        }
    }
    let (_, firing) = fire(&coated(), 1145.0, 60, 5000.0);
    let verdict = assess(&coated(), std::slice::from_ref(&piece), &firing);
    let line = infiltration(&verdict).line(Scale::Celsius);
    assert!(line.starts_with("NOT KNOWN "), "{line}");
    // 365 K in 10.4 + 4.3 + 180 + 50 min.
    assert!(
        line.contains(" to 1000 °C at 1.5 K/min on average, slower than 10 K/min"),
        "{line}"
    );
    assert!(line.contains("says: yes,"), "{line}");
}

#[test]
fn a_slow_approach_that_fails_in_the_model_fails() {
    let short = ramped(&coated(), 1010.0, 60, 5.0);
    assert_eq!(infiltration(&short).outcome, Outcome::Fail, "{:#?}", lines(&short));
    // The advice to soak longer does not make the ramp faster.
    let line = infiltration(&short).line(Scale::Celsius);
    assert!(line.starts_with("FAIL Infiltrated through: the piece went from "), "{line}");
    assert!(
        line.contains(" Ramp faster there, and well past 1000 °C. The model, which leaves this out, says: no"),
        "{line}"
    );
    // So does another check beside it.
    let thin = CoatSpec {
        thickness_m: UncertainValue::relative(0.25e-3, 0.15),
        ..coated().coat.unwrap()
    };
    let thin = WorkSpec { coat: Some(thin), ..coated() };
    let slow = ramped(&thin, 1120.0, 2700, 5.0);
    assert_eq!(slow.result(), VerdictResult::Fail, "{:#?}", lines(&slow));
}

#[test]
fn the_bound_of_the_schedule_replaces_ours() {
    let with_bound = |slowest_approach_k_min: f64| {
        let coat = coated().coat.unwrap();
        let glass = GlassSpec { slowest_approach_k_min, ..coat.glass };
        WorkSpec { coat: Some(CoatSpec { glass, ..coat }), ..coated() }
    };
    let with = |k_min: f64| ramped(&with_bound(k_min), 1120.0, 2700, 9.5);
    let slow = with(3.0);
    assert!(slow.passed(), "{:#?}", lines(&slow));
    let line = infiltration(&slow).line(Scale::Celsius);
    let states = " The piece went from the glass's transition at 635 °C to 1000 °C at 9.5 K/min on average: \
                  that counts by the schedule's bound, 3 K/min, and would not by our own, 10 K/min.";
    assert!(line.starts_with("Infiltrated through: yes, ") && line.ends_with(states), "{line}");
    // A bound that changes nothing needs no remark.
    let fast = ramped(&with_bound(3.0), 1120.0, 2700, 10.5);
    assert!(!infiltration(&fast).line(Scale::Celsius).contains("bound"));
    let line = infiltration(&with(20.0)).line(Scale::Celsius);
    assert!(line.contains("slower than 20 K/min, the schedule's bound: "), "{line}");
}

#[test]
fn an_infiltration_below_its_temperatures_is_not_known() {
    let mut fitted_here = coated();
    fitted_here.body.fitted_at_c = 995.0;
    let cold = ramped(&fitted_here, 995.0, 40_000, 30.0);
    assert_eq!(cold.result(), VerdictResult::NotKnown, "{:#?}", lines(&cold));
    let line = infiltration(&cold).line(Scale::Celsius);
    assert!(line.contains("the piece got no hotter than 995 °C. "), "{line}");
    assert!(
        line.contains(" Soak hotter. The model, which leaves this out, says: yes,"),
        "{line}"
    );
}

/// Under vacuum the lubricant chars, and the char burns only in the air that comes back after the soak.
#[test]
fn glass_over_lubricant_is_not_known() {
    let oily = WorkSpec { lubricant_share: 0.02, ..coated() };
    let charred = verdict(&oily, 1120.0, 2700, 5000.0);
    let burnt = charred.find(is!(BurnOff)).unwrap();
    assert_eq!(burnt.outcome, Outcome::Pass, "{:#?}", lines(&charred));
    assert_eq!(charred.result(), VerdictResult::NotKnown, "{:#?}", lines(&charred));
    let line = infiltration(&charred).line(Scale::Celsius);
    assert!(
        line.contains(" over pores that held lubricant, burnt off only at minute "),
        "{line}"
    );
    // Burnt off in time, it is no matter.
    let clean = verdict(&oily, 1120.0, 2700, ATMOSPHERE_PA);
    assert!(clean.passed(), "{:#?}", lines(&clean));
}

#[test]
fn a_record_that_ends_while_the_glass_flows_does_not_fail_the_front() {
    let (_, firing) = fire(&coated(), 1120.0, 60, 5000.0);
    let mut piece = Piece::new(&coated());
    for second in 0..1200 {
        let layers_c = [(500.0 + f64::from(second)).min(1120.0); 4];
        let vapour_share = AMBIENT_VAPOUR_SHARE;
        piece.step(1.0, &PieceConditions { layers_c, pressure_pa: 5000.0, vapour_share });
    }
    let cut = assess(&coated(), std::slice::from_ref(&piece), &firing);
    let through = infiltration(&cut);
    let line = through.line(Scale::Celsius);
    assert_eq!(through.outcome, Outcome::NotKnown, "{line}");
    assert!(line.contains("the glass still flowed when the record ended"), "{line}");
    assert!(line.contains("says: no. The front stopped at "), "{line}");
    // A firing that was cut short fails anyway.
    let stopped = FiringSummary { ending: Some(Ending::Stopped), ..firing };
    let outcome =
        infiltration(&assess(&coated(), std::slice::from_ref(&piece), &stopped)).outcome;
    assert_eq!(outcome, Outcome::Fail);
}

#[test]
fn an_infiltration_without_a_coat_is_not_known() {
    let bare = WorkSpec { lubricant_share: 0.0, ..bare() };
    let cases = [
        (1120.0, ATMOSPHERE_PA, "the piece got to 1120 °C, as in an infiltration"),
        (950.0, 5000.0, "the chamber was at 50 hPa while the piece was above 500 °C"),
    ];
    for (soak_c, pressure_pa, why) in cases {
        let bare = verdict(&bare, soak_c, 2700, pressure_pa);
        assert_eq!(bare.result(), VerdictResult::NotKnown, "{:#?}", lines(&bare));
        let line = line_of(&bare, is!(Uncoated));
        assert!(line.starts_with("NOT KNOWN Infiltrated through: "), "{line}");
        assert!(line.contains(why), "{line}");
        assert!(line.contains("Add [work.coat], or say purpose = \"clean\""), "{line}");
    }
    let stated = WorkSpec { purpose: Some(Purpose::Infiltrate), ..bare };
    let cold = verdict(&stated, 900.0, 2700, ATMOSPHERE_PA);
    let line = line_of(&cold, is!(Uncoated));
    assert!(line.contains("the schedule says that this fire infiltrates"), "{line}");
}

#[test]
fn a_cleaning_fire_claims_nothing_about_glass() {
    let clean = WorkSpec { lubricant_share: 0.0, ..bare() };
    let stated = WorkSpec { purpose: Some(Purpose::Clean), ..clean.clone() };
    for (work, soak_c, pressure_pa) in [
        (&bare(), 1120.0, ATMOSPHERE_PA),
        (&clean, 950.0, ATMOSPHERE_PA),
        (&stated, 1120.0, 5000.0),
    ] {
        let verdict = verdict(work, soak_c, 2700, pressure_pa);
        assert_eq!(verdict.find(is!(Uncoated)), None, "{:#?}", lines(&verdict));
        assert!(verdict.passed(), "{:#?}", lines(&verdict));
    }
}
