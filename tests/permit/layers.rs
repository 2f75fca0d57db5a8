//! What two independent defences hold: each of these stays true if one of the two fails. `.ci/planted` takes
//! first one away, then the other, then both.

use saggar_core::Controller;
use saggar_core::programme::Action;
use saggar_core::sensors::ThermocoupleType;

use crate::support::{Bench, Tick, furnace, image, ramp, sample, soak, step, under, vacuum};

/// A firing that heats at 800 °C.
fn heating() -> Bench {
    let mut bench = Bench::firing(800.0, &[step(ramp(1000, 30)), step(soak(7200))]);
    bench.run(50);
    bench
}

/// After a trip whose cause is gone at once: the firing has ended, and no permit is given.
#[test]
fn nothing_conducts_after_a_trip() {
    let no_contact = |tick: &mut Tick| tick.inputs.contactor_closed = false;
    let late = |tick: &mut Tick| tick.millis = 300;
    for (ticks, fault) in [(4, no_contact as fn(&mut Tick)), (1, late)] {
        let mut bench = heating();
        for _ in 0..ticks {
            bench.tick(fault);
        }
        assert!(bench.tripped().is_some());
        for _ in 0..600 {
            assert_eq!(bench.out.heater_cycles, 0, "{:?}", bench.tripped());
            assert!(!bench.out.contactor, "{:?}", bench.tripped());
            bench.run(1);
        }
    }
}

/// A chamber that is opened by hand: the permit is withheld, and the third tick trips.
#[test]
fn an_open_chamber_heats_for_three_ticks_at_most() {
    let mut bench = heating();
    for ticks in 1..100 {
        let out = bench.tick(|tick| tick.inputs.closure.shut = false);
        assert!(ticks < 3 || out.heater_cycles == 0, "{ticks} ticks after it was opened");
    }
}

/// A shorted sensor reads like a cold chamber: the channels do not agree, and the hotter one decides.
#[test]
fn a_shorted_sensor_lets_no_air_in() {
    let mut bench = Bench::new(800.0, &[step(ramp(900, 30)), step(soak(600))]);
    let mut believed = 0;
    for _ in 0..1500 {
        let short = |tick: &mut Tick| tick.inputs.control.as_mut().unwrap().emf_nv = 0;
        assert!(!bench.tick(short).vent_valve, "air at {:.0} °C", bench.celsius);
        believed += u32::from(bench.core.status().reading_c.is_some_and(|c| c < 100.0));
    }
    assert!(bench.celsius > 600.0 && believed > 100, "{:.0} °C, {believed}", bench.celsius);
}

/// Data that changed at rest: a start is refused, and the pass that goes on in every tick finds them too.
#[test]
fn changed_furnace_data_heat_for_ten_seconds_at_most() {
    let mut bench = Bench::new(800.0, &[step(ramp(1000, 30)), step(soak(7200))]);
    bench.core.corrupt_furnace(|furnace| furnace.limits.overshoot_max_k = 14.0);
    bench.start();
    bench.run(100);
    for _ in 0..600 {
        assert_eq!(bench.out.heater_cycles, 0);
        bench.run(1);
    }
}

/// A gain that became a NaN behind the guard's back: the trim gives nothing, and the output takes a duty
/// that is no number for none.
#[test]
fn a_gain_that_is_no_number_gives_no_heat() {
    let mut bench = heating();
    bench.core.corrupt_furnace(|furnace| furnace.gains[0].proportional = f32::NAN);
    bench.core.renew_furnace_guard();
    // The gains are renewed once a second.
    bench.run(11);
    for _ in 0..300 {
        assert_eq!(bench.out.heater_cycles, 0);
        bench.run(1);
    }
}

/// A stage that begins while the chamber is open: no such programme is loaded, and none is pumped.
#[test]
fn an_open_chamber_is_never_pumped() {
    let open = Action::MoveClosure { open: true, dwell_ms: 1000 };
    let wait = Action::Cool { below_mc: 21_000 };
    let mut bench = Bench::new(40.0, &[step(open), step(wait)]);
    let pumped = image(&[step(open), under(wait, vacuum(20))]);
    // Either of the two is right.
    let loaded = bench.core.load(pumped.bytes(), &pumped.digest()).is_ok();
    bench.start();
    let mut opened = 0;
    for _ in 0..600 {
        bench.run(1);
        opened += u32::from(bench.out.open_closure);
        assert!(!(bench.out.open_closure && bench.out.isolation_valve), "loaded: {loaded}");
    }
    assert!(opened > 500, "the chamber was open for {opened} ticks");
}

/// The rules are checked before a programme is stored, and again before it is loaded.
#[test]
fn no_programme_is_loaded_unchecked() {
    let mut core = Controller::new(furnace());
    let hot = image(&[step(ramp(1181, 30))]);
    if let Ok(checked) = core.check_programme(hot.bytes(), &hot.digest()) {
        assert!(core.load_checked(checked).is_err());
    }
    assert_eq!(core.programme(), None);
}

/// A limit channel at the furnace's maximum, within what the channels may differ: it trips, and no tick
/// permits heat.
#[test]
fn a_limit_channel_at_the_maximum_gives_no_heat() {
    let mut bench = Bench::firing(1170.0, &[step(ramp(1178, 30)), step(soak(7200))]);
    bench.run(50);
    let (mut apart_k, mut above) = (2.0, 0);
    for _ in 0..60 {
        apart_k = f64::min(apart_k + 0.8, 39.0);
        bench.tick(|tick| {
            tick.inputs.limit = Some(sample(ThermocoupleType::S, tick.celsius + apart_k));
        });
        if bench.core.status().limit_c.is_some_and(|celsius| celsius >= 1200.0) {
            above += 1;
            assert_eq!(bench.out.heater_cycles, 0, "{above} ticks above the maximum");
        }
    }
    assert!(above > 5, "{above} ticks above the maximum");
}
