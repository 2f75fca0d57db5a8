//! The self-test of the heater's electrical side before the first heat of a firing.

use saggar_core::programme::{Action, Step};

use crate::support::{Bench, furnace, ramp, soak, step};

/// Ticks with the contactor open, ticks with it closed and no cycle, and ticks of full cycles, from the
/// start of a firing to the first tick with a part of the cycles or none.
fn phases(bench: &mut Bench) -> [u32; 3] {
    let mut ticks = [0; 3];
    bench.tick(|tick| tick.inputs.buttons.start = true);
    loop {
        let phase = match (bench.out.contactor, bench.out.heater_cycles) {
            (false, 0) => 0,
            (true, 0) if ticks[2] == 0 => 1,
            (true, 0b11111) => 2,
            _ => return ticks,
        };
        ticks[phase] += 1;
        assert!(ticks.iter().sum::<u32>() < 100, "{ticks:?}");
        bench.run(1);
    }
}

/// A ramp that begins with few cycles.
fn slow() -> [Step; 2] {
    [step(ramp(210, 30)), step(soak(600))]
}

#[test]
fn half_a_second_open_one_closed_and_half_of_full_cycles() {
    let mut bench = Bench::new(20.0, &slow());
    // One tick more until the permit for the cycles is there.
    assert_eq!(phases(&mut bench), [5, 11, 5]);
    assert_eq!(bench.tripped(), None);
    // The step begins afterwards, from where the furnace is.
    let setpoint = bench.core.status().setpoint.expect("it heats").celsius;
    assert!((setpoint - bench.celsius as f32).abs() < 3.0, "{setpoint} °C");
}

#[test]
fn it_does_what_the_furnace_can_see() {
    for (contact, sensor, expected) in
        [(true, false, [5, 10]), (false, true, [5, 11]), (false, false, [0, 0])]
    {
        let mut furnace = furnace();
        furnace.heater.auxiliary_contact = contact;
        if !sensor {
            furnace.heater.full_current_ma = None;
        }
        let mut bench = Bench::of(furnace, 20.0, &slow());
        bench.run(20);
        let [open, closed, full] = phases(&mut bench);
        assert_eq!(open, expected[0], "{contact}, {sensor}");
        // Without full cycles, the first ticks of the ramp have no cycle either.
        let extra = if sensor { 0 } else { 60 };
        assert!((expected[1]..=expected[1] + extra).contains(&closed), "{closed} ticks");
        assert_eq!(full, if sensor { 5 } else { 0 });
    }
}

/// It needs the permit that every heat needs.
#[test]
fn its_cycles_need_a_permit() {
    let mut bench = Bench::new(20.0, &slow());
    bench.start();
    for _ in 0..40 {
        bench.tick(|tick| tick.inputs.closure.shut = !tick.inputs.contactor_closed);
        assert_eq!(bench.out.heater_cycles, 0);
    }
}

/// Once in a firing, before the first step that heats.
#[test]
fn it_runs_once_in_every_firing() {
    let steps = [
        step(Action::Cool { below_mc: 190_000 }),
        step(ramp(192, 1)),
        step(Action::Cool { below_mc: 190_000 }),
        step(ramp(192, 1)),
    ];
    let mut bench = Bench::new(200.0, &steps);
    for firing in 0..2 {
        bench.start();
        let (mut full, mut first_step) = (0, None);
        while bench.core.is_firing() {
            bench.run(1);
            if bench.out.heater_cycles == 0b11111 {
                full += 1;
                first_step = first_step.or(bench.core.status().step);
            }
        }
        assert_eq!((full, first_step), (5, Some(1)), "firing {firing}");
    }
}
