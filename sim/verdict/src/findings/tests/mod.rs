//! Verdicts on firings with piecewise linear temperatures.

use saggar_core::events::{Cause, Ending};

use super::*;
use crate::format::Scale;
use saggar_plant::constants::ATMOSPHERE_PA;
use saggar_plant::piece::{AMBIENT_VAPOUR_SHARE, Piece, PieceConditions};
use saggar_plant::spec::{BodySpec, CoatSpec, GlassSpec, UncertainValue};

/// Whether a subject is of this kind, with any data.
macro_rules! is {
    ($subject:ident) => {
        |subject: &Subject| matches!(subject, Subject::$subject { .. })
    };
}

mod advice;
mod melt_back;
mod mismatch;
mod recording;
mod surplus;
mod surplus_draws;
mod unknown;

fn coated() -> WorkSpec {
    let wall_m = UncertainValue::relative(0.5e-3, 0.05);
    let mut work = WorkSpec { wall_m, moisture_share: 0.0, ..WorkSpec::coated_coping() };
    if let Some(coat) = &mut work.coat {
        // Thick enough for the wall, and too thin to run over the margin.
        coat.thickness_m = UncertainValue::relative(0.36e-3, 0.05);
    }
    work
}

fn bare() -> WorkSpec {
    WorkSpec { coat: None, lubricant_share: 0.02, ..coated() }
}

/// Dries to 90 °C over 23 min, then ramps at 0.5 K/s, soaks and cools.
fn fire(work: &WorkSpec, soak_c: f64, soak_s: u32, pressure_pa: f64) -> (Piece, FiringSummary) {
    fire_at(work, (soak_c, soak_s), pressure_pa, 0.5)
}

/// The same with this rate (K/s).
fn fire_at(
    work: &WorkSpec,
    (soak_c, soak_s): (f64, u32),
    pressure_pa: f64,
    k_per_s: f64,
) -> (Piece, FiringSummary) {
    let mut piece = Piece::new(work);
    let mut go = |t: f64, p: f64| {
        piece.step(
            1.0,
            &PieceConditions {
                layers_c: [t; 4],
                pressure_pa: p,
                vapour_share: AMBIENT_VAPOUR_SHARE,
            },
        );
    };
    let mut t = 20.0;
    while t < 90.0 {
        t += 0.05;
        go(t, ATMOSPHERE_PA);
    }
    while t < soak_c {
        t = (t + k_per_s).min(soak_c);
        go(t, pressure_pa);
    }
    for _ in 0..soak_s {
        go(t, pressure_pa);
    }
    while t > 20.0 {
        t -= 1.0;
        go(t, ATMOSPHERE_PA);
    }
    let firing = FiringSummary {
        ending: Some(Ending::Completed),
        not_started: None,
        duration_s: piece.elapsed_s,
        energy_j: 2.7e6,
        sensor_max_c: soak_c + 2.0,
        sensor_max_at_s: 3600.0,
        setpoint_max_c: Some(soak_c),
        soaks: vec![soak(1, soak_c, soak_s)],
        hottest_soak: Some(1),
        stresses: Vec::new(),
        interruptions: Vec::new(),
        late_ramps: Vec::new(),
        sensor_tolerance_k: 2.8,
        simulated_hotter_k: 0.0,
        limits: AdviceLimits {
            programme_max_c: 1180.0,
            firing_max_s: 12.0 * 3600.0,
            pressure_min_pa: Some(3000.0),
        },
    };
    (piece, firing)
}

/// A soak held within 2 K, with a piece as hot as the sensor.
fn soak(step: u8, setpoint_c: f64, seconds: u32) -> SoakSummary {
    SoakSummary {
        step,
        setpoint_c,
        band_k: 5.0,
        ramp_s_per_k: 2.0,
        overshoot_k: 2.0,
        overshoot_at_s: 3600.0,
        effective: Some(EffectiveSoak {
            deviation_k: 2.0,
            deviation_at_s: 3600.0,
            sensor_minus_piece_k: 0.0,
            piece_c: setpoint_c,
            pressure_min_pa: ATMOSPHERE_PA,
            seconds: f64::from(seconds),
        }),
        excursion: None,
    }
}

impl FiringSummary {
    /// The figures of the only soak, from its first reading inside the band.
    fn counted(&mut self) -> &mut EffectiveSoak {
        self.soaks[0].effective.as_mut().unwrap()
    }
}

fn verdict(work: &WorkSpec, soak_c: f64, soak_s: u32, pressure_pa: f64) -> Verdict {
    let (piece, firing) = fire(work, soak_c, soak_s, pressure_pa);
    assess(work, std::slice::from_ref(&piece), &firing)
}

fn line_of(verdict: &Verdict, is: impl Fn(&Subject) -> bool) -> String {
    verdict.find(is).unwrap().line(Scale::Celsius)
}

fn lines(verdict: &Verdict) -> Vec<String> {
    verdict.findings.iter().map(|finding| finding.line(Scale::Celsius)).collect()
}

#[test]
fn a_good_infiltration_passes() {
    let good = verdict(&coated(), 1120.0, 2700, 5000.0);
    assert!(good.passed(), "{:#?}", lines(&good));
    let line = line_of(&good, is!(Infiltration));
    assert!(line.starts_with("Infiltrated through: yes, at minute "), "{line}");
    let end = ", 99 % confidence that the front gets through the piece, given this glass and this fit.";
    assert!(line.ends_with(end), "{line}");
    let line = line_of(&good, is!(CoatBudget));
    assert!(line.ends_with(" left over, 99 % confidence that it is enough."), "{line}");
    let (two, three) = (WorkSpec { count: 2, ..coated() }, WorkSpec { count: 3, ..coated() });
    let of = |work: &WorkSpec, is: fn(&Subject) -> bool| {
        line_of(&verdict(work, 1120.0, 2700, 5000.0), is)
    };
    assert!(
        of(&two, is!(Infiltration))
            .contains(" confidence that the front gets through both pieces, ")
    );
    assert!(
        of(&three, is!(Infiltration))
            .contains(" confidence that the front gets through all 3 pieces, ")
    );
    assert!(of(&three, is!(CoatBudget)).ends_with(" that it is enough on all 3 pieces."));
    assert_eq!(good.find(is!(BurnOff)), None);
    assert_eq!(good.find(is!(MeltBack)), None);
}

#[test]
fn a_nominal_pass_below_the_required_confidence_fails() {
    // The best estimate needs 17 min to fill the wall, so 18 min succeed only about half of the time.
    let verdict = verdict(&coated(), 1120.0, 18 * 60, 5000.0);
    let found = verdict.find(is!(Infiltration)).unwrap();
    assert!(found.margin > 0.0 && found.at_s.is_some());
    assert_eq!(found.outcome, Outcome::Fail);
    assert!(line_of(&verdict, is!(Infiltration)).contains("nominally yes"));
}

#[test]
fn a_thin_coat_fails_twice_and_names_a_coat_that_is_enough() {
    let mut work = coated();
    let set = |work: &mut WorkSpec, m: f64| {
        if let Some(coat) = &mut work.coat {
            coat.thickness_m.value = m;
        }
    };
    set(&mut work, 0.25e-3);
    let thin = verdict(&work, 1120.0, 2700, 5000.0);
    assert!(line_of(&thin, is!(Infiltration)).contains("coat was used up"));
    let found = thin.find(is!(CoatBudget)).unwrap();
    assert_eq!(found.outcome, Outcome::Fail);
    let Subject::CoatBudget { advice: Some(CoatAdvice::Thickness(mm)), .. } = found.subject
    else {
        panic!("{found:?}")
    };
    set(&mut work, mm * 1e-3);
    assert!(verdict(&work, 1120.0, 2700, 5000.0).passed());
    set(&mut work, (mm - 0.01) * 1e-3);
    assert!(!verdict(&work, 1120.0, 2700, 5000.0).passed());
}

#[test]
fn uncertainty_components_add_up_and_a_worse_sensor_adds_to_them() {
    let (piece, mut firing) = fire(&coated(), 1120.0, 2400, 5000.0);
    let mut of = |tolerance_k: f64| {
        firing.sensor_tolerance_k = tolerance_k;
        let verdict = assess(&coated(), std::slice::from_ref(&piece), &firing);
        let Subject::Uncertainty(budget) =
            verdict.find(is!(Uncertainty)).unwrap().subject.clone()
        else {
            panic!("no uncertainty");
        };
        budget
    };
    let (good, bad) = (of(1.06), of(8.4));
    let ln_sd = |s: &UncertaintyBudget, source| {
        s.components.iter().find(|doubt| doubt.source == source).unwrap().ln_sd
    };
    // Twice the 5 % of the wall; a limit of 8.4 K over the root of three; 4 K of the piece. An activation
    // energy with limits of 97 % makes errors of temperature 1.326 times as large.
    assert!((ln_sd(&good, UncertaintySource::Wall) - 0.10).abs() < 1e-12);
    let per_k = 1.326 * piece.flow.as_ref().unwrap().totals().per_k;
    let sensor = 8.4 / 3.0_f64.sqrt() * per_k;
    assert!((ln_sd(&bad, UncertaintySource::Sensor) / sensor - 1.0).abs() < 1e-3);
    let own = 4.0 * per_k;
    assert!((ln_sd(&good, UncertaintySource::PieceTemperature) / own - 1.0).abs() < 1e-3);
    let total: f64 = good.components.iter().map(|doubt| doubt.share).sum();
    assert!((total - 1.0).abs() < 1e-12);
    assert!(good.probability > bad.probability && good.ln_sd < bad.ln_sd);
    assert_eq!(good.components[0].source, UncertaintySource::PoreRadius);
}

#[test]
fn the_confidence_is_for_the_pieces_of_all_rings() {
    let work = WorkSpec { count: 5, ..coated() };
    let (piece, firing) = fire(&work, 1120.0, 1700, 5000.0);
    let (cold_piece, _) = fire(&work, 1110.0, 1700, 5000.0);
    let [inner, cold] =
        [(&piece, 2), (&piece, 3)].map(|(piece, count)| Piece { count, ..piece.clone() });
    let outer = Piece { count: 3, ..cold_piece };
    let probability = |pieces: &[Piece]| {
        let verdict = assess(&work, pieces, &firing);
        let found = verdict.find(is!(Infiltration)).unwrap();
        let Subject::Infiltration { probability, .. } = found.subject else {
            panic!("{found:?}")
        };
        (probability, found.measured)
    };
    let (one, _) = probability(&[Piece { count: 1, ..piece.clone() }]);
    let (alike, depth) = probability(&[inner.clone(), cold]);
    let (together, _) = probability(&[Piece { count: 5, ..piece.clone() }]);
    let (colder, colder_depth) = probability(&[inner, outer]);
    assert!(
        (alike - together).abs() < 1e-6 && together < one - 0.02,
        "{one} {together} {alike}"
    );
    assert!(colder < together - 0.02 && colder_depth < depth, "{colder} {together}");
}

#[test]
fn a_dominating_wall_tolerance_gives_advice_to_measure() {
    let sentence = |relative_sd: f64, soak_s: u32| {
        let wall_m = UncertainValue::relative(0.5e-3, relative_sd);
        let verdict = verdict(&WorkSpec { wall_m, ..coated() }, 1120.0, soak_s, 5000.0);
        (line_of(&verdict, is!(Infiltration)), line_of(&verdict, is!(Uncertainty)))
    };
    // Twice 100 % against 0.4 of everything else: 96 % of the variance.
    let (failed, uncertainty) = sentence(1.0, 2400);
    let advice = "Measure the wall: 96 % of the uncertainty comes from its tolerance.";
    assert!(failed.starts_with("FAIL ") && failed.ends_with(advice), "{failed}");
    assert!(uncertainty.ends_with(advice), "{uncertainty}");
    let (passed, uncertainty) = sentence(0.05, 2700);
    assert!(!passed.contains("Measure") && !uncertainty.contains("Measure"), "{uncertainty}");
}

#[test]
fn other_dominating_inputs_get_advice_of_their_own() {
    let sentence = |change: fn(&mut WorkSpec), soak_c: f64| {
        let mut work = coated();
        change(&mut work);
        line_of(&verdict(&work, soak_c, 2700, 5000.0), is!(Uncertainty))
    };
    let uneven = sentence(|work| work.wall_within_m = 0.3e-3, 1120.0);
    let advice = "Measure the wall at its thickest spot: 7";
    assert!(uneven.contains(advice) && uneven.ends_with(" from its unevenness."), "{uneven}");
    let far = sentence(|work| work.body.fitted_at_c = 1250.0, 1120.0);
    assert!(
        far.contains("Fit the pore radius to a trial at the temperature of this soak: "),
        "{far}"
    );
    let tied = sentence(|work| work.body.radius_viscosity_correlation = 0.5, 1120.0);
    assert!(tied.contains("comes from pore radius over viscosity ("), "{tied}");
}

#[test]
fn a_bare_body_has_no_coat_in_its_sentences() {
    let wet = WorkSpec { moisture_share: 0.02, ..bare() };
    let good = line_of(&verdict(&wet, 950.0, 600, ATMOSPHERE_PA), is!(Boiling));
    assert!(good.contains("the water in the pores of the body stayed below"), "{good}");
    let mut piece = Piece::new(&wet);
    let layers_c = [105.0; 4];
    let vapour_share = AMBIENT_VAPOUR_SHARE;
    piece.step(1.0, &PieceConditions { layers_c, pressure_pa: ATMOSPHERE_PA, vapour_share });
    let (_, firing) = fire(&wet, 950.0, 0, ATMOSPHERE_PA);
    let boiled = line_of(&assess(&wet, std::slice::from_ref(&piece), &firing), is!(Boiling));
    assert!(boiled.starts_with("FAIL ") && !boiled.contains("coat"), "{boiled}");
}

#[test]
fn air_leaves_a_remark_and_no_failure() {
    let air = verdict(&coated(), 1120.0, 2700, ATMOSPHERE_PA);
    assert_eq!(air.find(is!(TrappedGas)).unwrap().outcome, Outcome::Note);
    assert!(air.passed());
}

#[test]
fn a_cleaning_fire_burns_off_in_air_only() {
    let air = verdict(&bare(), 950.0, 600, ATMOSPHERE_PA);
    assert!(air.passed(), "{:#?}", lines(&air));
    assert!(air.find(is!(Infiltration)).is_none() && air.find(is!(Drying)).is_none());
    // The oil evaporates in air during the slow start, so only the tar is left under vacuum.
    let vacuum = verdict(&bare(), 950.0, 600, 5000.0);
    assert!(line_of(&vacuum, is!(BurnOff)).contains("char"));
    assert!(!vacuum.passed());
}

#[test]
fn pumping_a_wet_coat_fails() {
    let mut piece = Piece::new(&coated());
    for t in [20.0, 50.0, 80.0] {
        piece.step(
            1.0,
            &PieceConditions {
                layers_c: [t; 4],
                pressure_pa: 5000.0,
                vapour_share: AMBIENT_VAPOUR_SHARE,
            },
        );
    }
    let (_, firing) = fire(&coated(), 1120.0, 0, 5000.0);
    let wet = assess(&coated(), std::slice::from_ref(&piece), &firing);
    assert_eq!(wet.find(is!(Boiling)).unwrap().outcome, Outcome::Fail);
    assert_eq!(wet.find(is!(Drying)).unwrap().outcome, Outcome::Fail);
    let line = line_of(&wet, is!(Boiling));
    assert!(
        line.starts_with("FAIL No boiling: no, ") && line.contains("under vacuum"),
        "{line}"
    );
    assert!(line.ends_with("pump only when dry."), "{line}");
}

#[test]
fn a_trip_fails_even_if_the_piece_is_good() {
    let (piece, mut firing) = fire(&coated(), 1120.0, 2700, 5000.0);
    let mut ends = |ending, words: &str| {
        firing.ending = ending;
        let verdict = assess(&coated(), std::slice::from_ref(&piece), &firing);
        assert!(!verdict.passed());
        assert!(matches!(verdict.findings[0].subject, Subject::Ending { .. }));
        assert!(line_of(&verdict, is!(Ending)).contains(words), "{words}");
    };
    ends(Some(Ending::Tripped(Cause::SensorOpen)), " min: sensor open");
    ends(Some(Ending::Stopped), "was stopped");
    ends(None, "still running");
}

#[test]
fn a_firing_that_was_cut_short_gets_no_advice_on_its_course() {
    let piece = Piece::new(&coated());
    let (_, mut firing) = fire(&coated(), 1120.0, 0, 5000.0);
    let dry = |firing: &FiringSummary| {
        line_of(&assess(&coated(), std::slice::from_ref(&piece), firing), is!(Drying))
    };
    assert!(dry(&firing).ends_with("Dry longer in air before the ramp."));
    firing.ending = Some(Ending::Stopped);
    assert!(dry(&firing).ends_with("no, 100 % of the water is left (1 % is allowed)."));
}

#[test]
fn a_sensor_that_was_never_read_has_no_maximum() {
    let (piece, mut firing) = fire(&bare(), 950.0, 600, ATMOSPHERE_PA);
    (firing.sensor_max_c, firing.ending, firing.duration_s) = (f64::MIN, None, 0.0);
    let verdict = assess(&bare(), std::slice::from_ref(&piece), &firing);
    assert_eq!(verdict.find(is!(SensorMax)), None);
    assert_eq!(verdict.find(is!(Overshoot)), None);
    assert_eq!(line_of(&verdict, is!(Ending)), "FAIL Ending: the firing did not begin.");
}

#[test]
fn nan_fails() {
    let (piece, mut firing) = fire(&bare(), 950.0, 600, ATMOSPHERE_PA);
    firing.sensor_max_c = f64::NAN;
    firing.counted().deviation_k = f64::NAN;
    let verdict = assess(&bare(), std::slice::from_ref(&piece), &firing);
    assert_eq!(verdict.find(is!(SoakBand)).unwrap().outcome, Outcome::Fail);
    assert_eq!(verdict.find(is!(Overshoot)).unwrap().outcome, Outcome::Fail);
    let mut lost = piece.clone();
    lost.step(
        1.0,
        &PieceConditions {
            layers_c: [f64::NAN; 4],
            pressure_pa: ATMOSPHERE_PA,
            vapour_share: AMBIENT_VAPOUR_SHARE,
        },
    );
    lost.step(
        1.0,
        &PieceConditions {
            layers_c: [20.0; 4],
            pressure_pa: ATMOSPHERE_PA,
            vapour_share: AMBIENT_VAPOUR_SHARE,
        },
    );
    let verdict = assess(&bare(), std::slice::from_ref(&lost), &firing);
    assert_eq!(verdict.find(is!(Stress)).unwrap().outcome, Outcome::Fail);
}

#[test]
fn tension_is_compared_with_half_the_strength() {
    let outcome = |share: f64| {
        let (mut piece, firing) = fire(&bare(), 950.0, 600, ATMOSPHERE_PA);
        // In a linear profile the face is 4/3 as far from the mean as the outer layer.
        let k = share * saggar_plant::piece::resistance_k(&bare().body) * 0.75;
        let layers_c = [500.0 - k, 500.0 - k / 3.0, 500.0 + k / 3.0, 500.0 + k];
        piece.step(
            1.0,
            &PieceConditions {
                layers_c,
                pressure_pa: ATMOSPHERE_PA,
                vapour_share: AMBIENT_VAPOUR_SHARE,
            },
        );
        assess(&bare(), std::slice::from_ref(&piece), &firing)
            .find(is!(Stress))
            .unwrap()
            .outcome
    };
    assert_eq!((outcome(0.49), outcome(0.51)), (Outcome::Pass, Outcome::Fail));
}

#[test]
fn a_sensor_that_never_reached_the_setpoint_has_no_overshoot() {
    let (piece, mut firing) = fire(&bare(), 950.0, 600, ATMOSPHERE_PA);
    firing.sensor_max_c = 900.0;
    firing.soaks[0].overshoot_k = 0.0;
    let verdict = assess(&bare(), std::slice::from_ref(&piece), &firing);
    assert!(verdict.find(is!(Overshoot)).unwrap().measured.abs() < 1e-12);
    assert_eq!(line_of(&verdict, is!(Overshoot)), "Overshoot: 0.0 K of at most 10.0 K.");
}

#[test]
fn a_piece_above_its_programme_fails_whatever_the_sensor_reads() {
    let (piece, mut firing) = fire(&coated(), 1120.0, 2700, 5000.0);
    let mut at = |setpoint_c: f64| {
        firing.setpoint_max_c = Some(setpoint_c);
        firing.sensor_max_c = setpoint_c;
        firing.soaks[0].setpoint_c = setpoint_c;
        assess(&coated(), std::slice::from_ref(&piece), &firing)
    };
    let far = at(1104.0);
    assert_eq!(far.find(is!(Overshoot)).unwrap().outcome, Outcome::Pass);
    assert_eq!(far.find(is!(PieceOverSetpoint)).unwrap().outcome, Outcome::Fail);
    assert!(line_of(&far, is!(PieceOverSetpoint)).contains("16.0 K of at most 15.0 K at"));
    assert!(line_of(&far, is!(PieceOverSetpoint)).contains("may read too low"));
    assert!(at(1106.0).passed());
    let below = line_of(&at(1130.0), is!(PieceOverSetpoint));
    assert!(below.contains("stayed below"), "{below}");
}

/// Both switches of the heater are stuck: the piece is hottest long after the trip.
#[test]
fn heat_after_the_firing_is_not_blamed_on_the_sensor() {
    let (piece, mut firing) = fire(&coated(), 1120.0, 2700, 5000.0);
    firing.setpoint_max_c = Some(1104.0);
    let mut line_at = |duration_s: f64| {
        firing.duration_s = duration_s;
        line_of(
            &assess(&coated(), std::slice::from_ref(&piece), &firing),
            is!(PieceOverSetpoint),
        )
    };
    let hottest_s = piece.hottest.at_s;
    assert!(line_at(hottest_s - 119.0).contains("may read too low"));
    assert!(line_at(hottest_s - 121.0).contains("The heat did not go off with the firing"));
}

#[test]
fn a_failed_number_never_reads_like_its_limit() {
    let (piece, mut firing) = fire(&coated(), 1120.0, 2700, 5000.0);
    let mut at = |deviation_k: f64| {
        firing.counted().deviation_k = deviation_k;
        line_of(&assess(&coated(), std::slice::from_ref(&piece), &firing), is!(SoakBand))
    };
    assert!(at(5.02).starts_with("FAIL Soak band: 5.02 K of at most 5.00 K at minute "));
    assert!(at(4.98).starts_with("Soak band: 4.98 K of at most 5.00 K at minute "));
    assert!(at(2.0).starts_with("Soak band: 2.0 K of at most 5.0 K at minute "));
}

#[test]
fn the_worst_of_all_soaks_is_named() {
    let (piece, mut firing) = fire(&coated(), 1120.0, 2700, 5000.0);
    let mut dry = SoakSummary { band_k: 10.0, ..soak(0, 90.0, 900) };
    (dry.overshoot_k, dry.overshoot_at_s) = (8.0, 600.0);
    dry.effective.as_mut().unwrap().deviation_k = 9.0;
    firing.soaks.insert(0, dry);
    let judged =
        |firing: &FiringSummary| assess(&coated(), std::slice::from_ref(&piece), firing);
    let good = judged(&firing);
    assert!(good.passed());
    let line = line_of(&good, is!(Overshoot));
    assert_eq!(line, "Overshoot: 8.0 K of at most 10.0 K at minute 10, in step 1.");
    let stage =
        |number, called: &str| StageLabel { number, name: None, label: called.to_owned() };
    let stages = [stage(1, "stage 1 \"dry\""), stage(3, "stage 3")];
    let terms = Wording { scale: Scale::Celsius, stages: &stages };
    let named =
        |verdict: &Verdict, is: fn(&Subject) -> bool| verdict.find(is).unwrap().line(terms);
    assert!(named(&good, is!(SoakBand)).ends_with(" at minute 60, in stage 1 \"dry\"."));
    // A wider band gives a wider limit; the worst soak is the one with the smallest margin to its own.
    firing.soaks[0].band_k = 20.0;
    firing.soaks[0].overshoot_k = 12.0;
    firing.soaks[1].overshoot_k = 7.0;
    let line = named(&judged(&firing), is!(Overshoot));
    assert_eq!(line, "Overshoot: 7.0 K of at most 10.0 K at minute 60, in stage 3.");
    firing.soaks[0].overshoot_k = 20.5;
    let line = named(&judged(&firing), is!(Overshoot));
    assert!(
        line.starts_with("FAIL Overshoot: 20.5 K of at most 20.0 K at minute 10"),
        "{line}"
    );
}

#[test]
fn a_lost_band_names_the_step_the_side_and_the_deviation() {
    let (piece, mut firing) = fire(&coated(), 1120.0, 2700, 5000.0);
    firing.ending = Some(Ending::BandLost);
    let mut lose = |away_k: f64| {
        firing.soaks[0].effective = None;
        firing.soaks[0].excursion = Some(BandExcursion { deviation_k: away_k, at_s: 600.0 });
        assess(&coated(), std::slice::from_ref(&piece), &firing)
    };
    let hot = lose(36.9);
    let line = line_of(&hot, is!(Ending));
    assert!(
        line.starts_with(
            "FAIL Ending: step 2 was outside its band for longer than its patience"
        ),
        "{line}"
    );
    let how =
        " The sensor was up to 36.9 K above its 1120 °C at minute 10, and the band is 5.0 K.";
    assert!(line.ends_with(how), "{line}");
    let band = line_of(&hot, is!(SoakBand));
    assert_eq!(band, "FAIL Soak band: 36.9 K of at most 5.0 K at minute 10, in step 2.");
    let line = line_of(&lose(-5.02), is!(Ending));
    assert!(line.contains("up to 5.02 K below its 1120 °C"), "{line}");
}

#[test]
fn the_summary_counts_and_names_the_checks_that_did_not_pass() {
    let note = Finding::note(Subject::Energy, 1.0, None);
    let sum = |failed: usize, unknown: usize, checks: usize| {
        let outcome = |nth| match nth {
            nth if nth < failed => Outcome::Fail,
            nth if nth < failed + unknown => Outcome::NotKnown,
            _ => Outcome::Pass,
        };
        let check = |nth| Finding { outcome: outcome(nth), ..note.clone() };
        let verdict =
            Verdict { findings: (0..checks).map(check).chain([note.clone()]).collect() };
        (verdict.result(), verdict.headline())
    };
    let is = |(result, headline): (VerdictResult, String), expected, text: &str| {
        assert_eq!((result, headline.as_str()), (expected, text));
    };
    is(sum(2, 1, 10), VerdictResult::Fail, "2 of 10 checks failed: Energy, Energy");
    is(sum(1, 0, 1), VerdictResult::Fail, "the only check failed: Energy");
    let undecided = "1 of 9 checks could not be decided: Energy";
    is(sum(0, 1, 9), VerdictResult::NotKnown, undecided);
    is(sum(0, 0, 0), VerdictResult::NotKnown, "nothing was checked");
    is(sum(0, 0, 9), VerdictResult::Pass, "all 9 checks passed");
    is(sum(0, 0, 1), VerdictResult::Pass, "the only check passed");
}

#[test]
fn every_kind_of_work_gets_complete_sentences() {
    for (work, soak_c) in [(coated(), 1120.0), (bare(), 950.0)] {
        let verdict = verdict(&work, soak_c, 900, 5000.0);
        for line in lines(&verdict) {
            println!("{line}");
            assert!(line.ends_with('.') && !line.contains("unknown"), "{line}");
            assert!(!line.contains("NaN") && !line.contains("inf "), "{line}");
        }
    }
}
