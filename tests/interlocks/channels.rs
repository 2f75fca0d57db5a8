//! The two channels against each other: a frozen code, a lagging sensor, terminals, settled difference.

use saggar_core::Cause;
use saggar_core::controller::StartError;
use saggar_core::events::{Channel, EventKind};
use saggar_core::furnace::SensorData;
use saggar_core::io::ThermocoupleSample;
use saggar_core::programme::Action;
use saggar_core::sensors::ThermocoupleType;

use super::{AtRest, long_firing, recovers, trips};
use crate::support::{Bench, Tick, furnace, ramp, sample, soak, step};

/// The sample of a channel in a tick.
fn of(channel: Channel, tick: &mut Tick) -> &mut ThermocoupleSample {
    let sample = match channel {
        Channel::Control => &mut tick.inputs.control,
        Channel::Limit => &mut tick.inputs.limit,
    };
    sample.as_mut().expect("healthy")
}

const BOTH: [Channel; 2] = [Channel::Control, Channel::Limit];

#[test]
fn sensor_frozen() {
    let cause = Cause::SensorFrozen;
    for channel in BOTH {
        let mut bench = Bench::firing(800.0, &long_firing(900));
        bench.run(100);
        let mut code = None;
        let mut follows = bench.celsius;
        let found = trips(&mut bench, cause, 322, AtRest::Seen, |tick| {
            // As if the furnace followed the ramp of 30 K/min: this simple one would be too hot before.
            follows = (follows + 0.05).min(900.0);
            tick.inputs.limit = Some(sample(ThermocoupleType::S, follows));
            let frozen = of(channel, tick);
            *frozen = *code.get_or_insert(*frozen);
        });
        assert!(found > 290, "a code may stand still for a while: {found} ticks");
        recovers(&mut bench, cause);
    }
}

/// Ticks until a trip in a steady soak in which these channels repeat one code; `None` if none comes.
fn frozen_in_a_soak(channels: &[Channel], ticks: u32) -> (Option<u32>, Option<Cause>) {
    let mut bench = Bench::firing(809.0, &long_firing(810));
    bench.run(3000);
    let mut codes = [None; 2];
    for found in 0..ticks {
        bench.tick(|tick| {
            for (channel, code) in channels.iter().zip(&mut codes) {
                let sample = of(*channel, tick);
                *sample = *code.get_or_insert(*sample);
            }
        });
        if bench.tripped().is_some() {
            return (Some(found), bench.tripped());
        }
    }
    (None, None)
}

/// While nothing moves, one channel may repeat a code for ten minutes, both for two.
#[test]
fn codes_may_stand_still_for_longer_in_a_steady_soak() {
    let trip = Some(Cause::SensorFrozen);
    let (found, cause) = frozen_in_a_soak(&[Channel::Limit], 6100);
    assert_eq!(cause, trip);
    assert!(found.is_some_and(|ticks| (5990..6030).contains(&ticks)), "{found:?}");
    let (found, cause) = frozen_in_a_soak(&BOTH, 1300);
    assert_eq!(cause, trip);
    assert!(found.is_some_and(|ticks| (1190..1230).contains(&ticks)), "{found:?}");
    assert_eq!(frozen_in_a_soak(&[Channel::Limit], 5900), (None, None));
    assert_eq!(frozen_in_a_soak(&BOTH, 1150), (None, None));
}

/// A control channel that freezes in a soak is found as soon as the chamber moves.
#[test]
fn a_frozen_control_channel_moves_the_chamber_by_little() {
    let mut bench = Bench::firing(809.0, &long_firing(810));
    bench.run(3000);
    let mut code = None;
    let mut furthest_k = 0.0f64;
    for _ in 0..6100 {
        bench.tick(|tick| {
            // Half a kelvin too low: the integral drives the heater up.
            let low = sample(ThermocoupleType::S, tick.celsius - 0.5);
            tick.inputs.control = Some(*code.get_or_insert(low));
        });
        furthest_k = furthest_k.max((bench.celsius - 810.0).abs());
        if bench.tripped().is_some() {
            break;
        }
    }
    assert_eq!(bench.tripped(), Some(Cause::SensorFrozen));
    println!("the chamber moved by {furthest_k:.1} K");
    assert!(furthest_k < 12.0, "{furthest_k:.1} K");
}

/// One step of a converter is enough, of the voltage or of the terminals.
#[test]
fn a_code_that_steps_now_and_then_is_not_frozen() {
    let coarse = |sample: &mut ThermocoupleSample, step_nv: i32| {
        sample.emf_nv = sample.emf_nv / step_nv * step_nv;
    };
    for step_nv in [5_000, 50_000] {
        let mut bench = Bench::firing(300.0, &long_firing(900));
        for _ in 0..12_000 {
            bench.tick(|tick| {
                BOTH.iter().for_each(|channel| coarse(of(*channel, tick), step_nv));
            });
            assert_eq!(bench.tripped(), None, "{step_nv} nV at {:.0} °C", bench.celsius);
        }
    }
}

#[test]
fn terminals_disagree() {
    let cause = Cause::TerminalsDisagree;
    for channel in BOTH {
        for terminals_mc in [-5_000, 14_999, 35_001] {
            let mut bench = Bench::firing(800.0, &long_firing(900));
            let found = trips(&mut bench, cause, 100, AtRest::Seen, |tick| {
                of(channel, tick).cold_junction_mc = terminals_mc;
            });
            assert!(found > 90, "{found} ticks");
            recovers(&mut bench, cause);
        }
    }
    // As far as they may differ.
    let mut bench = Bench::firing(800.0, &long_firing(900));
    for _ in 0..1000 {
        bench.tick(|tick| of(Channel::Control, tick).cold_junction_mc = 15_000);
    }
    assert_eq!(bench.tripped(), None);
}

/// Cold junctions that read 30 K less once vented a chamber above its limit.
#[test]
fn a_wrong_terminal_starts_nothing() {
    for (terminals_mc, expected) in
        [(-5_000, Some(StartError::TerminalsDiffer)), (35_000, None), (15_000, None)]
    {
        for channel in BOTH {
            let mut bench = Bench::new(700.0, &long_firing(900));
            let wrong = |tick: &mut Tick| of(channel, tick).cold_junction_mc = terminals_mc;
            assert_eq!(start_error(&mut bench, wrong), expected, "{terminals_mc} {channel:?}");
        }
    }
}

/// Presses start under a fault, and returns why nothing began.
fn start_error(bench: &mut Bench, mut spoil: impl FnMut(&mut Tick)) -> Option<StartError> {
    for _ in 0..100 {
        bench.tick(&mut spoil);
    }
    bench.tick(|tick| {
        spoil(tick);
        tick.inputs.buttons.start = true;
    });
    let error = bench.core.status().start_error;
    assert_eq!(bench.core.is_firing(), error.is_none());
    error
}

/// A cold furnace gives both sensors the same temperature.
#[test]
fn channels_that_differ_cold_start_nothing() {
    let differ = Some(StartError::ChannelsDifferCold);
    for (at_c, apart_k, expected) in [
        (25.0, 11.0, differ),
        (45.0, -11.0, differ),
        (25.0, 9.5, None),
        (45.0, -9.5, None),
        // Warm, a difference may be real: the soak shows it.
        (58.0, 11.0, None),
        (300.0, 15.0, None),
    ] {
        let mut bench = Bench::new(at_c, &long_firing(900));
        let error = start_error(&mut bench, |tick| {
            tick.inputs.limit = Some(sample(ThermocoupleType::S, tick.celsius + apart_k));
        });
        assert_eq!(error, expected, "{at_c} °C, {apart_k} K");
    }
}

/// A type B reads nothing in a cold furnace, so it proves nothing there.
#[test]
fn a_limit_channel_at_its_floor_is_exempt() {
    let mut furnace = furnace();
    furnace.limit_sensor = SensorData::new(ThermocoupleType::B);
    let mut bench = Bench::of(furnace, 25.0, &[step(ramp(200, 10)), step(soak(3600))]);
    let floor = |tick: &mut Tick| {
        // The voltage of a cold type B is a few microvolts, whatever it measures.
        tick.inputs.limit = Some(ThermocoupleSample {
            emf_nv: 0,
            cold_junction_mc: 25_000,
            open: false,
            age_ms: 0,
        });
    };
    assert_eq!(start_error(&mut bench, floor), None);
    for _ in 0..20_000 {
        bench.tick(floor);
        assert_eq!(bench.tripped(), None, "at {:.0} °C", bench.celsius);
    }
    assert!(bench.celsius > 190.0, "{:.0} °C", bench.celsius);
}

/// In the cooling step of a firing.
fn cooling() -> Bench {
    let cool = step(Action::Cool { below_mc: 100_000 });
    let mut bench = Bench::firing(690.0, &[step(ramp(700, 30)), step(soak(60)), cool]);
    while bench.core.status().step != Some(2) {
        bench.run(1);
        assert_eq!(bench.tripped(), None);
    }
    bench.run(300);
    bench
}

/// The control sensor rises by 4 K a second without a command.
fn control_rises(current_ma: Option<u32>, limit_rises: bool) -> impl FnMut(&mut Tick) {
    let mut reads = None;
    move |tick| {
        let reads = reads.get_or_insert(tick.celsius);
        *reads += 0.4;
        tick.inputs.control = Some(sample(ThermocoupleType::S, *reads));
        if limit_rises {
            tick.inputs.limit = tick.inputs.control;
        }
        tick.inputs.heater_current_ma = current_ma;
    }
}

#[test]
fn sensor_lagging() {
    let cause = Cause::SensorLagging;
    for current_ma in [Some(0), Some(499), None] {
        let mut bench = cooling();
        trips(&mut bench, cause, 90, AtRest::Seen, control_rises(current_ma, false));
        recovers(&mut bench, cause);
    }
}

/// A rise with a current is the heater's, and without a current sensor one that both channels share.
#[test]
fn a_rise_of_the_heater_is_not_a_lagging_sensor() {
    let cause = Cause::HeaterStuckOn;
    let mut bench = cooling();
    trips(&mut bench, cause, 11, AtRest::Seen, control_rises(Some(500), false));
    let mut bench = cooling();
    trips(&mut bench, cause, 90, AtRest::Seen, control_rises(None, true));
    // A current sensor that shows none knows better than the limit channel, which the chamber's own heat
    // may raise.
    let mut bench = cooling();
    trips(&mut bench, Cause::SensorLagging, 90, AtRest::Seen, control_rises(Some(0), true));
}

/// The event says which channel it was, in the tick of the trip.
#[test]
fn the_channel_of_a_trip_is_told() {
    type Spoil = fn(&mut ThermocoupleSample);
    let faults: [(Cause, Spoil); 2] = [
        (Cause::SensorOpen, |sample| sample.open = true),
        (Cause::SensorImplausible, |sample| sample.emf_nv = 60_000_000),
    ];
    for channel in BOTH {
        for (cause, spoil) in faults {
            let mut bench = Bench::firing(800.0, &long_firing(900));
            bench.events();
            while bench.tripped().is_none() {
                assert!(bench.events().is_empty());
                bench.tick(|tick| spoil(of(channel, tick)));
            }
            let events = bench.events();
            let told = [EventKind::Tripped(cause), EventKind::ChannelFailed(channel)];
            assert_eq!(events[..2], told, "{events:?}");
        }
    }
    let mut bench = Bench::firing(800.0, &long_firing(900));
    for _ in 0..10 {
        bench.tick(|tick| tick.inputs.closure.shut = false);
    }
    let channel = |what: &EventKind| matches!(what, EventKind::ChannelFailed(_));
    assert_eq!(bench.tripped(), Some(Cause::ClosureOpen));
    assert!(!bench.events().iter().any(channel), "no channel failed");
}

/// A correction is part of the reading, wherever the core uses it.
#[test]
fn corrections_are_added_to_both_channels() {
    let mut corrected = furnace();
    corrected.control_sensor.correction_mk = -3_500;
    corrected.limit_sensor.correction_mk = 1_250;
    let mut bench = Bench::of(corrected, 500.0, &long_firing(900));
    bench.run(100);
    let status = bench.core.status();
    let near = |reads: Option<f32>, expected: f64| {
        reads.is_some_and(|reads| (f64::from(reads) - expected).abs() < 0.3)
    };
    assert!(near(status.reading_c, bench.celsius - 3.5), "{status:?} {}", bench.celsius);
    assert!(near(status.limit_c, bench.celsius + 2.0 + 1.25), "{status:?} {}", bench.celsius);
}
