//! Heater faults and over-temperature.

use saggar_core::Cause;
use saggar_core::furnace::Furnace;
use saggar_core::sensors::ThermocoupleType;

use super::{AtRest, cooling, long_firing, recovers, restarts, trips};
use crate::support::{Bench, RATED_W, Tick, celsius, furnace, sample};

/// A heater at full power, whatever is commanded.
fn runaway(tick: &mut Tick) {
    tick.stray_w = RATED_W;
    tick.effect = 0.0;
}

#[test]
fn above_programme_limit() {
    let mut bench = Bench::firing(890.0, &long_firing(900));
    bench.run(1200);
    let mut crossed = 0;
    let ticks = trips(&mut bench, Cause::AboveProgrammeLimit, 200, AtRest::Seen, |tick| {
        runaway(tick);
        crossed += u32::from(tick.celsius < 915.0);
    });
    assert!(ticks <= crossed + 5, "{ticks} ticks, and {crossed} below the limit");
    bench.run(600);
    recovers(&mut bench, Cause::AboveProgrammeLimit);
}

#[test]
fn above_furnace_limit() {
    // The limit channel alone, as slowly and as little above what was asked that the channels agree: the
    // control channel would trip on the programme first.
    let mut low = furnace();
    low.limits.overshoot_max_k = 3.0;
    low.limits.programme_max = celsius(1180.0);
    low.limits.furnace_max = celsius(1188.0);
    low.limits.start_below = celsius(1188.0);
    let mut bench = Bench::of(low, 1170.0, &long_firing(1180));
    bench.run(20);
    bench.start();
    bench.run(600);
    let mut reads = 1182.0;
    let mut below = 0;
    let ticks = trips(&mut bench, Cause::AboveFurnaceLimit, 2_000, AtRest::Seen, |tick| {
        reads = f64::min(reads + 0.005, 1_195.0);
        below += u32::from(reads < 1_188.0);
        tick.inputs.limit = Some(sample(ThermocoupleType::S, reads));
    });
    assert!(ticks <= below + 5, "{ticks} ticks, and {below} below the limit");
    recovers(&mut bench, Cause::AboveFurnaceLimit);
}

/// An idle furnace that is too hot trips as well.
#[test]
fn above_furnace_limit_trips_at_rest() {
    let mut bench = Bench::new(1100.0, &long_firing(1180));
    for _ in 0..3000 {
        bench.tick(|tick| {
            tick.stray_w = RATED_W;
            tick.inputs.heater_current_ma = None;
            // Slow enough not to be a heater's rise: what is left is the limit.
            tick.inputs.closure.shut = false;
        });
        if bench.celsius > 1202.0 {
            break;
        }
    }
    assert_eq!(bench.tripped(), Some(Cause::AboveFurnaceLimit));
}

/// The furnace may have risen by 4 K since a sample that is 400 ms old, so it counts as that much hotter.
#[test]
fn an_old_sample_counts_as_hotter() {
    for (age_ms, expected) in [(0, None), (200, None), (400, Some(Cause::AboveFurnaceLimit))] {
        let mut bench = Bench::new(1150.0, &long_firing(1180));
        for tick in 0..600 {
            bench.celsius = 1150.0 + 47.0 * f64::from(tick.min(500)) / 500.0;
            bench.tick(|tick| {
                tick.inputs.closure.shut = false;
                tick.inputs.control.as_mut().unwrap().age_ms = age_ms;
                tick.inputs.limit = tick.inputs.control;
            });
        }
        assert_eq!(bench.tripped(), expected, "{age_ms} ms");
    }
}

/// A weak element rises less than a quarter of the expected rise and trips. An aged one does not.
#[test]
fn weak_heater_trips_and_old_heater_does_not() {
    let mut bench = Bench::firing(700.0, &long_firing(1000));
    let from = bench.celsius;
    for _ in 0..2400 {
        bench.tick(|tick| tick.effect = 0.32);
        if bench.tripped().is_some() {
            break;
        }
    }
    assert_eq!(bench.tripped(), Some(Cause::HeaterWithoutEffect));
    assert!(bench.celsius > from + 15.0, "no rise at all: {:.1} K", bench.celsius - from);

    let mut bench = Bench::firing(700.0, &long_firing(1000));
    for _ in 0..6000 {
        bench.tick(|tick| tick.effect = 0.6);
    }
    assert_eq!(bench.tripped(), None);
}

#[test]
fn heater_without_effect() {
    let cause = Cause::HeaterWithoutEffect;
    // The element is open, and nothing measures the current.
    let mut bench = Bench::of(without_current_sensor(), 700.0, &long_firing(1000));
    bench.run(20);
    bench.start();
    bench.run(300);
    trips(&mut bench, cause, 1300, AtRest::Unseen, |tick| tick.effect = 0.0);
    restarts(&mut bench);

    // Both thermocouples are shorted at the terminals: they read the room, plausibly, and the
    // furnace gets hotter than they say.
    let mut bench = Bench::firing(40.0, &long_firing(1000));
    let mut noise_nv = 0;
    trips(&mut bench, cause, 1300, AtRest::Unseen, |tick| {
        noise_nv = 500 - noise_nv;
        for channel in [&mut tick.inputs.control, &mut tick.inputs.limit] {
            channel.as_mut().unwrap().emf_nv = noise_nv;
        }
    });
    println!("a shorted sensor let the furnace reach {:.0} °C", bench.celsius);
    assert!(bench.celsius < 400.0, "{:.0} °C", bench.celsius);
}

#[test]
fn heater_stuck_on() {
    let cause = Cause::HeaterStuckOn;
    // Current without a command, in a step that does not heat: 1 s.
    let mut bench = cooling();
    trips(&mut bench, cause, 11, AtRest::Seen, |tick| {
        tick.inputs.heater_current_ma = Some(10_000);
    });
    recovers(&mut bench, cause);

    // Without a current sensor: by the rise that only a heater can make.
    let mut bench = cooling();
    let from = bench.celsius;
    trips(&mut bench, cause, 600, AtRest::Seen, |tick| {
        tick.inputs.heater_current_ma = None;
        tick.stray_w = RATED_W;
    });
    println!("a stuck heater raised the furnace by {:.0} K", bench.celsius - from);

    // At rest, with no firing at all.
    let mut bench = Bench::new(200.0, &long_firing(900));
    bench.run(300);
    for _ in 0..11 {
        bench.tick(|tick| tick.inputs.heater_current_ma = Some(10_000));
    }
    assert_eq!(bench.tripped(), Some(cause));
}

/// A contact that bounces switches the heat off for a tick now and then, and hides nothing.
#[test]
fn a_bouncing_contact_does_not_hide_a_dead_heater() {
    for phase in 0..20 {
        let mut bench = Bench::of(without_current_sensor(), 700.0, &long_firing(1000));
        bench.run(20);
        bench.start();
        bench.run(300);
        for tick in 0..1300 {
            bench.tick(|t| {
                t.effect = 0.0;
                t.inputs.closure.shut = tick % 20 != phase;
            });
        }
        assert_eq!(bench.tripped(), Some(Cause::HeaterWithoutEffect), "phase {phase}");
    }
}

/// The bench furnace as it is wired without a current sensor.
fn without_current_sensor() -> Furnace {
    let mut furnace = furnace();
    furnace.heater.full_current_ma = None;
    furnace
}
