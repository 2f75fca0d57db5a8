//! Faults of pump, valves and gauge.

use saggar_core::Cause;
use saggar_core::programme::{Action, Step, VacuumStage};

use super::{AtRest, restarts, trips};
use crate::support::{ATMOSPHERE_PA, Bench, Tick, ramp, soak, step, under, vacuum};

/// A ramp under vacuum from 800 °C, in a chamber too hot for air, with ten minutes for the pressure.
fn hot_draw() -> [Step; 2] {
    let stage = VacuumStage { within_ms: 600_000, ..vacuum(810) };
    [under(ramp(900, 30), stage), under(soak(600), stage)]
}

/// A firing whose pump has just been switched on; its gauge reads what `spoil` lets it read.
fn pump_just_on(mut spoil: impl FnMut(&mut Tick)) -> Bench {
    let mut bench = Bench::firing(800.0, &hot_draw());
    for _ in 0..1000 {
        if bench.out.pump {
            return bench;
        }
        bench.tick(&mut spoil);
    }
    panic!("the pump never ran");
}

/// A firing with its pressure reached.
fn reached() -> Bench {
    let mut bench = Bench::drawing(800.0, &hot_draw());
    bench.run(300);
    assert_eq!(bench.tripped(), None);
    bench
}

/// The reading of a gauge with a little noise.
fn noisy(pa: u32, tick: u32) -> Option<u32> {
    Some(pa + tick * 37 % 101)
}

/// A leak as large as the pump, a dead pump or a valve that does not open: no fall at all. A vent that
/// does not shut: a fall to half, and no farther.
#[test]
fn vacuum_late() {
    for (ends_pa, within) in [(ATMOSPHERE_PA, 232), (51_000, 443)] {
        let (mut pa, mut count) = (ATMOSPHERE_PA, 0);
        let mut spoil = |tick: &mut Tick| {
            count += 1;
            if tick.applied.isolation_valve {
                pa = (pa - pa / 50).max(ends_pa);
            }
            tick.inputs.pressure_pa = noisy(pa, count);
        };
        let mut bench = pump_just_on(&mut spoil);
        assert_eq!(bench.tripped(), None);
        trips(&mut bench, Cause::VacuumLate, within, AtRest::Unseen, spoil);
        restarts(&mut bench);
    }
}

/// The time limit of a stage holds where no curve can be judged: in a chamber that is cool enough for
/// air, and still dries.
#[test]
fn the_time_limit_of_a_stage_holds() {
    let mut bench = Bench::firing(200.0, &[under(ramp(300, 30), vacuum(210)), step(soak(600))]);
    let (mut pa, mut count) = (ATMOSPHERE_PA, 0);
    let mut spoil = |tick: &mut Tick| {
        count += 1;
        if tick.applied.isolation_valve {
            pa = (pa - pa / 50).max(20_000);
        }
        tick.inputs.pressure_pa = noisy(pa, count);
    };
    while !bench.out.pump {
        bench.tick(&mut spoil);
    }
    let ticks = trips(&mut bench, Cause::VacuumLate, 302, AtRest::Unseen, spoil);
    assert!(ticks > 290, "{ticks} ticks");
}

/// The pump draws through a valve that is commanded shut.
#[test]
fn isolation_valve_stuck() {
    let mut pa = ATMOSPHERE_PA;
    let mut spoil = |tick: &mut Tick| {
        if tick.applied.pump {
            pa = (pa - pa / 200).max(1500);
        }
        tick.inputs.pressure_pa = Some(pa);
    };
    let mut bench = pump_just_on(&mut spoil);
    trips(&mut bench, Cause::IsolationStuck, 21, AtRest::Unseen, spoil);
    restarts(&mut bench);
}

/// A valve that does not shut is also found after it: here in the middle of a pump-down.
#[test]
fn a_valve_that_stays_open_at_the_end_is_found() {
    let mut pa = ATMOSPHERE_PA;
    let mut draws = |tick: &mut Tick| {
        if tick.applied.pump && (tick.applied.isolation_valve || pa < ATMOSPHERE_PA) {
            pa = (pa - pa / 200).max(1500);
        }
        tick.inputs.pressure_pa = Some(pa);
        tick.inputs.buttons.stop = pa < 60_000;
    };
    let mut bench = pump_just_on(&mut draws);
    for _ in 0..300 {
        bench.tick(&mut draws);
    }
    assert_eq!(bench.tripped(), Some(Cause::IsolationStuck));
    assert!(bench.out.pump, "stopped with the chamber under vacuum");
}

/// The noise of a gauge, and a chamber that cools, are no open valve.
#[test]
fn a_healthy_pre_run_is_left_alone() {
    let mut count = 0;
    let spoil = |tick: &mut Tick| {
        count += 1;
        let pa = tick.inputs.pressure_pa.unwrap_or(0);
        // A kelvin a second of a thousand, and two hectopascal of noise.
        let cooled = if tick.applied.isolation_valve { 0 } else { pa / 10_000 * (count % 40) };
        tick.inputs.pressure_pa = Some(pa.saturating_sub(cooled) + count * 197 % 400);
    };
    let mut bench = Bench::firing(800.0, &hot_draw());
    let mut spoil = spoil;
    for _ in 0..2000 {
        bench.tick(&mut spoil);
        assert_eq!(bench.tripped(), None);
    }
    assert!(bench.out.isolation_valve);
}

/// A pump that dies: the valve shuts at once, opens once more, and the firing ends.
#[test]
fn vacuum_lost() {
    let mut bench = reached();
    let mut pa = 3500;
    let mut open_ticks = Vec::new();
    trips(&mut bench, Cause::VacuumLost, 140, AtRest::Unseen, |tick| {
        if tick.applied.isolation_valve {
            pa += 200;
        }
        open_ticks.push(tick.applied.isolation_valve);
        tick.inputs.pressure_pa = Some(pa);
    });
    let first = open_ticks.iter().position(|open| !open).expect("it shut");
    assert!(first <= 13, "open for {first} ticks after the pump died");
    assert!(open_ticks[first..first + 20].iter().all(|open| !open), "no run of the pump alone");
    restarts(&mut bench);
}

/// One gust of vapour is no loss.
#[test]
fn one_gust_rides_through() {
    let mut bench = reached();
    let (mut shut, mut gust_pa) = (0, 8_000);
    for _ in 0..3000 {
        bench.tick(|tick| {
            // The pump takes it away within a second or two.
            if tick.applied.isolation_valve {
                gust_pa = (gust_pa - gust_pa / 50).max(3_500);
            }
            tick.inputs.pressure_pa = Some(gust_pa);
        });
        shut += u32::from(!bench.out.isolation_valve);
        assert_eq!(bench.tripped(), None);
    }
    assert!((20..30).contains(&shut), "shut for {shut} ticks");
}

#[test]
fn gauge_implausible() {
    // It does not answer, it falls faster than any pump, or it repeats the air of the start.
    type Case = (fn() -> Bench, u32, AtRest, fn(&mut Tick));
    let cases: [Case; 3] = [
        (reached, 30, AtRest::Seen, |tick| tick.inputs.pressure_pa = None),
        (reached, 30, AtRest::Unseen, |tick| tick.inputs.pressure_pa = Some(700)),
        (
            || pump_just_on(|tick| tick.inputs.pressure_pa = Some(ATMOSPHERE_PA)),
            232,
            AtRest::Unseen,
            |tick| tick.inputs.pressure_pa = Some(ATMOSPHERE_PA),
        ),
    ];
    for (begin, within, at_rest, spoil) in cases {
        let mut bench = begin();
        trips(&mut bench, Cause::GaugeImplausible, within, at_rest, spoil);
        bench.run(10);
        bench.confirm(|_| {});
        restarts(&mut bench);
    }
}

/// The vent is open, and the gauge reads a vacuum for ever: it is wrong, or the vent stays shut.
#[test]
fn a_gauge_that_never_reads_air_is_found() {
    let steps = [
        under(ramp(560, 30), vacuum(510)),
        step(Action::Cool { below_mc: 290_000 }),
        step(Action::MoveClosure { open: true, dwell_ms: 0 }),
    ];
    let mut bench = Bench::drawing(500.0, &steps);
    while !bench.out.vent_valve {
        bench.run(1);
    }
    trips(&mut bench, Cause::GaugeImplausible, 612, AtRest::Unseen, |tick| {
        tick.inputs.pressure_pa = Some(3500);
    });
}

/// A gauge that does not answer while nothing needs it does not end the firing.
#[test]
fn a_gauge_is_not_needed_at_atmosphere() {
    let mut bench = Bench::firing(800.0, &[step(ramp(900, 30)), step(soak(600))]);
    for _ in 0..1000 {
        bench.tick(|tick| tick.inputs.pressure_pa = None);
        assert_eq!(bench.tripped(), None);
    }
}
