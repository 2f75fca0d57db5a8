//! A heater that is stuck on, and harmless rises that look like one.

use saggar_core::Cause;
use saggar_core::sensors::ThermocoupleType;

use super::long_firing;
use crate::support::{Bench, RATED_W, Tick, sample};

/// The output stage conducts, and there is no current sensor.
fn stuck(tick: &mut Tick) {
    tick.stray_w = RATED_W;
    tick.inputs.heater_current_ma = None;
}

/// Ticks of a stuck output stage until something trips.
fn ticks_until_found(bench: &mut Bench, spoil: impl Fn(&mut Tick)) -> u32 {
    for ticks in 0..20_000 {
        if bench.tripped().is_some() {
            println!("{ticks} ticks, {:.0} °C, {:?}", bench.celsius, bench.tripped());
            return ticks;
        }
        bench.tick(&spoil);
    }
    panic!("never found");
}

/// The current is found within a second, with the chamber shut or open.
#[test]
fn current_at_rest_is_found_in_a_second() {
    for shut in [true, false] {
        let mut bench = Bench::new(200.0, &long_firing(900));
        let found = ticks_until_found(&mut bench, |tick| {
            tick.inputs.heater_current_ma = Some(500);
            tick.inputs.closure.shut = shut;
        });
        assert_eq!((found, bench.tripped()), (10, Some(Cause::HeaterStuckOn)));
    }
    // A current below what counts as conducting is none.
    let mut bench = Bench::new(200.0, &long_firing(900));
    for _ in 0..1000 {
        bench.tick(|tick| tick.inputs.heater_current_ma = Some(499));
    }
    assert_eq!(bench.tripped(), None);
}

/// Without a current sensor a rise of 25 K is found, counted from 20 s after the last heat.
#[test]
fn a_rise_without_heat_is_found_20_s_after_the_last_heat() {
    let mut bench = Bench::firing(700.0, &long_firing(1000));
    bench.run(300);
    bench.tick(|tick| tick.inputs.buttons.stop = true);
    let found = ticks_until_found(&mut bench, stuck);
    assert_eq!(bench.tripped(), Some(Cause::HeaterStuckOn));
    assert!((200..=310).contains(&found), "{found} ticks");

    let mut bench = Bench::new(400.0, &long_firing(1000));
    bench.run(100);
    let found = ticks_until_found(&mut bench, stuck);
    assert_eq!(bench.tripped(), Some(Cause::HeaterStuckOn));
    assert!(found <= 100, "{found} ticks");
}

/// For ten minutes after the chamber was open a rise proves nothing. At full power the furnace's
/// limit comes first; what is too weak for that is found then.
#[test]
fn a_rise_after_loading_is_found_after_ten_minutes() {
    let load = |bench: &mut Bench| {
        for _ in 0..100 {
            bench.tick(|tick| tick.inputs.closure.shut = false);
        }
    };
    let mut bench = Bench::new(400.0, &long_firing(1000));
    load(&mut bench);
    ticks_until_found(&mut bench, stuck);
    assert_eq!(bench.tripped(), Some(Cause::AboveFurnaceLimit));

    let mut bench = Bench::new(100.0, &long_firing(1000));
    load(&mut bench);
    let found = ticks_until_found(&mut bench, |tick| {
        stuck(tick);
        tick.stray_w = 500.0;
    });
    assert_eq!(bench.tripped(), Some(Cause::HeaterStuckOn));
    assert!((6000..7200).contains(&found), "{found} ticks");
}

/// A hot muffle warms what was just put into it, by more than a stuck heater is allowed to.
#[test]
fn a_hot_chamber_that_was_open_may_warm_up_again() {
    for recovery_k in [30.0, 150.0, 300.0] {
        let mut bench = Bench::new(400.0, &long_firing(900));
        for _ in 0..100 {
            bench.tick(|tick| tick.inputs.closure.shut = false);
        }
        for index in 0..12_000 {
            let warmed = 1.0 - f64::exp(-f64::from(index) / 1200.0);
            bench.tick(|tick| {
                let reads = 400.0 + recovery_k * warmed;
                tick.inputs.control = Some(sample(ThermocoupleType::S, reads));
                tick.inputs.limit = tick.inputs.control;
            });
            assert_eq!(bench.tripped(), None, "{recovery_k} K, tick {index}");
        }
    }
}

/// A furnace that cools first has no larger allowance: the rise counts from the lowest reading.
#[test]
fn a_rise_is_measured_from_the_lowest_reading() {
    let mut bench = Bench::new(400.0, &long_firing(900));
    let falls_and_rises = |index: u32| 370.0 + (f64::from(index) - 300.0).abs() * 0.1;
    for index in 0..600 {
        bench.tick(|tick| {
            tick.inputs.control = Some(sample(ThermocoupleType::S, falls_and_rises(index)));
            tick.inputs.limit = tick.inputs.control;
            tick.inputs.heater_current_ma = None;
        });
        if bench.tripped().is_some() {
            assert_eq!(bench.tripped(), Some(Cause::HeaterStuckOn));
            assert!(index > 540, "tick {index}");
            return;
        }
    }
    panic!("not found at the temperature from which it fell");
}

/// Heat in between does not shorten the ten minutes after the chamber was open.
#[test]
fn a_chamber_that_was_open_may_warm_up_after_some_heat() {
    let mut bench = Bench::new(400.0, &long_firing(900));
    for _ in 0..100 {
        bench.tick(|tick| tick.inputs.closure.shut = false);
    }
    bench.start();
    bench.run(300);
    assert!(bench.out.heater_cycles != 0, "no heat");
    bench.tick(|tick| tick.inputs.buttons.stop = true);
    let from = bench.celsius;
    for index in 0..1200 {
        bench.tick(|tick| {
            let reads = from + f64::from(index) * 0.05;
            tick.inputs.control = Some(sample(ThermocoupleType::S, reads));
            tick.inputs.limit = tick.inputs.control;
            tick.inputs.heater_current_ma = None;
        });
        assert_eq!(bench.tripped(), None, "tick {index}");
    }
}
