//! Power cuts in whole firings: the operator goes on, and the verdict marks the piece.

use saggar_bench::PlannedCut;
use saggar_core::sequencer::Ending;
use saggar_plant::vacuum::ValvesAtRest;
use saggar_schedule::FiringPlan;

use super::{FiringOptions, bench_with, example, finding, fire};

/// A firing with one power cut.
fn fire_cut(
    plan: &FiringPlan,
    cuts: &[PlannedCut],
    operator_s: Option<f64>,
) -> saggar_bench::FiringResult {
    let options = FiringOptions { operator_s, ..FiringOptions::default() };
    let mut bench = bench_with(plan, &plan.profile.spec, &plan.profile.furnace, &options);
    bench.run_through_cuts(cuts, ValvesAtRest::default());
    bench.run_to_end(&plan.work)
}

/// The middle of each step of an uncut firing (s).
fn middles(plan: &FiringPlan) -> Vec<(u8, f64)> {
    let whole = fire(plan, &FiringOptions::default());
    let spans = whole.trace.spans();
    spans.iter().map(|span| (span.step, (span.from_s + span.to_s) / 2.0)).collect()
}

/// In the last soak, the one at the highest temperature.
fn in_the_soak(plan: &FiringPlan) -> f64 {
    let whole = fire(plan, &FiringOptions::default());
    let hottest = whole.trace.spans().into_iter().find(|span| {
        plan.map
            .origin(span.step)
            .is_some_and(|origin| origin.stage.name.as_deref() == Some("infiltrate"))
    });
    hottest.map(|span| (span.from_s + span.to_s) / 2.0).expect("a soak")
}

#[test]
fn a_firing_goes_on_after_a_power_cut_and_the_verdict_says_so() {
    let plan = example("infiltrate-alumina");
    let at_s = in_the_soak(&plan);
    for length_s in [0.05, 60.0] {
        let fired = fire_cut(&plan, &[PlannedCut { at_s, length_s }], Some(30.0));
        assert_eq!(fired.ending, Some(Ending::Completed), "{length_s} s");
        let marked = finding(&fired.verdict, is!(Interruption))
            .sentence(saggar_verdict::format::Scale::Celsius);
        assert!(marked.contains("when the firing went on"), "{marked}");
        assert!(marked.contains("infiltrate") || marked.contains("step"), "{marked}");
    }
}

/// On a ramp the element is hot, which the core that boots does not know: the limit channel shows it.
#[test]
fn a_hot_element_after_a_short_cut_is_no_disagreement() {
    let plan = example("infiltrate-alumina");
    for (minute, length_s) in [(55.0, 10.0), (61.0, 1.0), (80.0, 1.0)] {
        let cut = PlannedCut { at_s: minute * 60.0, length_s };
        let fired = fire_cut(&plan, &[cut], Some(30.0));
        assert_eq!(fired.ending, Some(Ending::Completed), "minute {minute}");
    }
}

#[test]
fn without_an_operator_an_interrupted_firing_does_not_go_on() {
    let plan = example("infiltrate-alumina");
    let cut = PlannedCut { at_s: in_the_soak(&plan), length_s: 10.0 };
    let fired = fire_cut(&plan, &[cut], None);
    assert!(fired.ending.is_none() && !fired.verdict.passed());
    let marked = finding(&fired.verdict, is!(Interruption))
        .sentence(saggar_verdict::format::Scale::Celsius);
    assert!(marked.contains("did not go on"), "{marked}");
    let heated = |row: &&saggar_bench::trace::Row| {
        row.at_s > cut.at_s + cut.length_s + 1.0 && row.measured.duty > 0.0
    };
    assert_eq!(fired.trace.rows.iter().filter(heated).count(), 0, "heat without a press");
}

#[test]
fn two_cuts_in_one_firing() {
    let plan = example("infiltrate-alumina");
    let at_s = in_the_soak(&plan);
    let second = PlannedCut { at_s: at_s + 180.0, length_s: 20.0 };
    let cuts = [PlannedCut { at_s, length_s: 60.0 }, second];
    let fired = fire_cut(&plan, &cuts, Some(30.0));
    assert_eq!(fired.ending, Some(Ending::Completed));
    let marks = fired.verdict.findings.iter().filter(|it| is!(Interruption)(&it.subject));
    assert_eq!(marks.count(), 2);
}

/// 133 firings on both furnaces, cut in the middle of every step, for 50 ms to 60 min.
#[test]
#[ignore = "133 firings"]
fn power_cuts() {
    let lengths = [0.05, 1.0, 10.0, 60.0, 600.0, 1_800.0, 3_600.0];
    let (mut all, mut completed, mut in_band, mut passed) = (0, 0, 0, 0);
    for name in ["infiltrate-alumina", "clean-alumina", "melt-back"] {
        let plan = example(name);
        for (step, at_s) in middles(&plan) {
            for length_s in lengths {
                let fired = fire_cut(&plan, &[PlannedCut { at_s, length_s }], Some(30.0));
                let band = fired.verdict.find(is!(SoakBand));
                let band = band.is_none_or(|it| it.margin >= 0.0);
                all += 1;
                completed += u32::from(fired.ending == Some(Ending::Completed));
                in_band += u32::from(fired.ending == Some(Ending::Completed) && band);
                passed += u32::from(fired.verdict.passed());
                if !fired.verdict.passed() {
                    println!(
                        "{name}, step {step}, {length_s} s: {:?}, {}",
                        fired.ending,
                        fired.verdict.headline()
                    );
                }
            }
        }
    }
    println!("{all} cuts: {completed} completed, {in_band} in the band, {passed} pass");
    assert_eq!((completed, in_band, passed), (all, all, all));
}
