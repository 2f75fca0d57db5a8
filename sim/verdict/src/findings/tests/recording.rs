//! Verdicts on recorded firings.

use super::*;

fn agreement(rms_k: f64, soak_k: Option<f64>) -> SensorAgreement {
    SensorAgreement {
        rms_k,
        largest_k: -2.0 * rms_k,
        largest_at_s: 600.0,
        soak_k,
        flow_k: soak_k,
    }
}

#[test]
fn a_simulated_furnace_that_follows_leaves_a_note() {
    let mut good = verdict(&coated(), 1120.0, 2700, 5000.0);
    agreement(9.8, Some(-9.9)).add_to(&mut good.findings);
    assert!(good.passed(), "{:#?}", lines(&good));
    let line = line_of(&good, is!(SimulatedSensor));
    assert_eq!(
        line,
        "Simulated sensor: the simulated control sensor was 9.8 K from the recorded one (root mean \
         square), at most 19.6 K below it at minute 10, 9.9 K below it on average in the worst soak."
    );
    let mut hotter = verdict(&coated(), 1120.0, 2700, 5000.0);
    agreement(9.8, Some(6.0)).add_to(&mut hotter.findings);
    let line = line_of(&hotter, is!(SimulatedSensor));
    let counts = " 6.0 K above it on average in the worst soak. It was 6.0 K above it while the glass \
                  flowed: the confidence counts with pieces that are colder by this.";
    assert!(line.ends_with(counts), "{line}");
}

/// A simulated furnace that is 8 K too hot tells of pieces that are 8 K too hot.
#[test]
fn a_hotter_simulated_furnace_lowers_the_confidence() {
    let confidence = |soak_c: f64, simulated_hotter_k: f64| {
        let (piece, firing) = fire(&coated(), soak_c, 2400, 5000.0);
        let firing = FiringSummary { simulated_hotter_k, ..firing };
        let verdict = assess(&coated(), &[piece], &firing);
        let Subject::Infiltration { probability, .. } =
            verdict.find(is!(Infiltration)).unwrap().subject
        else {
            panic!("{:#?}", lines(&verdict))
        };
        probability
    };
    let (exact, known, unknown) =
        (confidence(1112.0, 0.0), confidence(1120.0, 8.0), confidence(1120.0, 0.0));
    assert!((known - exact).abs() < 0.01, "{known} and {exact}");
    assert!(unknown - known > 0.02, "{unknown} and {known}");
    assert!(agreement(1.0, Some(-8.0)).hotter_k().abs() < 1e-12);
    assert!(agreement(1.0, Some(f64::NAN)).hotter_k().is_nan());
}

#[test]
fn another_furnace_or_none_to_compare_makes_what_is_computed_not_known() {
    for (why, says) in [
        (Unknown::NoReading, "the control sensor gave no reading in the firing"),
        (Unknown::OtherFurnaceData, "the device has other furnace data than the profile"),
    ] {
        let mut doubted = verdict(&coated(), 1120.0, 2700, 5000.0);
        doubt_computed(&mut doubted.findings, why);
        assert_eq!(doubted.result(), VerdictResult::NotKnown);
        let line = line_of(&doubted, is!(Infiltration));
        assert!(line.starts_with(&format!("NOT KNOWN Infiltrated through: {says}")), "{line}");
        assert_eq!(doubted.find(is!(SoakBand)).unwrap().outcome, Outcome::Pass);
    }
}

/// Neither what passes nor what fails in the model says anything about the work then.
#[test]
fn a_simulated_furnace_that_is_far_off_makes_what_it_computes_not_known() {
    for (soak_s, modelled) in [(2700, Outcome::Pass), (60, Outcome::Fail)] {
        let mut off = verdict(&coated(), 1120.0, soak_s, 5000.0);
        agreement(3.0, Some(10.1)).add_to(&mut off.findings);
        assert_eq!(off.result(), VerdictResult::NotKnown, "{:#?}", lines(&off));
        let through = off.find(is!(Infiltration)).unwrap();
        assert_eq!(through.outcome, Outcome::NotKnown);
        assert_eq!(through.doubt.as_ref().unwrap().modelled, modelled);
        let line = through.line(Scale::Celsius);
        let begins = "NOT KNOWN Infiltrated through: the simulated furnace is 10.1 K off the recorded \
                      one, see Simulated sensor. The model, which leaves this out, says: ";
        assert!(line.starts_with(begins), "{line}");
        let advice = " 10 K is too much to believe what is computed for the work";
        assert!(line_of(&off, is!(SimulatedSensor)).contains(advice), "{:#?}", lines(&off));
        // What was measured stands.
        for measured in
            [off.find(is!(Overshoot)), off.find(is!(SoakBand)), off.find(is!(Ending))]
        {
            assert_eq!(measured.unwrap().outcome, Outcome::Pass);
        }
    }
    // A failure that was measured outweighs all that is not known.
    let (piece, mut firing) = fire(&coated(), 1120.0, 2700, 5000.0);
    firing.counted().deviation_k = 7.0;
    let mut lost = assess(&coated(), &[piece], &firing);
    agreement(3.0, Some(f64::NAN)).add_to(&mut lost.findings);
    assert_eq!(lost.result(), VerdictResult::Fail, "{:#?}", lines(&lost));
}

#[test]
fn another_pressure_makes_what_depends_on_it_not_known() {
    let oily = WorkSpec { lubricant_share: 0.02, ..coated() };
    let with = |work: &WorkSpec, gauge_pa: f64, simulated_pa: f64| {
        let mut found = verdict(work, 1120.0, 2700, ATMOSPHERE_PA);
        for finding in &mut found.findings {
            // As if the simulated firing had been under vacuum.
            if matches!(finding.subject, Subject::TrappedGas { .. }) {
                finding.outcome = Outcome::Pass;
            }
        }
        PressureAgreement { gauge_pa, simulated_pa }.add_to(&mut found.findings);
        found
    };
    for (gauge_pa, simulated_pa) in
        [(3000.0, 4400.0), (4400.0, 3000.0), (20.0, 110.0), (9000.0, 10_900.0)]
    {
        assert!(with(&oily, gauge_pa, simulated_pa).passed(), "{gauge_pa} {simulated_pa}");
    }
    for (gauge_pa, simulated_pa) in
        [(3000.0, 4600.0), (4600.0, 3000.0), (20.0, 130.0), (9000.0, 11_100.0), (f64::NAN, 1.0)]
    {
        let off = with(&oily, gauge_pa, simulated_pa);
        for subject in [off.find(is!(TrappedGas)), off.find(is!(BurnOff))] {
            assert_eq!(
                subject.unwrap().outcome,
                Outcome::NotKnown,
                "{gauge_pa} {simulated_pa}"
            );
        }
        assert_eq!(off.find(is!(Infiltration)).unwrap().outcome, Outcome::NotKnown);
        assert_eq!(off.find(is!(Stress)).unwrap().outcome, Outcome::Pass);
    }
    let clean = with(&coated(), 3000.0, 4600.0);
    assert_eq!(clean.find(is!(Infiltration)).unwrap().outcome, Outcome::Pass);
    let says = "NOT KNOWN Trapped gas: in a soak under vacuum the recorded gauge read 30.0 hPa on \
                average, and the simulated chamber had 46.0 hPa. Correct the profile's vacuum";
    assert!(line_of(&clean, is!(TrappedGas)).starts_with(says), "{:#?}", lines(&clean));
}

#[test]
fn the_whole_firing_counts_as_well() {
    for soak_k in [None, Some(0.0), Some(f64::NAN)] {
        let mut off = verdict(&coated(), 1120.0, 2700, 5000.0);
        agreement(11.0, soak_k).add_to(&mut off.findings);
        assert_eq!(off.result(), VerdictResult::NotKnown, "{:#?}", lines(&off));
    }
    let mut off = verdict(&coated(), 1120.0, 2700, 5000.0);
    agreement(f64::NAN, Some(0.0)).add_to(&mut off.findings);
    assert_eq!(off.result(), VerdictResult::NotKnown, "{:#?}", lines(&off));
}

#[test]
fn a_flawed_recording_is_not_known_and_says_why() {
    for (flaw, why) in [
        (RecordingFlaw::NoFiring, "no firing begins in the recording"),
        (RecordingFlaw::MidFiring, "begins in the middle of the firing"),
        (RecordingFlaw::Gap(7), "are missing after tick 7"),
        (RecordingFlaw::Restart(7), "restarted in the firing, after tick 7"),
        (RecordingFlaw::CutOff(600), "the recording ends at minute 10"),
        (RecordingFlaw::Different(7), "from tick 7 on"),
    ] {
        let verdict = Verdict { findings: vec![flaw.finding()] };
        assert_eq!(verdict.result(), VerdictResult::NotKnown);
        let line = line_of(&verdict, is!(Recording));
        assert!(line.starts_with("NOT KNOWN Recording: ") && line.ends_with('.'), "{line}");
        assert!(line.contains(why), "{line}");
    }
}
