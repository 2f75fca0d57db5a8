//! The interlock alone, where a whole core does not get: conditions that another watch would meet first, and
//! trips that are accepted on inputs of their own.

use saggar_core::estimate::{ChannelEstimate, Estimate};
use saggar_core::furnace::Furnace;
use saggar_core::interlock::{Interlock, InterlockInputs, PermitError};
use saggar_core::io::{Inputs, ThermocoupleSample};
use saggar_core::sensors::SensorFault;
use saggar_core::sequencer::Demand;
use saggar_core::{Cause, Outputs};

use crate::support::{celsius, furnace, proven_inputs};

/// A valid channel at this temperature (°C).
pub(super) fn channel(at: f32) -> ChannelEstimate {
    let celsius = celsius(at);
    ChannelEstimate { celsius, rate_k_per_s: 0.0, worst_case: celsius, is_upper_bound: false }
}

/// Both channels at this temperature (°C).
pub(super) fn both(at: f32) -> Estimate {
    Estimate { control: Ok(channel(at)), limit: Ok(channel(at)) }
}

/// What trips within this time (s) while the readings stand still, the codes step and the heater has this
/// duty; the setpoint is 880 °C.
fn trips_within(
    furnace: &Furnace,
    estimate: &Estimate,
    commanded_duty: f32,
    seconds: i32,
) -> Option<Cause> {
    let mut interlock = Interlock::default();
    let proven = proven_inputs(estimate, 900.0);
    for tick in 0..seconds * 10 {
        let code = Some(ThermocoupleSample { emf_nv: tick, ..ThermocoupleSample::default() });
        let raw = Inputs { control: code, limit: code, ..*proven.raw };
        let _ = interlock
            .evaluate(furnace, &InterlockInputs { raw: &raw, commanded_duty, ..proven });
    }
    interlock.trip()
}

/// What the watches of ticks judge: the raw inputs of a tick, and the duty that was commanded.
fn watched(
    furnace: &Furnace,
    estimate: &Estimate,
    ticks: i32,
    of: impl Fn(i32, &mut Inputs) -> f32,
) -> Interlock {
    let mut interlock = Interlock::default();
    let proven = proven_inputs(estimate, 900.0);
    for tick in 1..=ticks {
        let code = Some(ThermocoupleSample { emf_nv: tick, ..ThermocoupleSample::default() });
        let mut raw = Inputs { control: code, limit: code, ..*proven.raw };
        let commanded_duty = of(tick, &mut raw);
        let _ = interlock
            .evaluate(furnace, &InterlockInputs { raw: &raw, commanded_duty, ..proven });
    }
    interlock
}

/// A furnace without a current sensor that needs this power (W) to hold any temperature.
fn holding(hold_w: f32) -> Furnace {
    let mut furnace = furnace();
    furnace.heater.full_current_ma = None;
    for point in &mut furnace.heater.feed_forward {
        point.hold_w = hold_w;
    }
    furnace
}

/// At full power a furnace that has hardly more than it needs to hold rises by too little to judge.
#[test]
fn a_furnace_at_the_end_of_its_power_need_not_rise() {
    // 2400 W less a quarter more than this: 0.1 K/s, or 1.3 K/s.
    assert_eq!(trips_within(&holding(1_870.0), &both(870.0), 1.0, 150), None);
    // It is judged every minute, from four cycles in five on.
    for (duty, hold_w, seconds, trips) in [
        (1.0, 1_300.0, 59, false),
        (1.0, 1_300.0, 60, true),
        (0.8, 640.0, 60, true),
        (0.79, 640.0, 150, false),
    ] {
        let found = trips_within(&holding(hold_w), &both(870.0), duty, seconds);
        assert_eq!(found, trips.then_some(Cause::HeaterWithoutEffect), "{duty}, {seconds} s");
    }
}

/// Eight tenths of the power, as the mean of a second, are judged.
#[test]
fn eight_tenths_of_the_power_are_near_full_power() {
    let of = |tick: i32, raw: &mut Inputs| {
        raw.heater_current_ma = None;
        if (tick - 1) % 10 < 8 { 1.0 } else { 0.0 }
    };
    let found = watched(&holding(640.0), &both(870.0), 600, of).trip();
    assert_eq!(found, Some(Cause::HeaterWithoutEffect));
}

/// Below full power a reading that stays below its setpoint has ten minutes to rise, if the heat was enough.
#[test]
fn ten_minutes_below_the_setpoint_without_a_rise() {
    let furnace = holding(64.0);
    assert_eq!(trips_within(&furnace, &both(100.0), 0.3, 599), None);
    let found = trips_within(&furnace, &both(100.0), 0.3, 601);
    assert_eq!(found, Some(Cause::HeaterWithoutEffect));
    // Twice the power that holds is what the heat must exceed: 128 W of 2400 W.
    assert_eq!(trips_within(&furnace, &both(100.0), 0.053, 900), None);
    // Of 600 J/K, 9 W more would make 9 K in ten minutes, too little to judge, and 13 W make 13 K.
    assert_eq!(trips_within(&furnace, &both(100.0), 0.0571, 601), None);
    let found = trips_within(&furnace, &both(100.0), 0.0588, 601);
    assert_eq!(found, Some(Cause::HeaterWithoutEffect));
    // 3 K below the setpoint is near enough, and so is anything above it.
    for (at, trips) in [(877.5, false), (877.0, false), (876.9, true)] {
        let found = trips_within(&furnace, &both(at), 0.1, 900);
        assert_eq!(found, trips.then_some(Cause::HeaterWithoutEffect), "{at} °C");
    }
}

/// What trips within this time (s) while both channels move, by what they read in each second.
fn trips_while_moving(
    furnace: &Furnace,
    seconds: i32,
    of: impl Fn(i32, &mut InterlockInputs<'_>) -> (f32, f32),
) -> Option<Cause> {
    let mut interlock = Interlock::default();
    for tick in 0..seconds * 10 {
        let at_rest = both(100.0);
        let mut inputs = proven_inputs(&at_rest, 900.0);
        let (control, limit) = of(tick / 10, &mut inputs);
        let estimate = Estimate { control: Ok(channel(control)), limit: Ok(channel(limit)) };
        let code = Some(ThermocoupleSample { emf_nv: tick, ..ThermocoupleSample::default() });
        let raw = Inputs { control: code, limit: code, ..*inputs.raw };
        let now = InterlockInputs { raw: &raw, estimate: &estimate, ..inputs };
        let _ = interlock.evaluate(furnace, &now);
    }
    interlock.trip()
}

/// A rise of more than a kelvin begins the ten minutes anew.
#[test]
fn a_rise_of_a_kelvin_is_none() {
    for (rise_k, seconds, trips) in
        [(1.0, 601, true), (1.1, 601, false), (1.1, 899, false), (1.1, 910, true)]
    {
        let found = trips_while_moving(&holding(64.0), seconds, |second, inputs| {
            inputs.commanded_duty = 0.3;
            let at = if second < 300 { 100.0 } else { 100.0 + rise_k };
            (at, at)
        });
        let cause = trips.then_some(Cause::HeaterWithoutEffect);
        assert_eq!(found, cause, "{rise_k} K, {seconds} s");
    }
}

/// Without a command only a heater can cause a rise of more than 25 K, if the limit channel has half of it.
#[test]
fn a_rise_of_25_kelvin_without_a_command_is_the_limit() {
    const STILL: &Demand = &Demand {
        firing: true,
        setpoint: None,
        vacuum_pa: None,
        vacuum_overdue: false,
        open_closure: false,
        operator_hold: false,
        closure_overdue: false,
        waiting: None,
        self_test: None,
    };
    for (rise_k, limit_k, cause) in [
        (25.0, 25.0, None),
        (25.1, 25.1, Some(Cause::HeaterStuckOn)),
        (25.1, 12.5, Some(Cause::HeaterStuckOn)),
        (25.1, 12.4, Some(Cause::SensorLagging)),
    ] {
        let found = trips_while_moving(&holding(64.0), 120, |second, inputs| {
            const RAW: &Inputs = &Inputs {
                control: None,
                limit: None,
                pressure_pa: Some(crate::support::ATMOSPHERE_PA),
                closure: saggar_core::io::ClosureContacts { shut: true, open: false },
                contactor_closed: true,
                heater_current_ma: None,
                mains_crossings: Some(10),
                buttons: saggar_core::io::Buttons { start: false, stop: false, confirm: false },
            };
            (inputs.commanded_duty, inputs.demand, inputs.raw) = (0.0, STILL, RAW);
            if second < 60 { (100.0, 100.0) } else { (100.0 + rise_k, 100.0 + limit_k) }
        });
        assert_eq!(found, cause, "{rise_k} K, {limit_k} K");
    }
}

/// A control channel at its floor proves nothing about the difference, and permits nothing.
#[test]
fn a_control_channel_at_its_floor_is_not_compared() {
    let furnace = holding(640.0);
    let floor = ChannelEstimate { is_upper_bound: true, ..channel(870.0) };
    let apart = Estimate { control: Ok(floor), limit: Ok(channel(838.0)) };
    assert_eq!(trips_within(&furnace, &apart, 0.3, 60), None);
    let known = Estimate { control: Ok(channel(870.0)), ..apart };
    let found = trips_within(&furnace, &known, 0.3, 60);
    assert_eq!(found, Some(Cause::ChannelsDisagree));
}

/// The difference of the channels that a heat flow explains: here 18 K for 2.25 times the power that holds,
/// and 30 K around it.
#[test]
fn the_expected_difference_goes_with_the_heat() {
    let mut furnace = holding(640.0);
    for point in &mut furnace.heater.feed_forward {
        point.limit_above_control_k = 8.0;
    }
    for (difference_k, trips) in [(-14.0, true), (-10.0, false), (35.0, false)] {
        let apart =
            Estimate { control: Ok(channel(870.0)), limit: Ok(channel(870.0 + difference_k)) };
        let found = trips_within(&furnace, &apart, 0.6, 60);
        assert_eq!(found, trips.then_some(Cause::ChannelsDisagree), "{difference_k} K");
    }
}

/// A second without a command says nothing about the difference, and clears nothing.
#[test]
fn seconds_without_heat_do_not_clear_a_difference() {
    let furnace = holding(640.0);
    let apart = Estimate { control: Ok(channel(870.0)), limit: Ok(channel(838.0)) };
    let half = |tick: i32, _: &mut Inputs| if (tick - 1) / 10 % 2 == 0 { 0.4 } else { 0.0 };
    let found = watched(&furnace, &apart, 150, half).trip();
    assert_eq!(found, Some(Cause::ChannelsDisagree));
    let none = |_: i32, raw: &mut Inputs| {
        raw.heater_current_ma = None;
        0.0
    };
    assert_eq!(watched(&furnace, &apart, 600, none).trip(), None);
}

/// Below 500 °C the difference is judged in a soak of 15 min, from 100 °C on.
#[test]
fn a_difference_in_a_cool_soak_is_judged_from_100_degrees() {
    let furnace = holding(720.0);
    let apart = |at| Estimate { control: Ok(channel(at)), limit: Ok(channel(at + 29.0)) };
    assert_eq!(trips_within(&furnace, &apart(300.0), 0.3, 899), None);
    assert_eq!(trips_within(&furnace, &apart(90.0), 0.3, 930), None);
    let found = trips_within(&furnace, &apart(300.0), 0.3, 906);
    assert_eq!(found, Some(Cause::ChannelsDisagree));
}

/// Two in a hundred crossings of a minute may be missing or too many, and the minute has 600 ticks.
#[test]
fn a_hundred_and_twenty_crossings_are_the_limit() {
    for (odd, trips) in [(120, false), (121, true)] {
        for sign in [1, -1] {
            let crossings = |tick: i32, raw: &mut Inputs| {
                let off = if tick <= odd { sign } else { 0 };
                raw.mains_crossings = u8::try_from(10 + off).ok();
                0.4
            };
            let estimate = both(880.0);
            assert_eq!(watched(&furnace(), &estimate, 599, crossings).trip(), None);
            let found = watched(&furnace(), &estimate, 600, crossings).trip();
            assert_eq!(found, trips.then_some(Cause::ClockWrong), "{odd} of {sign}");
        }
    }
}

/// Few cycles carry less than what counts as conducting: then no current is no fault.
#[test]
fn cycles_too_few_to_show_need_no_current() {
    let mut furnace = furnace();
    furnace.heater.conducting_ma = 3_000;
    let silent = |duty: f32| {
        let of = move |_: i32, raw: &mut Inputs| {
            raw.heater_current_ma = Some(0);
            duty
        };
        watched(&furnace, &both(880.0), 100, of).trip()
    };
    // 0.6 of 10 A, squared, times the duty: 9 A² is the limit.
    assert_eq!(silent(0.24), None);
    assert_eq!(silent(0.26), Some(Cause::NoHeaterCurrent));
}

/// A weak heater is judged from a quarter of the power on, in ten seconds, and carries less than 0.82 of its
/// current.
#[test]
fn a_weak_heater_is_judged_from_a_quarter_of_the_power() {
    let furnace = furnace();
    let is_weak = |duty: f32, ma: u32, ticks| {
        let of = move |_: i32, raw: &mut Inputs| {
            raw.heater_current_ma = Some(ma);
            duty
        };
        let interlock = watched(&furnace, &both(880.0), ticks, of);
        assert_eq!(interlock.trip(), None);
        interlock.heater_is_weak()
    };
    // A mean square of 0.6 of the expected one.
    let weak_ma = |duty: f32| (f32::sqrt(0.6 * duty) * 10_000.0) as u32;
    for (duty, judged) in [(0.2, false), (0.25, true), (0.3, true)] {
        assert_eq!(is_weak(duty, weak_ma(duty), 300), judged, "duty {duty}");
    }
    assert!(!is_weak(0.3, weak_ma(0.3), 90) && is_weak(0.3, weak_ma(0.3), 110));
    assert!(!is_weak(1.0, 8_200, 300) && is_weak(1.0, 8_199, 300));
}

/// A reading above its setpoint is judged with more than three tenths of the heat.
#[test]
fn too_hot_with_three_tenths_of_the_heat_may_come_down() {
    for (ticks, trips) in [(3, false), (4, true)] {
        let of = move |tick: i32, raw: &mut Inputs| {
            raw.heater_current_ma = None;
            if (tick - 1) % 10 < ticks { 1.0 } else { 0.0 }
        };
        let found = watched(&holding(64.0), &both(899.0), 60, of).trip();
        assert_eq!(found, trips.then_some(Cause::AboveSetpoint), "{ticks} ticks of a second");
    }
}

/// What the element holds flows on: 13.5 s at two fifths of the power, for an element of 100 J/K that is
/// 130 K hotter than its chamber. 8 K above its setpoint 7 K are left of the allowed 15.
#[test]
fn a_reading_that_rises_too_fast_is_above_its_setpoint_before_it_is_there() {
    let mut furnace = holding(640.0);
    furnace.heater.stored_heat.element_j_per_k = 100.0;
    for (rate_k_per_s, trips) in [(0.50, false), (0.54, true)] {
        let rising = ChannelEstimate { rate_k_per_s, ..channel(888.0) };
        let estimate = Estimate { control: Ok(rising), limit: Ok(channel(888.0)) };
        let found = trips_within(&furnace, &estimate, 0.4, 20);
        assert_eq!(found, trips.then_some(Cause::AboveSetpoint), "{rate_k_per_s} K/s");
    }
}

/// With 0.6 of its current a heater goes on; with less it does not.
#[test]
fn six_tenths_of_the_current_are_enough_to_go_on() {
    for (ma, trips) in [(6_000, false), (5_999, true)] {
        let of = move |_: i32, raw: &mut Inputs| {
            raw.heater_current_ma = Some(ma);
            1.0
        };
        let found = watched(&furnace(), &both(880.0), 50, of).trip();
        assert_eq!(found, trips.then_some(Cause::HeaterCurrentWrong), "{ma} mA");
    }
}

/// The checks of a second go on where they were: a fault that is there already is found in the third of them.
#[test]
fn an_accepted_trip_does_not_delay_the_next_check() {
    let (furnace, estimate) = (furnace(), both(880.0));
    let (idle, applied) = (&Demand::default(), &Outputs::default());
    let proven = proven_inputs(&estimate, 900.0);
    let raw = Inputs { contactor_closed: false, heater_current_ma: Some(0), ..*proven.raw };
    let rest =
        InterlockInputs { raw: &raw, demand: idle, applied, commanded_duty: 0.0, ..proven };
    let mut interlock = Interlock::default();
    interlock.restore_trip(Cause::ClockWrong, 900.0);
    for _ in 1..=15 {
        let _ = interlock.evaluate(&furnace, &rest);
    }
    assert!(interlock.accept_trip(&furnace, &rest));
    let demand = &Demand { firing: true, vacuum_pa: Some(5_000), ..Demand::default() };
    let silent = Inputs { pressure_pa: None, ..raw };
    let now = InterlockInputs { raw: &silent, demand, ..rest };
    let trips = (16..60)
        .find(|_| interlock.evaluate(&furnace, &now).is_err() && interlock.trip().is_some());
    assert_eq!((trips, interlock.trip()), (Some(36), Some(Cause::GaugeImplausible)));
}

/// An idle furnace in whose interlock this cause is latched: whether it is accepted on these inputs.
fn accepts(
    cause: Cause,
    furnace: &Furnace,
    estimate: &Estimate,
    spoil: impl Fn(&mut Inputs),
) -> bool {
    let mut interlock = Interlock::default();
    interlock.restore_trip(cause, 900.0);
    let (demand, applied) = (&Demand::default(), &Outputs::default());
    let good = both(870.0);
    let proven = proven_inputs(&good, 900.0);
    let mut raw = Inputs { contactor_closed: false, heater_current_ma: Some(0), ..*proven.raw };
    let rest = InterlockInputs { raw: &raw, demand, applied, commanded_duty: 0.0, ..proven };
    let refused = Err(PermitError::Tripped(cause));
    assert_eq!(interlock.evaluate(furnace, &rest).map(drop), refused);
    spoil(&mut raw);
    let now = InterlockInputs { raw: &raw, demand, applied, estimate, ..proven };
    let accepted = interlock.accept_trip(furnace, &now);
    assert_eq!(interlock.trip(), (!accepted).then_some(cause));
    accepted
}

/// Whether a trip is accepted is asked of the inputs at hand, channel by channel.
#[test]
fn each_channel_is_asked_before_a_trip_is_accepted() {
    let furnace = furnace();
    let silent = Err(SensorFault::Missing);
    let (good, hot) = (Ok(channel(870.0)), Ok(channel(1200.0)));
    for cause in [Cause::AboveFurnaceLimit, Cause::SensorFrozen, Cause::TerminalsDisagree] {
        let asked =
            |control, limit| accepts(cause, &furnace, &Estimate { control, limit }, |_| {});
        assert!(asked(good, good), "{}", cause.name());
        assert!(!asked(silent, good) && !asked(good, silent), "{}", cause.name());
        let limit = cause == Cause::AboveFurnaceLimit;
        assert_eq!(asked(hot, good), !limit, "{}", cause.name());
        assert_eq!(asked(good, hot), !limit, "{}", cause.name());
    }
}

/// A furnace without a pump has no gauge that could be asked.
#[test]
fn a_gauge_that_is_gone_does_not_keep_a_trip() {
    let silent = |raw: &mut Inputs| raw.pressure_pa = None;
    let mut furnace = furnace();
    let good = both(870.0);
    assert!(accepts(Cause::GaugeImplausible, &furnace, &good, |_| {}));
    assert!(!accepts(Cause::GaugeImplausible, &furnace, &good, silent));
    furnace.vacuum = None;
    assert!(accepts(Cause::GaugeImplausible, &furnace, &good, silent));
}

/// The first cause stays, also when another one comes back from before a power failure.
#[test]
fn a_restored_trip_replaces_no_other() {
    let mut interlock = Interlock::default();
    interlock.restore_trip(Cause::ClockWrong, 900.0);
    interlock.restore_trip(Cause::SensorOpen, 900.0);
    assert_eq!(interlock.trip(), Some(Cause::ClockWrong));
}

#[test]
fn every_cause_has_a_name_and_an_advice_of_its_own() {
    let distinct = |text: fn(Cause) -> &'static str| {
        let texts = Cause::ALL.map(text);
        assert!(texts.iter().all(|it| it.len() > 5), "{texts:?}");
        texts.into_iter().collect::<std::collections::BTreeSet<_>>().len()
    };
    assert_eq!([distinct(Cause::name), distinct(Cause::advice)], [Cause::ALL.len(); 2]);
}

/// The isolation valve counts as open from a fall of more than 1 % and 3 hPa, between means of four readings.
#[test]
fn a_fall_of_one_percent_and_three_hectopascal_is_the_limit() {
    let estimate = both(880.0);
    let proven = proven_inputs(&estimate, 900.0);
    let applied = &Outputs { pump: true, ..*proven.applied };
    for (before_pa, allowed_pa) in [(100_000, 1_300), (2_000, 320)] {
        for (fall_pa, trips) in [(allowed_pa, false), (allowed_pa + 1, true)] {
            let mut interlock = Interlock::default();
            for tick in 1..=20 {
                assert_eq!(interlock.trip(), None, "tick {tick}");
                let pa = if tick <= 12 { before_pa } else { before_pa - fall_pa };
                let raw = Inputs { pressure_pa: Some(pa), ..*proven.raw };
                let inputs = InterlockInputs { raw: &raw, applied, ..proven };
                let _ = interlock.evaluate(&furnace(), &inputs);
            }
            let cause = trips.then_some(Cause::IsolationStuck);
            assert_eq!(interlock.trip(), cause, "{fall_pa} of {before_pa} Pa");
        }
    }
}
