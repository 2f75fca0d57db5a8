//! Each condition by itself: a new interlock, one tick, one condition not proven, no permit.

use saggar_core::Cause;
use saggar_core::estimate::{ChannelEstimate, Estimate};
use saggar_core::interlock::{Interlock, InterlockInputs, PermitError};
use saggar_core::programme::Step;
use saggar_core::sensors::{SensorFault, ThermocoupleType};
use saggar_core::sequencer::Demand;

use super::{estimate_at, healthy};
use crate::support::{Bench, PROVEN_DEMAND, Tick, celsius, furnace, ramp, sample, soak, step};

/// The error of a new interlock after one tick of a programme to 900 °C; `None` for a permit.
fn judged(
    estimate: &Estimate,
    spoil: impl FnOnce(&mut InterlockInputs<'_>),
) -> Option<PermitError> {
    let mut inputs = healthy(estimate, 900.0);
    spoil(&mut inputs);
    Interlock::default().evaluate(&furnace(), &inputs).err()
}

const NOT_NOW: Option<PermitError> = Some(PermitError::Withheld);

#[test]
fn each_missing_condition_withholds_the_permit() {
    let good = Estimate { control: Ok(estimate_at(880.0)), limit: Ok(estimate_at(880.0)) };
    assert_eq!(judged(&good, |_| {}), None);
    assert_eq!(
        judged(&good, |inputs| inputs.demand = &Demand { firing: false, ..PROVEN_DEMAND }),
        NOT_NOW
    );
    assert_eq!(
        judged(&good, |inputs| inputs.demand = &Demand { setpoint: None, ..PROVEN_DEMAND }),
        NOT_NOW
    );
    assert_eq!(
        judged(&good, |inputs| inputs.demand =
            &Demand { firing: false, setpoint: None, ..PROVEN_DEMAND }),
        NOT_NOW
    );
    assert_eq!(judged(&good, |inputs| inputs.shut = false), NOT_NOW);
    let late = Some(PermitError::Tripped(Cause::TickOverrun));
    assert_eq!(judged(&good, |inputs| inputs.on_time = false), late);
    let changed = Some(PermitError::Tripped(Cause::ProgrammeChanged));
    assert_eq!(judged(&good, |inputs| inputs.programme_intact = false), changed);
    let flipped = Some(PermitError::Tripped(Cause::FurnaceDataChanged));
    assert_eq!(judged(&good, |inputs| inputs.furnace_intact = false), flipped);
}

#[test]
fn each_channel_must_prove_its_limits() {
    let good = estimate_at(880.0);
    let old = |worst| ChannelEstimate { worst_case: celsius(worst), ..good };
    let floor = ChannelEstimate { is_upper_bound: true, ..good };
    let trip = |cause| Some(PermitError::Tripped(cause));
    let cases = [
        (Err(SensorFault::Missing), Ok(good), NOT_NOW),
        (Ok(good), Err(SensorFault::Missing), NOT_NOW),
        // The control channel leads; it must know where it is. The limit channel need not.
        (Ok(floor), Ok(good), NOT_NOW),
        (Ok(good), Ok(floor), None),
        // 40 K apart is allowed, more is not; at its floor a limit channel may be below.
        (Ok(good), Ok(estimate_at(920.0)), None),
        (Ok(good), Ok(estimate_at(920.1)), NOT_NOW),
        (Ok(good), Ok(estimate_at(839.9)), NOT_NOW),
        (Ok(estimate_at(700.0)), Ok(floor), None),
        // What an old sample may have risen to since: 915 °C, and 955 °C.
        (Ok(old(914.9)), Ok(good), None),
        (Ok(old(915.0)), Ok(good), trip(Cause::AboveProgrammeLimit)),
        (Ok(good), Ok(old(954.9)), None),
        (Ok(good), Ok(old(955.0)), trip(Cause::AboveProgrammeLimit)),
        (Ok(old(1200.0)), Ok(good), trip(Cause::AboveFurnaceLimit)),
        (Ok(good), Ok(old(1200.0)), trip(Cause::AboveFurnaceLimit)),
    ];
    for (index, (control, limit, expected)) in cases.into_iter().enumerate() {
        assert_eq!(judged(&Estimate { control, limit }, |_| {}), expected, "case {index}");
    }
}

/// Ten checks apart, one a second, are a trip. A check without one channel counts for neither side.
#[test]
fn a_missing_sample_neither_proves_nor_clears_a_disagreement() {
    // Not hot enough for the check of the expected difference.
    let apart = Estimate { control: Ok(estimate_at(480.0)), limit: Ok(estimate_at(430.0)) };
    let missing = Estimate { limit: Err(SensorFault::Missing), ..apart };
    let mut interlock = Interlock::default();
    let mut judge = |estimate| interlock.evaluate(&furnace(), &healthy(estimate, 900.0)).err();
    for _ in 0..53 {
        assert_eq!(judge(&apart), NOT_NOW);
    }
    // In the tick of a check; three ticks without the channel would be a trip of their own.
    assert_eq!(judge(&missing), NOT_NOW);
    for _ in 54..95 {
        assert_eq!(judge(&apart), NOT_NOW);
    }
    let trip = Some(PermitError::Tripped(Cause::ChannelsDisagree));
    assert!((95..110).any(|_| judge(&apart) == trip));
}

/// What a type B as limit channel reads.
fn read_type_b(tick: &mut Tick) {
    tick.inputs.limit = Some(sample(ThermocoupleType::B, tick.celsius));
}

/// A cold furnace with such a limit channel, started.
fn with_type_b(steps: &[Step]) -> Bench {
    let mut furnace = furnace();
    furnace.limit_sensor.kind = ThermocoupleType::B;
    let mut bench = Bench::of(furnace, 30.0, steps);
    for _ in 0..5 {
        bench.tick(read_type_b);
    }
    bench.tick(|tick| {
        read_type_b(tick);
        tick.inputs.buttons.start = true;
    });
    bench
}

/// A type B as limit channel says nothing below 250 °C but "no hotter", and agrees above.
#[test]
fn a_type_b_guards_from_cold_to_hot() {
    let mut bench = with_type_b(&[step(ramp(600, 100)), step(soak(600))]);
    let mut cold = 0;
    for _ in 0..5000 {
        bench.tick(read_type_b);
        cold += u32::from(bench.celsius < 240.0 && bench.out.heater_cycles != 0);
        assert_eq!(bench.tripped(), None, "at {:.0} °C", bench.celsius);
    }
    assert!(cold > 500 && bench.celsius > 590.0, "{cold} ticks, {:.0} °C", bench.celsius);
    // Above its floor it is a channel like any other.
    for _ in 0..200 {
        bench.tick(|tick| {
            tick.inputs.limit = Some(sample(ThermocoupleType::B, tick.celsius - 60.0));
        });
    }
    assert!(bench.tripped().is_some());
}

/// Its floor lies above the ceiling of a cool programme, and says nothing about it.
#[test]
fn a_type_b_at_its_floor_lets_a_cool_programme_run() {
    let mut bench = with_type_b(&[step(ramp(150, 100)), step(soak(60))]);
    for _ in 0..3000 {
        bench.tick(read_type_b);
        assert_eq!(bench.tripped(), None, "at {:.0} °C", bench.celsius);
    }
    assert!(bench.celsius > 100.0, "{:.0} °C", bench.celsius);
}

/// Found by the search: a ceiling that is no number is above nothing, a sensor at its floor
/// included.
#[test]
fn a_ceiling_that_is_no_number_permits_nothing() {
    let mut furnace = furnace();
    furnace.limits.disagree_max_k = f32::NEG_INFINITY;
    let estimate = Estimate {
        control: Ok(estimate_at(700.0)),
        limit: Ok(ChannelEstimate { is_upper_bound: true, ..estimate_at(250.0) }),
    };
    let inputs = healthy(&estimate, f32::INFINITY);
    assert!(Interlock::default().evaluate(&furnace, &inputs).is_err());
}
