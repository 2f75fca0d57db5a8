//! Verdicts on recorded firings: played against a simulated furnace, they are those of the firing itself.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use saggar_bench::{FiringResult, RehearsalSetup};
use saggar_core::Controller;
use saggar_device::wire::Tick;
use saggar_plant::spec::FurnaceSpec;
use saggar_schedule::FiringPlan as Plan;
use saggar_verdict::{Outcome, RecordingFlaw, Subject, Unknown, Verdict, VerdictResult};

use super::{FiringOptions, TickRecorder, example, setup_with};

/// Fires an example in a furnace with the noise of a seed; returns the verdict and the ticks.
fn fired(plan: &Plan, seed: u64) -> (Verdict, Vec<Tick>) {
    let options = FiringOptions { seed, ..FiringOptions::default() };
    let bench = setup_with(plan, &options).bench(TickRecorder::default()).unwrap();
    let FiringResult { verdict, trace, .. } = bench.run_to_end(&plan.work);
    (verdict, trace.0)
}

/// Plays ticks on a simulated furnace.
fn played(plan: &Plan, furnace: &FurnaceSpec, tape: &[Tick]) -> FiringResult {
    let mut core = Controller::new(plan.profile.furnace.clone());
    core.load(plan.image.bytes(), &plan.image.digest()).unwrap();
    let options = FiringOptions::default();
    let setup = RehearsalSetup { furnace, ..setup_with(plan, &options) };
    setup.play(core, tape.iter().copied()).unwrap()
}

/// Titles and outcomes, without what only a recording has.
fn outcomes(verdict: &Verdict) -> Vec<(&'static str, Outcome)> {
    let own = |subject: &Subject| !matches!(subject, Subject::SimulatedSensor(_));
    let findings = verdict.findings.iter().filter(|finding| own(&finding.subject));
    findings.map(|finding| (finding.subject.title(), finding.outcome)).collect()
}

fn agreement(verdict: &Verdict) -> (f64, Outcome) {
    let found = verdict.find(|subject| matches!(subject, Subject::SimulatedSensor(_))).unwrap();
    let Subject::SimulatedSensor(agreement) = found.subject else { panic!("{found:?}") };
    (agreement.rms_k, found.outcome)
}

/// The noise of the recorded sensors is another than that of the simulated ones.
#[test]
fn the_verdict_from_a_recording_is_that_of_the_firing() {
    for (name, seed) in [("infiltrate-alumina", 7), ("infiltrate-alumina-too-short", 1)] {
        let plan = example(name);
        let (verdict, tape) = fired(&plan, seed);
        let again = played(&plan, &plan.profile.spec, &tape);
        assert_eq!(outcomes(&again.verdict), outcomes(&verdict), "{name}");
        let (rms_k, outcome) = agreement(&again.verdict);
        assert!(rms_k < 0.2 && outcome == Outcome::Note, "{name}: {rms_k} K");
        // Figures of the work are those of the firing, to less than their noise.
        for (here, there) in again.verdict.findings.iter().zip(&verdict.findings) {
            let apart = (here.measured / there.measured - 1.0).abs();
            let same = here.measured.to_bits() == there.measured.to_bits();
            assert!(same || apart < 0.05, "{name}: {here:?} {there:?}");
        }
    }
}

/// The element of the profile gives a tenth less heat than that of the furnace that was recorded.
#[test]
fn a_profile_that_does_not_fit_makes_the_work_not_known() {
    let plan = example("infiltrate-alumina");
    let (verdict, tape) = fired(&plan, 1);
    let mut weak = plan.profile.spec.clone();
    weak.heater.rated_w *= 0.9;
    let off = played(&plan, &weak, &tape).verdict;
    let (rms_k, outcome) = agreement(&off);
    assert!(rms_k > 10.0 && outcome == Outcome::NotKnown, "{rms_k} K");
    let through = |verdict: &Verdict| {
        let is = |subject: &Subject| matches!(subject, Subject::Infiltration { .. });
        verdict.find(is).unwrap().outcome
    };
    assert_ne!(through(&verdict), Outcome::NotKnown);
    assert_eq!(through(&off), Outcome::NotKnown);
    // What the device measured is what it was.
    let sensor = |verdict: &Verdict| {
        let found = verdict.find(|subject| matches!(subject, Subject::SensorMax)).unwrap();
        found.measured.to_bits()
    };
    assert_eq!(sensor(&off), sensor(&verdict));
}

/// The element of the profile gives a little more heat than that of the furnace that was recorded: the pieces
/// are computed too hot, and the confidence is that of colder ones.
#[test]
fn a_profile_that_is_a_little_too_hot_earns_no_confidence() {
    let plan = example("infiltrate-alumina");
    let (verdict, tape) = fired(&plan, 1);
    let mut strong = plan.profile.spec.clone();
    strong.heater.rated_w *= 1.01;
    let off = played(&plan, &strong, &tape).verdict;
    let found =
        off.find(|subject| matches!(subject, Subject::SimulatedSensor(_))).unwrap().clone();
    let Subject::SimulatedSensor(agreement) = found.subject else { panic!("{found:?}") };
    assert!(agreement.hotter_k() > 3.0 && found.outcome == Outcome::Note, "{found:?}");
    let through = |verdict: &Verdict| {
        let is = |subject: &Subject| matches!(subject, Subject::Infiltration { .. });
        let found = verdict.find(is).unwrap();
        let Subject::Infiltration { probability, .. } = found.subject else { panic!() };
        (probability, found.measured)
    };
    let ((here, deeper_m), (there, depth_m)) = (through(&off), through(&verdict));
    assert!((here - there).abs() < 0.005 && deeper_m > 1.01 * depth_m, "{here} {there}");
}

/// The pump of the profile is better than that of the furnace, and draws far below what the gauge read.
#[test]
fn a_pump_that_does_not_fit_makes_the_trapped_gas_not_known() {
    let plan = example("infiltrate-spinel-vacuum");
    let (_, tape) = fired(&plan, 1);
    let gas = |verdict: &Verdict| {
        let is = |subject: &Subject| matches!(subject, Subject::TrappedGas { .. });
        verdict.find(is).unwrap().clone()
    };
    let same = gas(&played(&plan, &plan.profile.spec, &tape).verdict);
    assert_eq!((same.outcome, same.doubt), (Outcome::Pass, None));
    let mut strong = plan.profile.spec.clone();
    strong.pump.as_mut().unwrap().ultimate_pa *= 0.4;
    let off = gas(&played(&plan, &strong, &tape).verdict);
    assert_eq!(off.outcome, Outcome::NotKnown);
    // The insulation conducts less in the better vacuum, so the temperature may differ as well.
    let reasons = off.doubt.unwrap().reasons;
    let Some(Unknown::OtherPressure(found)) = reasons.first() else { panic!("{reasons:?}") };
    let (gauge_hpa, own_hpa) = (found.gauge_pa / 100.0, found.simulated_pa / 100.0);
    assert!(gauge_hpa > 1.5 * own_hpa && gauge_hpa < 60.0, "{gauge_hpa} {own_hpa}");
}

#[test]
fn a_recording_without_the_whole_firing_is_not_known() {
    let plan = example("clean-alumina");
    let (verdict, tape) = fired(&plan, 1);
    let flaw = |tape: &[Tick]| {
        let verdict = played(&plan, &plan.profile.spec, tape).verdict;
        let [found] = verdict.findings.as_slice() else { return None };
        let Subject::Recording(flaw) = found.subject else { panic!("{found:?}") };
        assert_eq!(verdict.result(), VerdictResult::NotKnown);
        Some(flaw)
    };
    assert_eq!(flaw(&tape), None);
    let mut with_gap = tape.clone();
    with_gap.remove(50_000);
    assert_eq!(flaw(&with_gap), Some(RecordingFlaw::Gap(50_000)));
    assert_eq!(flaw(&tape[..10]), Some(RecordingFlaw::NoFiring));
    assert!(matches!(flaw(&tape[..50_000]), Some(RecordingFlaw::CutOff(4_900..=5_000))));
    let mut altered = tape.clone();
    let tick = altered[50_000];
    let mut outputs = tick.outputs();
    outputs.pump = !outputs.pump;
    altered[50_000] = Tick::new(tick.number, tick.at_ms, &tick.inputs(), &outputs);
    assert_eq!(flaw(&altered), Some(RecordingFlaw::Different(50_001)));
    // The tail of the firing may be cut, or have gaps.
    let ended_s = verdict.findings[0].at_s.unwrap();
    let end = (ended_s * 10.0) as usize + 100;
    assert!(end + 50 < tape.len(), "{end} of {}", tape.len());
    for tail in [&tape[..end], &[&tape[..end], &tape[end + 20..]].concat()] {
        let shorter = played(&plan, &plan.profile.spec, tail).verdict;
        assert_eq!(outcomes(&shorter), outcomes(&verdict));
    }
}
