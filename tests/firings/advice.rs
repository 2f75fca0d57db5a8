//! Advice of a verdict is enough: with the advised number in the schedule, the finding that gave the
//! advice passes.

use saggar_verdict::format::Scale;
use saggar_verdict::{Outcome, Verdict};

use super::{FiringOptions, Is, finding, fire, schedule};

/// A schedule with variable numbers.
#[derive(Clone, Debug)]
struct Plan {
    furnace: &'static str,
    work: String,
    /// Stages before the ramp.
    before: String,
    to_celsius: String,
    rate: f64,
    /// Length of the soak; zero leaves it out.
    minutes: f64,
    /// Mains voltage as a share of the nominal one.
    mains: f64,
}

impl Plan {
    /// A wall (mm) with an ample coat, in the furnace with the lift.
    fn coated(body: &str, wall: f64, to_celsius: f64, minutes: f64) -> Self {
        let work = format!(
            "body = \"{body}\"\nwall_millimetre = {wall}\nwall_tolerance_millimetre = 0.05\n\
             area_square_millimetre = 220\n[work.coat]\nglass = \"lanthanum-glass\"\n\
             thickness_millimetre = {}\n",
            2.0 * wall
        );
        Self {
            furnace: "lift-vacuum",
            work,
            before: String::new(),
            to_celsius: to_celsius.to_string(),
            rate: 40.0,
            minutes,
            mains: 1.0,
        }
    }

    fn fire(&self) -> Verdict {
        let Self { furnace, work, before, to_celsius, rate, minutes, mains } = self;
        let soak = if *minutes > 0.0 {
            format!(
                "[[stage]]\nname = \"soak\"\nsoak = {{ minutes = {minutes}, band_kelvin = 5 }}\n"
            )
        } else {
            String::new()
        };
        let text = format!(
            "name = \"Advice\"\nfurnace = \"../furnaces/{furnace}.toml\"\n[work]\n{work}\
             {before}[[stage]]\nramp = {{ to_celsius = {to_celsius}, kelvin_per_minute = {rate} }}\n\
             {soak}[[stage]]\ncool = {{ below_celsius = 450 }}\n"
        );
        fire(&schedule(&text), &FiringOptions { mains: *mains, ..FiringOptions::default() })
            .verdict
    }
}

/// The outcome and the sentence of a finding.
#[track_caller]
fn result(verdict: &Verdict, is: Is, scale: Scale) -> (Outcome, String) {
    let finding = finding(verdict, is);
    (finding.outcome, finding.sentence(scale))
}

/// The number before this phrase in a sentence.
#[track_caller]
fn number<'a>(sentence: &'a str, after: &str) -> &'a str {
    let before = sentence.split_once(after).map(|(before, _)| before);
    let number = before.and_then(|before| before.rsplit(' ').next());
    number.unwrap_or_else(|| panic!("no number before \"{after}\" in: {sentence}"))
}

/// A temperature from a sentence in either scale, converted to °C for a schedule.
#[track_caller]
fn celsius(sentence: &str, scale: Scale, after: &str) -> String {
    match scale {
        Scale::Celsius => number(sentence, &format!(" °C{after}")).to_owned(),
        Scale::Fahrenheit => {
            let fahrenheit: f64 =
                number(sentence, &format!(" °F{after}")).parse().expect("a number");
            format!("{:.3}", (fahrenheit - 32.0) * 5.0 / 9.0)
        }
    }
}

/// Results of firings that followed advice.
#[derive(Default)]
struct FollowedAdvice {
    count: usize,
    failed: Vec<String>,
}

impl FollowedAdvice {
    #[track_caller]
    fn note(&mut self, what: &str, advice: &str, verdict: &Verdict, is: Is) {
        let (outcome, line) = result(verdict, is, Scale::Celsius);
        self.count += 1;
        if outcome != Outcome::Pass {
            self.failed.push(format!("{what}: {advice}\n    followed: {line}"));
        }
    }

    /// Checks that at least this many firings followed advice, and that all passed.
    #[track_caller]
    fn assert_all_passed(&self, at_least: usize) {
        assert!(self.count >= at_least, "only {} firings followed advice", self.count);
        assert!(
            self.failed.is_empty(),
            "{} of {} failed: {:#?}",
            self.failed.len(),
            self.count,
            self.failed
        );
    }
}

/// A coat on a wall (mm), in a firing too short to infiltrate: the coat budget does not depend on it.
fn coat(wall: &str, thickness: &str, more: &str) -> Verdict {
    let text = format!(
        "name = \"Coat\"\nfurnace = \"../furnaces/lift-vacuum.toml\"\n\
         [work]\nbody = \"alumina\"\nwall_millimetre = {wall}\n\
         wall_tolerance_millimetre = 0.05\narea_square_millimetre = 220\n\
         [work.coat]\nglass = \"lanthanum-glass\"\nthickness_millimetre = {thickness}\n{more}\n\
         [[stage]]\nramp = {{ to_celsius = 40, kelvin_per_minute = 80 }}\n"
    );
    fire(&schedule(&text), &FiringOptions::default()).verdict
}

#[test]
fn a_coat_as_thick_as_advised_is_enough_and_a_hundredth_less_is_not() {
    let mut followed = FollowedAdvice::default();
    for tenths in 3..=29 {
        for tolerance in ["", "thickness_tolerance_millimetre = 0.04"] {
            let wall = format!("{:.1}", f64::from(tenths) / 10.0);
            let thin = coat(&wall, "0.05", tolerance);
            let (outcome, line) = result(&thin, is!(CoatBudget), Scale::Celsius);
            assert_eq!(outcome, Outcome::Fail, "{wall} mm: {line}");
            let advised = number(&line, " mm thick.");
            let verdict = coat(&wall, advised, tolerance);
            followed.note(&format!("{wall} mm, {tolerance}"), &line, &verdict, is!(CoatBudget));
            let less = format!("{:.2}", advised.parse::<f64>().unwrap() - 0.01);
            let (outcome, _) =
                result(&coat(&wall, &less, tolerance), is!(CoatBudget), Scale::Celsius);
            assert_eq!(outcome, Outcome::Fail, "{wall} mm: {less} mm would have been enough");
        }
    }
    followed.assert_all_passed(54);
}

#[test]
fn advice_never_exceeds_the_thickest_coat_of_a_schedule() {
    let line = |wall, water_gram| {
        let more = format!("powder_gram = 10\nwater_gram = {water_gram}");
        result(&coat(wall, "1", &more), is!(CoatBudget), Scale::Celsius).1
    };
    assert!(line("3.5", 7.2).contains("Make the wet coat "), "{}", line("3.5", 7.2));
    let poor = line("5", 12.4);
    assert!(poor.contains("Not even 5.00 mm") && !poor.contains("Make"), "{poor}");
    assert!(poor.ends_with("use a slurry with more glass."), "{poor}");
}

#[test]
fn a_soak_as_long_as_advised_is_long_enough() {
    let mut followed = FollowedAdvice::default();
    for body in ["alumina", "spinel", "zirconia-toughened"] {
        for wall in [0.4, 0.5, 0.7] {
            for (to_celsius, minutes, mains) in [
                (1120.0, 3.0, 1.0),
                (1090.0, 20.0, 1.1),
                (1150.5, 7.5, 1.0),
                (1120.0, 5.0, 0.7),
            ] {
                let mut plan = Plan { mains, ..Plan::coated(body, wall, to_celsius, minutes) };
                let (outcome, line) = result(&plan.fire(), is!(Infiltration), Scale::Celsius);
                let hotter = line.contains("as hot as the furnace allows");
                if outcome == Outcome::Pass || hotter || !line.contains(" more minute") {
                    continue;
                }
                plan.minutes += number(&line, " more minute").parse::<f64>().unwrap();
                assert!(
                    line.contains(&format!(" at {to_celsius} °C would be enough.")),
                    "{line}"
                );
                let what = format!("{body}, {wall} mm, {minutes} min at {to_celsius} °C");
                followed.note(&what, &line, &plan.fire(), is!(Infiltration));
            }
        }
    }
    followed.assert_all_passed(25);
}

#[test]
fn a_soak_as_long_as_advised_is_long_enough_for_all_pieces() {
    let mut followed = FollowedAdvice::default();
    for (count, minutes) in [(2, 5.0), (5, 5.0), (5, 20.0), (8, 12.0)] {
        let mut plan = Plan::coated("alumina", 0.5, 1130.0, minutes);
        plan.work = format!("count = {count}\n{}", plan.work);
        let line = result(&plan.fire(), is!(Infiltration), Scale::Celsius).1;
        plan.minutes += number(&line, " more minute").parse::<f64>().unwrap();
        followed.note(&format!("{count} pieces"), &line, &plan.fire(), is!(Infiltration));
    }
    followed.assert_all_passed(4);
}

#[test]
fn a_soak_as_hot_as_advised_is_hot_enough_in_both_scales() {
    let mut followed = FollowedAdvice::default();
    for (to_celsius, minutes) in [(850.0, 30.0), (900.0, 60.0), (950.0, 20.0), (970.5, 45.0)] {
        for wall in [0.3, 0.5, 0.6] {
            for scale in [Scale::Celsius, Scale::Fahrenheit] {
                let mut plan = Plan::coated("alumina", wall, to_celsius, minutes);
                let line = result(&plan.fire(), is!(Infiltration), scale).1;
                if line.contains(" more minute") {
                    continue;
                }
                plan.to_celsius = celsius(&line, scale, " would be enough");
                let what = format!("{wall} mm, {minutes} min at {to_celsius} °C");
                followed.note(&what, &line, &plan.fire(), is!(Infiltration));
            }
        }
    }
    followed.assert_all_passed(16);
}

#[test]
fn a_soak_at_the_maximum_temperature_and_as_long_as_advised_is_enough() {
    let mut followed = FollowedAdvice::default();
    for (furnace, rate) in [("lift-vacuum", 40.0), ("teaching-door", 15.0)] {
        for wall in [0.5, 0.8] {
            for scale in [Scale::Celsius, Scale::Fahrenheit] {
                let mut plan = Plan::coated("spinel", wall, 930.0, 4.0);
                (plan.furnace, plan.rate) = (furnace, rate);
                let line = result(&plan.fire(), is!(Infiltration), scale).1;
                assert!(line.contains("as hot as the furnace allows"), "{line}");
                plan.minutes += number(&line, " more minute").parse::<f64>().unwrap();
                plan.to_celsius = celsius(&line, scale, ", as hot");
                let what = format!("{furnace}, {wall} mm");
                followed.note(&what, &line, &plan.fire(), is!(Infiltration));
            }
        }
    }
    followed.assert_all_passed(8);
}

#[test]
fn a_missing_soak_is_enough_once_it_is_added_as_advised() {
    let mut followed = FollowedAdvice::default();
    for to_celsius in [1050.0, 1120.0, 1180.0] {
        let mut plan = Plan::coated("alumina", 0.5, to_celsius, 0.0);
        let line = result(&plan.fire(), is!(Infiltration), Scale::Celsius).1;
        plan.minutes = number(&line, " min at").parse().unwrap();
        plan.to_celsius = celsius(&line, Scale::Celsius, " would be enough");
        followed.note(&format!("{to_celsius} °C"), &line, &plan.fire(), is!(Infiltration));
    }
    followed.assert_all_passed(3);
}

#[test]
fn a_front_that_ran_out_of_glass_passes_with_both_pieces_of_advice() {
    let mut followed = FollowedAdvice::default();
    for wall in [0.5, 0.8, 1.1] {
        let mut plan = Plan::coated("alumina", wall, 1150.0, 15.0);
        let thick = format!("thickness_millimetre = {}\n", 2.0 * wall);
        plan.work = plan.work.replace(&thick, "thickness_millimetre = 0.1\n");
        let verdict = plan.fire();
        let line = result(&verdict, is!(Infiltration), Scale::Celsius).1;
        assert!(line.contains("More glass in the coat is needed."), "{line}");
        if line.contains(" more minute") {
            plan.minutes += number(&line, " more minute").parse::<f64>().unwrap();
        }
        let advice = result(&verdict, is!(CoatBudget), Scale::Celsius).1;
        let advised = format!("thickness_millimetre = {}\n", number(&advice, " mm thick."));
        plan.work = plan.work.replace("thickness_millimetre = 0.1\n", &advised);
        followed.note(&format!("{wall} mm"), &line, &plan.fire(), is!(Infiltration));
    }
    followed.assert_all_passed(3);
}

#[test]
fn surplus_glass_stays_off_the_margin_when_the_advice_is_followed() {
    let mut followed = FollowedAdvice::default();
    for (body, coat_mm) in [("alumina", "0.38"), ("spinel", "0.38"), ("alumina", "0.6")] {
        let mut plan = Plan::coated(body, 0.5, 1150.0, 20.0);
        let coat = format!("thickness_millimetre = {coat_mm}\n");
        let even = format!("{coat}thickness_tolerance_millimetre = 0.02\n");
        plan.work = plan.work.replace("thickness_millimetre = 1\n", &even);
        let (outcome, line) = result(&plan.fire(), is!(Surplus), Scale::Celsius);
        assert_ne!(outcome, Outcome::Pass, "{line}");
        let mut thinner = plan.clone();
        let mm = number(&line, " mm thick");
        thinner.work = plan.work.replace(&coat, &format!("thickness_millimetre = {mm}\n"));
        followed.note(&format!("{body}, {mm} mm"), &line, &thinner.fire(), is!(Surplus));
        if line.contains(" above the margin, or") {
            let mm = number(&line, " mm above the margin, or");
            plan.work += &format!("bare_rim_millimetre = {mm}\n");
            followed.note(&format!("{body}, rim {mm} mm"), &line, &plan.fire(), is!(Surplus));
        }
    }
    followed.assert_all_passed(5);
}

/// A piece with a blasted skin of glass.
fn blasted(skin_mm: f64, roughness_um: f64, to_celsius: f64, minutes: f64) -> Plan {
    let mut plan = Plan::coated("alumina", 0.5, to_celsius, minutes);
    plan.work = format!(
        "body = \"alumina\"\ninfiltrated = true\nroughness_micrometre = {roughness_um}\n\
         wall_millimetre = 0.5\narea_square_millimetre = 220\n[work.coat]\n\
         glass = \"lanthanum-glass\"\nthickness_millimetre = {skin_mm}\n"
    );
    plan
}

#[test]
fn a_surface_melts_back_when_the_advice_is_followed() {
    let mut followed = FollowedAdvice::default();
    for (skin_mm, roughness_um) in [(0.02, 12.0), (0.03, 20.0), (0.05, 40.0)] {
        for (to_celsius, minutes) in [(700.0, 5.0), (750.0, 2.0), (800.0, 10.0), (850.0, 1.0)] {
            let mut plan = blasted(skin_mm, roughness_um, to_celsius, minutes);
            let (outcome, line) = result(&plan.fire(), is!(MeltBack), Scale::Celsius);
            if outcome != Outcome::Fail {
                continue;
            }
            if line.contains(" more minute") {
                plan.minutes += number(&line, " more minute").parse::<f64>().unwrap();
            } else {
                plan.to_celsius = celsius(&line, Scale::Celsius, " would be enough");
            }
            let what =
                format!("{skin_mm} mm, {roughness_um} µm, {minutes} min at {to_celsius} °C");
            followed.note(&what, &line, &plan.fire(), is!(MeltBack));
        }
    }
    followed.assert_all_passed(8);
    // A glass eight decades stiffer than the library's.
    let mut stiff = blasted(0.2, 200.0, 900.0, 5.0);
    stiff.work += "[work.coat.glass_values]\nviscosity_a = 5\n";
    let stiff = result(&stiff.fire(), is!(MeltBack), Scale::Celsius);
    assert!(
        stiff.1.contains(
            "This furnace cannot do it: no soak within its limits is enough, not even "
        ),
        "{}",
        stiff.1
    );
    assert!(stiff.1.contains(" 1180 °C"), "{}", stiff.1);
}

#[test]
fn the_least_melt_back_that_the_model_can_tell_passes() {
    let mut followed = FollowedAdvice::default();
    for (skin_mm, roughness_um) in [(0.02, 12.0), (0.03, 8.0), (0.05, 20.0)] {
        for (to_celsius, minutes) in [(925.0, 12.0), (1000.0, 2.0), (1100.0, 20.0)] {
            let mut plan = blasted(skin_mm, roughness_um, to_celsius, minutes);
            let (outcome, line) = result(&plan.fire(), is!(MeltBack), Scale::Celsius);
            assert_eq!(outcome, Outcome::NotKnown, "{line}");
            plan.to_celsius = celsius(&line, Scale::Celsius, " for ");
            let what =
                format!("{skin_mm} mm, {roughness_um} µm, {minutes} min at {to_celsius} °C");
            followed.note(&what, &line, &plan.fire(), is!(MeltBack));
        }
    }
    followed.assert_all_passed(9);
}

#[test]
fn a_coat_that_is_dried_as_cool_as_advised_does_not_froth() {
    let mut followed = FollowedAdvice::default();
    for thick_mm in [1.5, 1.75, 2.0] {
        for scale in [Scale::Celsius, Scale::Fahrenheit] {
            let mut plan = Plan::coated("alumina", 0.5, 350.0, 5.0);
            let coat = format!("thickness_millimetre = {thick_mm}\n");
            plan.work = plan.work.replace("thickness_millimetre = 1\n", &coat);
            let (outcome, line) = result(&plan.fire(), is!(Boiling), scale);
            assert_eq!(outcome, Outcome::Fail, "{line}");
            let below = celsius(&line, scale, ", or heat it more slowly");
            plan.before = format!(
                "[[stage]]\nramp = {{ to_celsius = {below}, kelvin_per_minute = 5 }}\n\
                 [[stage]]\nsoak = {{ minutes = 120, band_kelvin = 10 }}\n"
            );
            followed.note(&format!("{thick_mm} mm"), &line, &plan.fire(), is!(Boiling));
        }
    }
    followed.assert_all_passed(6);
}

#[test]
fn a_vacuum_as_deep_as_advised_leaves_too_little_gas_for_a_remark() {
    let mut followed = FollowedAdvice::default();
    for body in ["alumina", "spinel"] {
        for from_celsius in [300, 600, 700] {
            let mut plan = Plan::coated(body, 0.5, 1120.0, 5.0);
            let (outcome, line) = result(&plan.fire(), is!(TrappedGas), Scale::Celsius);
            assert_eq!(outcome, Outcome::Note, "{line}");
            let pressure = number(&line, " hPa or less");
            plan.before = format!(
                "[[stage]]\nvacuum = {{ from_celsius = {from_celsius}, to_hectopascal = {pressure}, \
                 within_minutes = 3, until_end_of = \"soak\" }}\n"
            );
            let what = format!("{body}, from {from_celsius} °C");
            followed.note(&what, &line, &plan.fire(), is!(TrappedGas));
        }
    }
    followed.assert_all_passed(6);
    let mut plan = Plan::coated("alumina", 0.5, 1090.0, 5.0);
    (plan.furnace, plan.rate) = ("teaching-door", 15.0);
    let line = result(&plan.fire(), is!(TrappedGas), Scale::Celsius).1;
    assert!(line.contains("in a furnace with a pump"), "{line}");
}

/// A firing with two ramps at these rates (K/min).
fn stressed(wall: f64, strength: f64, rates: [f64; 2]) -> Verdict {
    let [first, second] = rates;
    let text = format!(
        "name = \"Stress\"\nfurnace = \"../furnaces/lift-vacuum.toml\"\n\
         [work]\nbody = \"alumina\"\nwall_millimetre = {wall}\narea_square_millimetre = 220\n\
         [work.body_values]\nstrength_megapascal = {strength}\n\
         [[stage]]\nramp = {{ to_celsius = 500, kelvin_per_minute = {first} }}\n\
         [[stage]]\nsoak = {{ minutes = 20, band_kelvin = 10 }}\n\
         [[stage]]\nramp = {{ to_celsius = 1000, kelvin_per_minute = {second} }}\n\
         [[stage]]\nsoak = {{ minutes = 5, band_kelvin = 10 }}\n\
         [[stage]]\ncool = {{ below_celsius = 450 }}\n"
    );
    fire(&schedule(&text), &FiringOptions::default()).verdict
}

#[test]
fn slower_ramps_in_the_named_steps_keep_the_stress_within_limits() {
    let mut followed = FollowedAdvice::default();
    for (wall, strength) in [(2.0, 0.6), (3.5, 1.6), (3.5, 2.2), (5.0, 3.0), (5.0, 4.0)] {
        for rates in [[80.0, 80.0], [80.0, 20.0], [15.0, 70.0]] {
            let verdict = stressed(wall, strength, rates);
            let (outcome, line) = result(&verdict, is!(Stress), Scale::Celsius);
            if outcome == Outcome::Pass {
                continue;
            }
            assert!(!line.contains("with the heat off"), "{line}");
            let mut slower = rates;
            for (step, rate) in ["step 1.", "step 3."].into_iter().zip(&mut slower) {
                if line.contains(&format!("Ramp more slowly in {step}")) {
                    *rate = 10.0;
                }
            }
            let what = format!("{wall} mm, {strength} MPa, {rates:?} K/min");
            followed.note(&what, &line, &stressed(wall, strength, slower), is!(Stress));
        }
    }
    followed.assert_all_passed(9);
    let weak = result(&stressed(5.0, 0.1, [80.0, 80.0]), is!(Stress), Scale::Celsius).1;
    assert!(weak.contains("Cool on a ramp instead of with the heat off in step 5."), "{weak}");
}

#[test]
fn lubricant_burns_off_as_long_or_as_hot_as_advised() {
    let mut followed = FollowedAdvice::default();
    for (furnace, rate) in [("lift-vacuum", 40.0), ("teaching-door", 15.0)] {
        for (to_celsius, minutes) in [(420.0, 20.0), (450.0, 10.0), (480.0, 3.0), (350.0, 60.0)]
        {
            for percent in [0.5, 5.0] {
                let work = format!(
                    "body = \"alumina\"\nwall_millimetre = 0.5\n\
                     area_square_millimetre = 220\nlubricant_percent = {percent}\n"
                );
                let coated = Plan::coated("alumina", 0.5, to_celsius, minutes);
                let mut plan = Plan { work, furnace, rate, ..coated };
                let (outcome, line) = result(&plan.fire(), is!(BurnOff), Scale::Celsius);
                assert_eq!(outcome, Outcome::Fail, "{to_celsius} °C: {line}");
                if line.contains(" more minute") {
                    plan.minutes += number(&line, " more minute").parse::<f64>().unwrap();
                } else {
                    plan.to_celsius = celsius(&line, Scale::Celsius, " would be enough");
                }
                let what = format!("{furnace}, {percent} %, {minutes} min at {to_celsius} °C");
                followed.note(&what, &line, &plan.fire(), is!(BurnOff));
            }
        }
    }
    followed.assert_all_passed(16);
}
