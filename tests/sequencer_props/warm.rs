//! The first setpoint of a firing: a warm chamber shows what it settles at, and one that is hotter than its
//! target cools down to it. Targets at which the exact bound matters are those whose thousandths single
//! precision converts exactly.

use saggar_core::programme::{Action, Step};
use saggar_core::sequencer::Wait;

use super::SequencerBench;
use crate::support::{ramp, soak, step};

/// A ramp to this target (°C) at 60 K/min, and a step after it.
fn to(celsius: f32) -> [Step; 2] {
    let to_mc = (celsius * 1000.0) as i32;
    [step(Action::Ramp { to_mc, rate_mk_per_min: 60_000 }), step(soak(60))]
}

/// The first tick with a setpoint, and the setpoint, of a furnace whose reading rises at this rate (K in a
/// tick). Until then it waits, without heat.
fn first_setpoint(from_c: f32, to_c: f32, rise_k: impl Fn(u64) -> f32) -> (u64, f32) {
    let mut bench = SequencerBench::new(from_c, &to(to_c));
    for tick in 0..6_000 {
        let plan = bench.tick(|now| now.reading_c = Some(from_c + rise_k(tick)));
        if let Some(setpoint) = plan.setpoint {
            return (tick, setpoint.celsius);
        }
        assert_eq!(plan.waiting, Some(Wait::Cooling), "{from_c} to {to_c} °C, tick {tick}");
    }
    panic!("from {from_c} to {to_c} °C: no heat within ten minutes");
}

/// The last tick of the first minute.
const MINUTE: u64 = 599;

/// Between 35 and 300 °C, unless the target is 150 K away: there the reading may come near it by itself.
#[test]
fn a_warm_chamber_near_its_target_waits_a_minute() {
    for (from_c, to_c, waits) in [
        (34.9, 100.0, false),
        (35.0, 100.0, true),
        (299.9, 400.0, true),
        (300.0, 400.0, false),
        (106.1, 256.0, true),
        (106.0, 256.0, false),
        (250.0, 251.0, true),
    ] {
        let (tick, celsius) = first_setpoint(from_c, to_c, |_| 0.0);
        assert_eq!(tick, if waits { MINUTE } else { 0 }, "{from_c} to {to_c} °C");
        assert!((celsius - from_c).abs() < 0.01, "{from_c} to {to_c} °C: {celsius} °C");
    }
}

/// It has settled if it rose by half a kelvin in a minute, and is measured anew if it rose by more.
#[test]
fn a_reading_that_rises_is_waited_for() {
    for (rise_k, tick) in [(0.5, MINUTE), (0.51, 2 * MINUTE + 1), (-3.0, MINUTE)] {
        let rises = |tick| if tick < 300 { 0.0 } else { rise_k };
        assert_eq!(first_setpoint(100.0, 200.0, rises).0, tick, "{rise_k} K in a minute");
    }
    // 6 K/min for three minutes, then at rest: the fourth minute is the first without a rise.
    let (tick, celsius) = first_setpoint(100.0, 200.0, |tick| tick.min(1_799) as f32 * 0.01);
    assert_eq!(tick, 4 * 600 - 1);
    assert!((celsius - 117.99).abs() < 0.01, "{celsius} °C");
}

/// Above its target by more than 2 K it cools without heat, until it is above by 1 K. By less, or above
/// 300 °C, the setpoint falls at the rate of the ramp.
#[test]
fn a_chamber_above_its_target_cools_first() {
    for (from_c, to_c, cools) in [
        (200.0, 140.0, true),
        (152.1, 150.0, true),
        (152.0, 150.0, false),
        (151.0, 150.0, false),
        (299.0, 130.0, true),
        (400.0, 350.0, false),
    ] {
        let mut bench = SequencerBench::new(from_c, &to(to_c));
        let settles = if from_c < 300.0 { MINUTE } else { 0 };
        for _ in 0..settles {
            assert_eq!(bench.tick(|_| {}).setpoint, None);
        }
        let plan = bench.tick(|_| {});
        assert_eq!(plan.setpoint.is_none(), cools, "{from_c} to {to_c} °C: {plan:?}");
        if let Some(setpoint) = plan.setpoint {
            assert!((setpoint.celsius - from_c).abs() < 0.01, "{from_c} to {to_c} °C");
            continue;
        }
        for above_k in [50.0, 2.0, 1.1] {
            let plan = bench.tick(|now| now.reading_c = Some(to_c + above_k));
            assert_eq!(
                (plan.setpoint, plan.waiting),
                (None, Some(Wait::Cooling)),
                "{above_k} K"
            );
        }
        assert_eq!(bench.step(), Some(0));
        bench.tick(|now| now.reading_c = Some(to_c + 1.0));
        assert_eq!(bench.step(), Some(1), "{from_c} to {to_c} °C");
        let plan = bench.tick(|now| now.reading_c = Some(to_c + 1.0));
        assert_eq!(plan.setpoint.map(|setpoint| setpoint.celsius), Some(to_c));
    }
}

/// A ramp down that the furnace does not follow waits at its end, from 2 K above until 1 K above.
#[test]
fn a_ramp_down_waits_for_the_furnace() {
    let mut bench = SequencerBench::new(530.0, &to(520.0));
    while bench.plan.setpoint.is_none_or(|setpoint| setpoint.celsius > 520.0) {
        assert!(bench.tick < 1_000, "the setpoint never arrived: {:?}", bench.plan);
        bench.tick(|now| now.reading_c = Some(530.0));
        if bench.plan.waiting.is_some() {
            break;
        }
    }
    assert_eq!((bench.plan.setpoint, bench.plan.waiting), (None, Some(Wait::Cooling)));
    bench.tick(|now| now.reading_c = Some(521.1));
    assert_eq!((bench.step(), bench.plan.setpoint), (Some(0), None));
    bench.tick(|now| now.reading_c = Some(521.0));
    assert_eq!(bench.step(), Some(1));

    let mut bench = SequencerBench::new(530.0, &to(520.0));
    while bench.step() != Some(1) {
        assert!(bench.tick < 1_000, "2 K above it does not wait");
        let plan = bench.tick(|now| now.reading_c = now.reading_c.map(|c| c.max(522.0)));
        assert_eq!(plan.waiting, None);
    }
}

/// Where a setpoint comes to rest: at the target of the next ramp if that goes on up.
#[test]
fn a_ramp_knows_whether_the_next_one_goes_on_up() {
    let steps = [step(ramp(500, 60)), step(ramp(700, 60)), step(ramp(600, 60)), step(soak(60))];
    let mut bench = SequencerBench::new(450.0, &steps);
    for (index, rest_c) in [(0, 700.0), (1, 700.0), (2, 600.0)] {
        bench.until(index, |_| {});
        bench.tick(|_| {});
        let rest = bench.plan.setpoint.map_or(0.0, |setpoint| setpoint.rest_c);
        assert!((rest - rest_c).abs() < 0.01, "step {index}: {rest} °C");
    }
}
