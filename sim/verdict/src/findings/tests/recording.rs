//! Verdicts on recorded firings.

use super::*;

fn agreement(rms_k: f64, soak_k: Option<f64>) -> SensorAgreement {
    SensorAgreement { rms_k, largest_k: -2.0 * rms_k, largest_at_s: 600.0, soak_k }
}

#[test]
fn a_simulated_furnace_that_follows_leaves_a_note() {
    let mut good = verdict(&coated(), 1120.0, 2700, 5000.0);
    agreement(21.0, Some(-9.9)).add_to(&mut good.findings);
    assert!(good.passed(), "{:#?}", lines(&good));
    let line = line_of(&good, is!(SimulatedSensor));
    assert_eq!(
        line,
        "Simulated sensor: the simulated control sensor was 21.0 K from the recorded one (root mean \
         square), at most 42.0 K below it at minute 10, 9.9 K below it on average in the hottest soak."
    );
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
fn without_a_soak_the_whole_firing_counts() {
    let mut off = verdict(&coated(), 1120.0, 2700, 5000.0);
    agreement(11.0, None).add_to(&mut off.findings);
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
