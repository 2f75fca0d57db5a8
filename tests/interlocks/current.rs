//! The heater's current against the cycles that are commanded.

use saggar_core::Cause;
use saggar_core::events::EventKind;
use saggar_core::programme::Action;

use super::{AtRest, long_firing, restarts, trips};
use crate::support::{Bench, RATED_W, Tick, furnace, ramp, soak, step};

/// The element's current times this factor.
fn times(factor: f64) -> impl Fn(&mut Tick) {
    move |tick| {
        let ma = tick.inputs.heater_current_ma.as_mut().expect("a sensor");
        *ma = (f64::from(*ma) * factor) as u32;
    }
}

/// The element is open: no current and no heat.
fn open(tick: &mut Tick) {
    tick.inputs.heater_current_ma = Some(0);
    tick.effect = 0.0;
}

/// A ramp that the bench furnace can only just follow.
fn driven() -> Bench {
    let mut bench = Bench::firing(700.0, &[step(ramp(1100, 145)), step(soak(600))]);
    for _ in 0..500 {
        bench.tick(|tick| tick.effect = 0.6);
    }
    assert!(bench.core.status().commanded_duty > 0.99, "full power");
    bench
}

/// A soak on the bench furnace takes about a third of the heater's power.
fn soaking() -> Bench {
    let mut bench = Bench::firing(895.0, &[step(ramp(900, 30)), step(soak(7200))]);
    bench.run(600);
    let share: f32 = (0..100)
        .map(|_| {
            bench.run(1);
            bench.core.status().commanded_duty
        })
        .sum();
    assert!((20.0..45.0).contains(&share), "a share of {share} %");
    bench
}

#[test]
fn no_heater_current() {
    let cause = Cause::NoHeaterCurrent;
    let cases: [fn(&mut Tick); 3] = [
        open,
        // A sensor that is dead or does not answer, with a sound element.
        |tick| tick.inputs.heater_current_ma = Some(0),
        |tick| tick.inputs.heater_current_ma = None,
    ];
    for spoil in cases {
        let mut bench = driven();
        trips(&mut bench, cause, 11, AtRest::Unseen, spoil);
        restarts(&mut bench);
    }
}

/// The self-test finds it in half a second of full cycles.
#[test]
fn an_open_element_is_found_by_the_self_test() {
    let mut bench = Bench::new(200.0, &long_firing(900));
    bench.start();
    let mut heated = 0;
    for _ in 0..40 {
        bench.tick(open);
        heated += u32::from(bench.out.heater_cycles != 0);
    }
    assert_eq!((bench.tripped(), heated), (Some(Cause::NoHeaterCurrent), 3));
}

/// In a soak, where a tick has one cycle or two, and in one that takes a few per cent of the power.
#[test]
fn an_open_element_in_a_soak_is_found_in_seconds() {
    let mut bench = soaking();
    trips(&mut bench, Cause::NoHeaterCurrent, 11, AtRest::Unseen, open);

    let mut bench = Bench::firing(105.0, &[step(ramp(110, 30)), step(soak(7200))]);
    bench.run(1200);
    let ticks = trips(&mut bench, Cause::NoHeaterCurrent, 100, AtRest::Unseen, open);
    println!("an open element at 3 % of the power: {ticks} ticks");
}

#[test]
fn heater_current_wrong() {
    let cause = Cause::HeaterCurrentWrong;
    for factor in [1.4, 0.55] {
        let mut bench = driven();
        // Two windows of a second, and what is left of the one in which it begins.
        trips(&mut bench, cause, 30, AtRest::Unseen, times(factor));
        restarts(&mut bench);

        // The self-test finds it as well, with a few ticks of heat.
        let mut bench = Bench::new(200.0, &long_firing(900));
        bench.start();
        let mut heated = 0;
        for _ in 0..40 {
            bench.tick(times(factor));
            heated += u32::from(bench.out.heater_cycles != 0);
        }
        assert_eq!((bench.tripped(), heated), (Some(cause), 3), "{factor}");
    }
    // An element with a few shorted turns, in a soak.
    let mut bench = soaking();
    trips(&mut bench, cause, 30, AtRest::Unseen, times(0.5));
}

/// Cycles that nobody commanded, while others are.
#[test]
fn a_stuck_output_stage_is_found_while_the_step_heats() {
    for mains in [0.9, 1.0, 1.1] {
        let mut bench = soaking();
        let from = bench.celsius;
        trips(&mut bench, Cause::HeaterStuckOn, 30, AtRest::Seen, |tick| {
            tick.inputs.heater_current_ma = Some((10_000.0 * mains) as u32);
            tick.effect = 0.0;
            tick.stray_w = RATED_W * mains * mains;
        });
        println!("at {mains} times the mains by {:.1} K", bench.celsius - from);
    }
}

/// A shorted output stage conducts as soon as the self-test closes the contactor.
#[test]
fn a_shorted_output_stage_is_found_before_the_first_heat() {
    let mut bench = Bench::new(200.0, &long_firing(900));
    bench.start();
    for _ in 0..40 {
        bench.tick(|tick| {
            let closed = tick.inputs.contactor_closed;
            tick.inputs.heater_current_ma = closed.then_some(10_000).or(Some(0));
        });
        assert_eq!(bench.out.heater_cycles, 0);
    }
    assert_eq!(bench.tripped(), Some(Cause::HeaterStuckOn));
}

/// Runs a firing with every duty from full to none, and returns its events.
fn fire(factor: f64, late_ticks: usize) -> Vec<EventKind> {
    let steps = [
        step(ramp(400, 140)),
        step(soak(120)),
        step(ramp(900, 40)),
        step(soak(600)),
        step(Action::Cool { below_mc: 850_000 }),
        step(soak(120)),
    ];
    let mut bench = Bench::new(25.0, &steps);
    bench.start();
    let mut said = Vec::new();
    let mut pipe = std::collections::VecDeque::from(vec![0; late_ticks]);
    while bench.core.is_firing() {
        bench.tick(|tick| {
            let ma = f64::from(tick.inputs.heater_current_ma.expect("a sensor")) * factor;
            pipe.push_back(ma as u32);
            tick.inputs.heater_current_ma = pipe.pop_front();
            // Not so little that it counts as without effect.
            tick.effect = (factor * factor).max(0.7);
        });
        said.extend(bench.events());
        assert_eq!(bench.tripped(), None, "{factor}, at {:.0} °C", bench.celsius);
    }
    said
}

/// Mains from 90 to 110 % are neither a trip nor worth an event, with a sensor that is up to 5 % off,
/// and two ticks late.
#[test]
fn mains_within_a_tenth_are_left_alone() {
    for factor in [0.9 * 0.95, 0.9, 0.95, 1.0, 1.05, 1.1, 1.1 * 1.05] {
        for late_ticks in [0, 2] {
            let said = fire(factor, late_ticks);
            assert!(!said.contains(&EventKind::HeaterWeak), "{factor}, {late_ticks} ticks");
        }
    }
}

/// Low mains, an aged element and half-waves are said once and do not end the firing.
#[test]
fn a_weak_heater_is_said_once_in_a_firing() {
    for factor in [0.65, 0.7, 0.75, 0.8] {
        let said = fire(factor, 0);
        let weak = said.iter().filter(|kind| **kind == EventKind::HeaterWeak).count();
        assert_eq!(weak, 1, "{factor}");
    }
    let mut bench = Bench::firing(700.0, &long_firing(900));
    for firing in 0..2 {
        for _ in 0..600 {
            bench.tick(times(0.7));
        }
        assert!(bench.events().contains(&EventKind::HeaterWeak), "firing {firing}");
        assert!(bench.core.status().heater_weak);
        bench.tick(|tick| tick.inputs.buttons.stop = true);
        bench.run(2);
        assert!(!bench.core.status().heater_weak, "it is said of a firing");
        bench.start();
    }
}

/// A furnace without a sensor gets neither full cycles nor trips from it.
#[test]
fn a_furnace_without_a_current_sensor_is_not_judged_by_it() {
    let mut furnace = furnace();
    furnace.heater.full_current_ma = None;
    let mut bench = Bench::of(furnace, 200.0, &[step(ramp(210, 1)), step(soak(600))]);
    bench.run(20);
    bench.start();
    for _ in 0..600 {
        bench.tick(|tick| tick.inputs.heater_current_ma = None);
        assert!(bench.core.status().commanded_duty < 0.9, "full cycles");
        assert_eq!(bench.tripped(), None);
    }
}
