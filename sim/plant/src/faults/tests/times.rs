//! When a fault is there: until its end, while it comes and goes, until somebody mends it.

use super::super::effect::FaultEffect;
use super::super::{
    FaultInjector, FaultKind, MemoryArea, MemoryFault, PlantCondition, SingleEffects,
};
use super::{DRAW, FaultBench, HEAT, WARM_S};

/// How long a fault of these tests lasts (s), and in ticks.
const LASTS_S: f64 = 5.0;
const LASTS_TICKS: u64 = 50;

fn changes_only_readings(kind: FaultKind) -> bool {
    matches!(
        kind.at(0.0).effect(),
        FaultEffect::Signal(..)
            | FaultEffect::Contact(..)
            | FaultEffect::Gauge(_)
            | FaultEffect::Current(_)
    )
}

/// The readings are right again with the first tick after the end, bit for bit.
#[test]
fn every_reading_is_right_again_after_the_end() {
    let mut tried = 0;
    for kind in FaultKind::ALL.into_iter().filter(|kind| changes_only_readings(*kind)) {
        let mut sick = FaultBench::warm_with(Some(kind.at(WARM_S).until(WARM_S + LASTS_S)));
        let mut healthy = FaultBench::warm(None);
        for tick in 0..LASTS_TICKS + 20 {
            let pair = (sick.run(&HEAT, 1), healthy.run(&HEAT, 1));
            if tick >= LASTS_TICKS {
                assert_eq!(pair.0, pair.1, "{kind:?}, tick {tick}");
            }
        }
        assert_eq!(sick.truth(), healthy.truth(), "{kind:?}");
        tried += 1;
    }
    assert!(tried > 30, "only {tried} kinds");
}

/// A tip is where the chamber is again; the front end rounds its voltage from another point of its curve.
#[test]
fn every_tip_is_in_its_place_again_after_the_end() {
    for kind in FaultKind::ALL {
        let FaultEffect::Tip(..) = kind.at(0.0).effect() else { continue };
        let mut sick = FaultBench::warm_with(Some(kind.at(WARM_S).until(WARM_S + LASTS_S)));
        let mut healthy = FaultBench::warm(None);
        let before = (sick.run(&HEAT, LASTS_TICKS), healthy.run(&HEAT, LASTS_TICKS));
        let after = (sick.run(&HEAT, 1), healthy.run(&HEAT, 1));
        assert_ne!(before.0, before.1, "{kind:?}");
        for of in
            [|inputs: &super::Inputs| inputs.control, |inputs: &super::Inputs| inputs.limit]
        {
            let [sick, healthy] = [after.0, after.1].map(|inputs| of(&inputs).unwrap().emf_nv);
            assert!((sick - healthy).abs() <= 500, "{kind:?}: {sick} nV, {healthy} nV");
        }
    }
}

#[test]
fn every_part_is_healthy_again_after_the_end() {
    for kind in FaultKind::ALL {
        let mut injector = FaultInjector::new(vec![kind.at(1.0).until(2.0)]);
        for (now_s, active) in
            [(0.9, false), (1.0, true), (1.9, true), (2.0, false), (9.0, false)]
        {
            injector.activate_due(now_s);
            assert_eq!(injector.none_active(), !active, "{kind:?} at {now_s} s");
        }
        assert_eq!(*injector.condition(), PlantCondition::default(), "{kind:?}");
        assert!(!injector.any_pending_or_active());
    }
}

/// What a fault did to the furnace stays, but the parts take power, move and leak as before.
#[test]
fn the_heater_takes_its_power_again_after_the_end() {
    for kind in [
        FaultKind::ElementOpen,
        FaultKind::ElementShorted,
        FaultKind::SwitchDead,
        FaultKind::SwitchHalf,
        FaultKind::ContactorDead,
        FaultKind::MainsLow,
        FaultKind::MainsHigh,
        FaultKind::ClockFast,
    ] {
        let mut bench = FaultBench::warm_with(Some(kind.at(WARM_S).until(WARM_S + LASTS_S)));
        bench.run(&HEAT, LASTS_TICKS);
        let sick_j = bench.energy_j;
        assert!((sick_j - 3_600.0).abs() > 1.0, "{kind:?}: {sick_j} J");
        bench.run(&HEAT, 10);
        let joule = bench.energy_j - sick_j;
        assert!((joule - 720.0).abs() < 1e-6, "{kind:?}: {joule} J in a second");
    }
}

#[test]
fn a_fault_that_comes_and_goes_is_there_for_its_part_of_every_period() {
    let fault = FaultKind::ControlOpen.at(WARM_S).until(WARM_S + 2.5).intermittent(1.0, 0.3);
    let mut bench = FaultBench::warm_with(Some(fault));
    let open = |_| bench.run(&HEAT, 1).control.unwrap().open;
    let open: Vec<bool> = (0..40).map(open).collect();
    let expected = |tick: usize| tick < 25 && tick % 10 < 3;
    assert_eq!(open, (0..40).map(expected).collect::<Vec<_>>());
}

/// The times of a minute that is no whole number of ticks: an edge may be late by a tick, never by more.
#[test]
fn edges_between_two_ticks_wait_for_the_next_one() {
    let fault = FaultKind::ControlOpen.at(100.04).until(200.0).intermittent(0.7, 0.3);
    let mut injector = FaultInjector::new(vec![fault]);
    for tick in 1000..2100u32 {
        let now_s = f64::from(tick) * 0.1;
        injector.activate_due(now_s);
        let ms = i64::from(tick) * 100 - 100_040;
        let expected = ms >= 0 && tick < 2000 && ms % 700 < 300;
        assert_eq!(!injector.none_active(), expected, "tick {tick}");
    }
}

/// A front end that hangs now and then repeats what it read when it hung, each time anew.
#[test]
fn a_frozen_reading_is_taken_anew_at_each_strike() {
    let fault = FaultKind::ControlFrozen.at(WARM_S).intermittent(1.0, 0.5);
    let (mut sick, mut healthy) = (FaultBench::warm_with(Some(fault)), FaultBench::warm(None));
    let mut firsts = Vec::new();
    for tick in 0..30 {
        let (sick, healthy) = (sick.run(&HEAT, 1).control, healthy.run(&HEAT, 1).control);
        match tick % 10 {
            0 => firsts.push(healthy.unwrap().emf_nv),
            1..5 => assert_eq!(sick.unwrap().emf_nv, *firsts.last().unwrap(), "tick {tick}"),
            _ => assert_eq!(sick, healthy, "tick {tick}"),
        }
    }
    firsts.dedup();
    assert_eq!(firsts.len(), 3);
}

#[test]
fn what_happens_once_happens_once_at_each_strike() {
    let none = SingleEffects::default;
    let step = MemoryFault { area: MemoryArea::Step, bit: 7 };
    for (kind, severity, expected) in [
        (FaultKind::TickLate, 250.0, SingleEffects { late_ms: 250, ..none() }),
        (FaultKind::ClockJump, -40.0, SingleEffects { clock_jump_ms: -40_000, ..none() }),
        (FaultKind::MemoryStep, 7.0, SingleEffects { memory: vec![step], ..none() }),
    ] {
        let fault = kind.at(1.0).severity(severity).until(3.5).intermittent(1.0, 0.2);
        let mut injector = FaultInjector::new(vec![fault]);
        for tick in 0..60u32 {
            let effects = injector.activate_due(f64::from(tick) * 0.1);
            let strikes = [10, 20, 30].contains(&tick);
            let expected = if strikes { expected.clone() } else { none() };
            assert_eq!(effects, expected, "{kind:?}, tick {tick}");
        }
    }
}

#[test]
fn what_is_mended_goes_and_does_not_come_back() {
    let mut bench = FaultBench::warm(Some(FaultKind::ControlOpen));
    let later = FaultKind::ControlOpen.at(WARM_S + 1.0);
    bench.faults.schedule(later);
    assert!(bench.run(&HEAT, 1).control.unwrap().open);
    assert!(bench.faults.mend(FaultKind::ControlOpen, WARM_S + 0.1));
    for _ in 0..30 {
        assert!(!bench.run(&HEAT, 1).control.unwrap().open);
    }
    assert!(!bench.faults.mend(FaultKind::LimitOpen, WARM_S + 4.0), "there was none");
}

/// A pump that was mended draws again, and a valve that was freed shuts.
#[test]
fn the_vacuum_comes_back_after_the_end() {
    for kind in [FaultKind::PumpDead, FaultKind::SealLeaks, FaultKind::VentOpen] {
        let mut bench = FaultBench::warm_with(Some(kind.at(WARM_S).until(WARM_S + LASTS_S)));
        bench.run(&DRAW, LASTS_TICKS);
        let sick_pa = bench.truth().pressure_pa;
        bench.run(&DRAW, 3_000);
        let mended_pa = bench.truth().pressure_pa;
        let mut healthy = FaultBench::warm(None);
        healthy.run(&DRAW, LASTS_TICKS + 3_000);
        let healthy_pa = healthy.truth().pressure_pa;
        assert!(sick_pa > healthy_pa + 20.0, "{kind:?}: {sick_pa} Pa");
        assert!(
            (mended_pa - healthy_pa).abs() < 10.0,
            "{kind:?}: {mended_pa}, {healthy_pa} Pa"
        );
    }
}
