//! A wait that lasts calls the operator; a start that cannot begin says why.

use saggar_core::controller::StartError;
use saggar_core::events::EventKind;
use saggar_core::io::ClosureContacts;
use saggar_core::programme::{Action, VacuumStage};
use saggar_core::sequencer::Wait;

use super::long_firing;
use crate::support::{Bench, Tick, furnace, ramp, step, under, vacuum};

/// A wait of ten minutes (ticks).
const LONG: u32 = 6_000;

/// Runs until the core waits for this, and returns the ticks until it called.
fn ticks_until_it_calls(
    bench: &mut Bench,
    wait: Wait,
    mut spoil: impl FnMut(&mut Tick),
) -> u32 {
    for _ in 0..3000 {
        if bench.core.status().waiting == Some(wait) {
            break;
        }
        bench.tick(&mut spoil);
    }
    bench.events();
    for tick in 1..=LONG + 10 {
        bench.tick(&mut spoil);
        if bench.out.buzzer {
            assert_eq!(bench.tripped(), None);
            assert_eq!(bench.events(), [EventKind::WaitIsLong(wait)]);
            return tick;
        }
    }
    panic!("it never called for {wait:?}");
}

/// Confirm ends the call; the wait goes on, and is told once.
fn falls_silent(bench: &mut Bench, mut spoil: impl FnMut(&mut Tick)) {
    bench.confirm(&mut spoil);
    for _ in 0..100 {
        bench.tick(&mut spoil);
        assert!(!bench.out.buzzer);
    }
    assert_eq!(bench.events(), []);
}

#[test]
fn a_long_wait_for_the_pressure_calls() {
    let stage = VacuumStage { within_ms: 3_600_000, ..vacuum(110) };
    let mut bench = Bench::firing(100.0, &[under(ramp(200, 30), stage)]);
    let weak = |tick: &mut Tick| {
        tick.inputs.pressure_pa = tick.inputs.pressure_pa.map(|pa| pa.max(20_000));
    };
    let ticks = ticks_until_it_calls(&mut bench, Wait::Vacuum, weak);
    assert!(ticks.abs_diff(LONG) < 3, "{ticks} ticks");
    falls_silent(&mut bench, weak);
}

/// A soak at 900 °C that waits two hours for its band of 5 K.
fn soaking() -> Bench {
    let long =
        Action::Soak { duration_ms: 7_200_000, band_mk: 5_000, band_timeout_ms: 7_200_000 };
    let mut bench = Bench::firing(895.0, &[step(ramp(900, 30)), step(long)]);
    while bench.core.status().step != Some(1) {
        bench.run(1);
    }
    bench
}

/// Ticks until a soak calls whose reading is outside its band, above and below, but for a gap of this many
/// ticks in every minute; `None` if it does not call.
fn ticks_with_gaps(bench: &mut Bench, gap: u32) -> Option<u32> {
    for tick in 1..9_000 {
        let phase = tick % 600;
        let off_k = if phase < gap { 0.0 } else { 5.6 };
        bench.celsius = 900.0 + if phase < 300 { off_k } else { -off_k };
        bench.run(1);
        assert_eq!(bench.tripped(), None, "tick {tick}");
        if bench.out.buzzer {
            return Some(tick);
        }
    }
    None
}

#[test]
fn a_long_wait_for_the_band_calls_and_ends_with_it() {
    let mut bench = soaking();
    let ticks = ticks_with_gaps(&mut bench, 0).expect("a call");
    // The reading crosses the band once in half a minute.
    assert!((LONG..LONG + 400).contains(&ticks), "{ticks} ticks");
    assert_eq!(bench.core.status().waiting, Some(Wait::Band));
    bench.celsius = 900.0;
    bench.run(80);
    assert!(bench.out.buzzer, "8 s inside do not end it");
    bench.run(60);
    assert!(!bench.out.buzzer, "the wait is over");
    assert!(bench.core.is_firing());
}

/// A reading at the edge of its band comes and goes: 8 s without the wait do not end it, 12 s do.
#[test]
fn a_wait_that_comes_and_goes_calls() {
    let ticks = ticks_with_gaps(&mut soaking(), 80).expect("a call");
    assert!((LONG..8_000).contains(&ticks), "{ticks} ticks");
    assert_eq!(ticks_with_gaps(&mut soaking(), 120), None);
}

#[test]
fn a_long_wait_for_air_calls() {
    let steps = [
        under(ramp(250, 30), vacuum(210)),
        step(Action::MoveClosure { open: true, dwell_ms: 0 }),
    ];
    let mut bench = Bench::drawing(200.0, &steps);
    // A slow vent, and a gauge that stays short of air.
    let mut pa = 3_500u32;
    let mut slow = |tick: &mut Tick| {
        if tick.applied.vent_valve {
            pa = (pa + 5).min(69_000);
            tick.inputs.pressure_pa = Some(pa);
        }
    };
    let ticks = ticks_until_it_calls(&mut bench, Wait::Air, &mut slow);
    assert!(ticks.abs_diff(LONG) < 3, "{ticks} ticks");
    falls_silent(&mut bench, &mut slow);
}

#[test]
fn a_long_wait_for_a_door_calls() {
    let mut door = furnace();
    door.closure = saggar_core::furnace::Closure::Door;
    let open = step(Action::MoveClosure { open: true, dwell_ms: 0 });
    let mut bench = Bench::of(door, 200.0, &[open]);
    bench.run(20);
    let stays = |tick: &mut Tick| {
        tick.inputs.closure = ClosureContacts { shut: true, open: false };
    };
    bench.tick(|tick| tick.inputs.buttons.start = true);
    let ticks = ticks_until_it_calls(&mut bench, Wait::Contacts, stays);
    assert!(ticks.abs_diff(LONG) < 3, "{ticks} ticks");
    falls_silent(&mut bench, stays);
}

/// Cooling is progress, however long it takes.
#[test]
fn cooling_is_no_wait() {
    let steps = [
        step(Action::Cool { below_mc: 310_000 }),
        step(Action::MoveClosure { open: true, dwell_ms: 0 }),
    ];
    let mut bench = Bench::new(1000.0, &steps);
    bench.start();
    for _ in 0..12_000 {
        bench.run(1);
        if !bench.core.is_firing() {
            break;
        }
        assert!(!bench.out.buzzer);
        assert_ne!(bench.core.status().waiting, Some(Wait::Air));
    }
    assert!(!bench.core.is_firing(), "it opened");
}

/// A firing that begins with heat starts below the furnace's limit only; one that begins by cooling
/// starts at any temperature.
#[test]
fn a_hot_furnace_does_not_start_with_heat() {
    let mut cautious = furnace();
    cautious.limits.start_below = crate::support::celsius(150.0);
    let cool = [step(Action::Cool { below_mc: 100_000 }), step(ramp(300, 30))];
    for (celsius, starts) in [(140.0, true), (160.0, false)] {
        let mut bench = Bench::of(cautious.clone(), celsius, &long_firing(900));
        bench.run(20);
        bench.start();
        assert_eq!(bench.core.is_firing(), starts, "{celsius} °C");
        let error = (!starts).then_some(StartError::TooHot);
        assert_eq!(bench.core.status().start_error, error);
        let mut bench = Bench::of(cautious.clone(), celsius, &cool);
        bench.run(20);
        bench.start();
        assert!(bench.core.is_firing(), "{celsius} °C, by cooling");
    }
}

/// The limit itself is too hot; the next number above the reading is not.
#[test]
fn a_furnace_starts_below_its_limit_only() {
    let start = |below: Option<f32>| {
        let mut data = furnace();
        data.limits.start_below = crate::support::celsius(below.unwrap_or(1200.0));
        let mut bench = Bench::of(data, 160.0, &long_firing(900));
        bench.run(20);
        bench.tick(|tick| tick.inputs.buttons.start = true);
        bench.core.status()
    };
    let reading_c = start(None).reading_c.expect("a reading");
    assert_eq!(start(Some(reading_c)).start_error, Some(StartError::TooHot));
    assert_eq!(start(Some(reading_c.next_up())).start_error, None);
}

#[test]
fn a_start_needs_air_and_a_gauge() {
    for (pa, starts) in [(Some(70_000), true), (Some(69_999), false), (None, false)] {
        let mut bench = Bench::new(100.0, &long_firing(900));
        bench.tick(|tick| {
            tick.inputs.buttons.start = true;
            tick.inputs.pressure_pa = pa;
        });
        assert_eq!(bench.core.is_firing(), starts, "{pa:?}");
        let error = (!starts).then_some(StartError::NoAirInChamber);
        assert_eq!(bench.core.status().start_error, error);
    }
}

/// Status of the question whether the chamber is shut.
fn asks(bench: &Bench) -> bool {
    bench.core.status().start_error == Some(StartError::ContactUnproven)
}

/// A shut contact that was never seen open since the last firing ended: the start asks, confirm answers
/// once, and only after the question.
#[test]
fn a_contact_that_never_opens_is_asked_about() {
    let stuck = |tick: &mut Tick| {
        tick.inputs.closure = ClosureContacts { shut: true, open: false };
    };
    let start = |tick: &mut Tick| {
        stuck(tick);
        tick.inputs.buttons.start = true;
    };
    let mut bench = Bench::at_power_up(100.0, &long_firing(900));
    for round in 0..2 {
        for _ in 0..30 {
            bench.tick(stuck);
        }
        bench.confirm(stuck);
        bench.tick(stuck);
        bench.events();
        bench.tick(start);
        assert!(asks(&bench) && !bench.core.is_firing(), "round {round}");
        bench.tick(stuck);
        // Both buttons at once: the answer counts, the start does not.
        bench.confirm(start);
        assert_eq!(bench.events(), [EventKind::ContactChecked]);
        assert!(!bench.core.is_firing());
        bench.tick(stuck);
        bench.tick(start);
        assert!(bench.core.is_firing(), "round {round}");
        bench.tick(stuck);
        bench.tick(|tick| {
            stuck(tick);
            tick.inputs.buttons.stop = true;
        });
        assert!(!bench.core.is_firing());
        bench.events();
    }
}

/// A trip that comes after the question has to be accepted first: the answer does not count meanwhile.
#[test]
fn a_trip_comes_before_the_answer() {
    let stuck = |tick: &mut Tick| {
        tick.inputs.closure = ClosureContacts { shut: true, open: false };
    };
    let mut bench = Bench::at_power_up(100.0, &long_firing(900));
    for pressed in [false, true] {
        bench.tick(|tick| {
            stuck(tick);
            tick.inputs.buttons.start = pressed;
        });
    }
    assert!(asks(&bench));
    let broken = |tick: &mut Tick| {
        stuck(tick);
        tick.inputs.heater_current_ma = Some(9_000);
    };
    for _ in 0..100 {
        bench.tick(broken);
    }
    assert!(bench.tripped().is_some());
    bench.events();
    bench.confirm(broken);
    assert!(bench.tripped().is_some() && asks(&bench));
    assert_eq!(bench.events(), []);
}

/// Seen open for a moment, nothing is asked; a flicker proves nothing.
#[test]
fn a_contact_that_was_seen_open_is_not_asked_about() {
    for (open_ticks, asked) in [(2, true), (3, false)] {
        let mut bench = Bench::firing(100.0, &long_firing(900));
        bench.tick(|tick| tick.inputs.buttons.stop = true);
        bench.run(20);
        for _ in 0..open_ticks {
            bench.tick(|tick| tick.inputs.closure.shut = false);
        }
        bench.run(20);
        bench.tick(|tick| tick.inputs.buttons.start = true);
        assert_eq!(asks(&bench), asked, "{open_ticks} ticks");
    }
}

/// A loose wire, open for two ticks of every three, proves nothing however often.
#[test]
fn a_contact_that_flickers_is_asked_about() {
    let mut bench = Bench::at_power_up(100.0, &long_firing(900));
    for index in 0..100 {
        bench.tick(|tick| tick.inputs.closure.shut = index % 3 == 0);
    }
    bench.tick(|tick| tick.inputs.buttons.start = true);
    assert!(asks(&bench) && !bench.core.is_firing());
}

/// What a display shows.
#[test]
fn the_chamber_may_be_opened_when_cool_and_full_of_air() {
    for (celsius, pa, may) in [
        (290.0, Some(101_325), true),
        (299.0, Some(101_325), false),
        (290.0, Some(69_999), false),
        (290.0, None, false),
    ] {
        let mut bench = Bench::new(celsius, &long_firing(900));
        // The limit channel reads 2 K more.
        bench.tick(|tick| tick.inputs.pressure_pa = pa);
        assert_eq!(bench.core.status().may_open, may, "{celsius} °C, {pa:?}");
    }
}
