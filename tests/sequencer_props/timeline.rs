//! The planned timeline against the sequencer.

use proptest::prelude::*;
use saggar_core::programme::{
    Action, START_MC, SetpointOrigin, Timeline, Violation, ViolationKind, verify,
};
use saggar_core::sequencer::Ending;

use super::SequencerBench;
use crate::support::{furnace, image, ramp, soak, step};

fn actions() -> impl Strategy<Value = Vec<Action>> {
    let action = prop_oneof![
        4 => (20_000i32..=1_180_000, 20_000u32..=150_000)
            .prop_map(|(to_mc, rate_mk_per_min)| Action::Ramp { to_mc, rate_mk_per_min }),
        1 => Just(soak(60)),
        3 => (20_000i32..1_180_000).prop_map(|below_mc| Action::Cool { below_mc }),
        1 => any::<bool>().prop_map(|open| Action::MoveClosure { open, dwell_ms: 5_000 }),
    ];
    prop::collection::vec(action, 1..8).prop_filter("may not run", |actions| {
        let steps: Vec<_> = actions.iter().map(|action| step(*action)).collect();
        verify(&image(&steps), &furnace()).is_empty()
    })
}

/// Time that the corners add to a ramp (s), and the little that its last 2 mK spare it.
const CORNERS_S: f64 = 41.0;
const SPARED_S: f64 = 1.0;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// On a furnace that follows, every ramp begins where the timeline has it and takes as long;
    /// after a move it begins no hotter than that.
    #[test]
    fn ramps_begin_and_last_as_planned(actions in actions()) {
        let steps: Vec<_> = actions.iter().map(|action| step(*action)).collect();
        let mut bench = SequencerBench::new(START_MC as f32 * 0.001, &steps);
        let mut timeline = Timeline::new();
        for (index, action) in (0u8..).zip(&actions) {
            let from_c = bench.plan.setpoint.map_or(bench.reading_c, |setpoint| setpoint.celsius);
            let begun = bench.tick;
            // The first tick begins the first step and works on it.
            while bench.tick == begun || bench.step() == Some(index) {
                tick(&mut bench);
            }
            let took_s = (bench.tick - begun) as f64 * 0.1;
            let (at_c, basis) = (timeline.setpoint_mc() as f32 * 0.001, timeline.origin());
            let planned_s = timeline.advance(action) as f64 * 0.001;
            let Action::Ramp { .. } = action else { continue };
            match basis {
                SetpointOrigin::Start | SetpointOrigin::Ramp => {
                    prop_assert!((from_c - at_c).abs() < 0.02, "{} °C, not {}", from_c, at_c);
                    let most_s = planned_s + CORNERS_S;
                    prop_assert!(
                        (planned_s - SPARED_S..=most_s).contains(&took_s),
                        "took {} s, not {}", took_s, planned_s
                    );
                }
                SetpointOrigin::Moved => {
                    prop_assert!(from_c < at_c + 0.02, "{} °C, not {}", from_c, at_c);
                }
            }
        }
        prop_assert_eq!(bench.ended(), Some(Ending::Completed));
    }
}

/// One tick; a furnace without heat cools down to a cold room.
fn tick(bench: &mut SequencerBench) {
    bench.tick(|_| {});
    if bench.plan.setpoint.is_none() {
        bench.reading_c = (bench.reading_c - 0.5).max(15.0);
    }
}

/// The device's own verification counts by the same timeline: 300 K at 1 K/min from a setpoint
/// that a `cool` above it left alone, and from 25 °C at the start.
#[test]
fn verification_counts_the_same_time() {
    let mut furnace = furnace();
    furnace.limits.firing_max_s = 0;
    let seconds = |actions: &[Action]| {
        let steps: Vec<_> = actions.iter().map(|action| step(*action)).collect();
        let found = verify(&image(&steps), &furnace);
        let [Violation { kind: ViolationKind::TooLong { seconds, .. }, .. }] =
            found.list.as_slice()
        else {
            panic!("{found:?}");
        };
        *seconds
    };
    let first = seconds(&[ramp(300, 1)]);
    assert_eq!(first, 275 * 60);
    let cool = Action::Cool { below_mc: 450_000 };
    assert_eq!(seconds(&[ramp(300, 1), cool, ramp(600, 1)]), first + 300 * 60);
    let cool = Action::Cool { below_mc: 200_000 };
    assert_eq!(seconds(&[ramp(300, 1), cool, ramp(600, 1)]), first + 400 * 60);
}
