//! What each kind does, and how much of it with another severity.

use super::super::{FaultInjector, FaultKind, MemoryArea, MemoryFault, PlantCondition};
use super::{
    DRAW, FaultBench, HEAT, IDLE, Inputs, Outputs, WARM_S, celsius, pair, pair_with, readings,
    readings_with,
};

#[test]
fn a_silent_front_end_gives_no_sample() {
    let (sick, healthy) = readings(FaultKind::ControlSilent, &HEAT, 10);
    assert_eq!(Inputs { control: None, ..healthy }, sick);
    let (sick, healthy) = readings(FaultKind::LimitSilent, &HEAT, 10);
    assert_eq!(Inputs { limit: None, ..healthy }, sick);
    let (sick, healthy) = readings(FaultKind::CurrentSilent, &HEAT, 10);
    assert_eq!(Inputs { heater_current_ma: None, ..healthy }, sick);
}

#[test]
fn the_limit_channel_has_the_faults_of_the_control_channel() {
    let limit = |kind| {
        let (sick, healthy) = readings(kind, &HEAT, 600);
        assert_eq!(Inputs { limit: healthy.limit, ..sick }, healthy, "{kind:?}");
        (sick.limit.unwrap(), healthy.limit.unwrap())
    };
    assert_eq!(limit(FaultKind::LimitShort).0.emf_nv, 0);
    let (sick, healthy) = limit(FaultKind::LimitReversed);
    assert_eq!(sick.emf_nv, -healthy.emf_nv);
    let (sick, healthy) = limit(FaultKind::LimitGain);
    let share = f64::from(sick.emf_nv) / f64::from(healthy.emf_nv);
    assert!((share - 0.97).abs() < 1e-3, "{share}");
    let (sick, healthy) = limit(FaultKind::LimitOffset);
    let error_k = celsius(Some(sick)) - celsius(Some(healthy));
    assert!((error_k + 30.0).abs() < 1.0, "{error_k}");
    let (sick, healthy) = limit(FaultKind::LimitTerminals);
    assert_eq!(sick.cold_junction_mc, healthy.cold_junction_mc - 30_000);
    let (sick, healthy) = limit(FaultKind::LimitLagging);
    assert!(sick.emf_nv < healthy.emf_nv, "it is behind");
    let (sick, healthy) = limit(FaultKind::LimitNoisy);
    assert_ne!(sick.emf_nv, healthy.emf_nv);
}

/// Mean and standard deviation of 3,000 samples, whose own errors are then 1 and 1.3 %.
#[test]
fn noise_has_the_standard_deviation_that_was_asked_for() {
    for microvolt in [200.0, 50.0] {
        let fault = FaultKind::ControlNoisy.at(WARM_S).severity(microvolt);
        let (mut sick, mut healthy) =
            (FaultBench::warm_with(Some(fault)), FaultBench::warm(None));
        let emf = |inputs: Inputs| f64::from(inputs.control.unwrap().emf_nv) / 1000.0;
        let added = |_| emf(sick.run(&IDLE, 1)) - emf(healthy.run(&IDLE, 1));
        let added: Vec<f64> = (0..3_000).map(added).collect();
        let mean = added.iter().sum::<f64>() / 3_000.0;
        let variance = added.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / 3_000.0;
        assert!(mean.abs() < 0.06 * microvolt, "{mean}");
        assert!((variance.sqrt() / microvolt - 1.0).abs() < 0.06, "{}", variance.sqrt());
        assert_eq!(sick.truth(), healthy.truth());
    }
}

#[test]
fn a_reading_is_as_wrong_as_its_severity() {
    let of = |kind: FaultKind, severity| {
        let (sick, healthy) = readings_with(kind.at(WARM_S).severity(severity), &HEAT, 600);
        (sick, healthy)
    };
    let (sick, healthy) = of(FaultKind::ControlOffset, -10.0);
    let error_k = celsius(sick.control) - celsius(healthy.control);
    assert!((error_k - 10.0).abs() < 1.0, "{error_k}");
    let emf = |inputs: &Inputs| f64::from(inputs.control.unwrap().emf_nv);
    let (sick, healthy) = of(FaultKind::ControlGain, 50.0);
    assert!((emf(&sick) / emf(&healthy) - 0.5).abs() < 1e-3);
    let (sick, healthy) = of(FaultKind::ControlDrift, 60.0);
    assert!((emf(&healthy) - emf(&sick) - 59_900.0).abs() < 2.0, "1 µV a second");
    let (sick, healthy) = of(FaultKind::ControlTerminals, -3.0);
    let terminals = |inputs: Inputs| inputs.control.unwrap().cold_junction_mc;
    assert_eq!(terminals(sick), terminals(healthy) + 3_000);
    let (sick, healthy) = of(FaultKind::CurrentScaled, 20.0);
    assert_eq!(sick.heater_current_ma, healthy.heater_current_ma.map(|ma| ma / 5));
    let (sick, healthy) = of(FaultKind::GaugeHigh, 500.0);
    assert_eq!(sick.pressure_pa, healthy.pressure_pa.map(|pa| pa * 5));
    let (sick, healthy) = of(FaultKind::GaugeLow, 50.0);
    assert_eq!(sick.pressure_pa, healthy.pressure_pa.map(|pa| pa / 2));
}

/// Three of five cycles of 1,200 W for one second, and half of the cycles while it is off.
#[test]
fn the_power_is_as_wrong_as_its_severity() {
    let off = Outputs { contactor: true, ..IDLE };
    for (kind, severity, on_j, off_j) in [
        (FaultKind::ElementAged, 40.0, 288.0, 0.0),
        (FaultKind::ElementShorted, 200.0, 1_440.0, 0.0),
        (FaultKind::SwitchDead, 0.0, 0.0, 0.0),
        (FaultKind::SwitchHalf, 25.0, 180.0, 0.0),
        (FaultKind::SwitchLeaks, 10.0, 720.0 + 48.0, 120.0),
        (FaultKind::MainsLow, 50.0, 180.0, 0.0),
        (FaultKind::MainsHigh, 120.0, 720.0 * 1.44, 0.0),
    ] {
        for (outputs, expected_j) in [(&HEAT, on_j), (&off, off_j)] {
            let (sick, _) = pair_with(kind.at(WARM_S).severity(severity), outputs, 10);
            let joule = sick.energy_j;
            assert!((joule - expected_j).abs() < 1e-6, "{kind:?}: {joule} J");
        }
    }
}

#[test]
fn a_clock_a_pump_and_a_hand_are_as_wrong_as_their_severity() {
    let clock = |kind: FaultKind| {
        let (sick, healthy) = pair_with(kind.at(WARM_S).severity(2.0), &HEAT, 100);
        sick.energy_j / healthy.energy_j
    };
    assert!((clock(FaultKind::ClockFast) - 0.5).abs() < 1e-9);
    assert!((clock(FaultKind::ClockSlow) - 2.0).abs() < 1e-9);
    let opening = |percent| {
        let fault = FaultKind::ClosureOpened.at(WARM_S).severity(percent);
        pair_with(fault, &IDLE, 300).0.truth().opening
    };
    assert!((opening(10.0) - 0.1).abs() < 0.01 && opening(100.0) > 0.95);
    let drawn_pa = |kind: FaultKind, severity| {
        pair_with(kind.at(WARM_S).severity(severity), &DRAW, 600).0.truth().pressure_pa
    };
    assert!(drawn_pa(FaultKind::PumpWeak, 10.0) > drawn_pa(FaultKind::PumpWeak, 90.0));
    assert!(drawn_pa(FaultKind::SealLeaks, 10.0) > drawn_pa(FaultKind::SealLeaks, 0.1));
}

#[test]
fn contacts_say_what_their_rows_say() {
    let (sick, healthy) = readings(FaultKind::AuxiliaryClosed, &IDLE, 10);
    assert!(sick.contactor_closed && !healthy.contactor_closed);
    let (sick, _) = readings(FaultKind::OpenStuck, &IDLE, 10);
    assert!(sick.closure.shut && sick.closure.open);
    let opening = Outputs { open_closure: true, vent_valve: true, ..IDLE };
    let (sick, healthy) = readings(FaultKind::OpenLost, &opening, 600);
    assert!(!sick.closure.open && healthy.closure.open);
    let (sick, healthy) = pair(FaultKind::ClosureJammed, &opening, 600);
    assert!(sick.inputs.closure.shut && healthy.inputs.closure.open);
    assert!(sick.truth().opening.abs() < 1e-9);
}

/// What the bench, the device or the link has to do leaves plant and readings alone.
#[test]
fn what_others_carry_out_changes_neither_plant_nor_readings() {
    for kind in [
        FaultKind::MainsCut,
        FaultKind::ClockJump,
        FaultKind::TickLate,
        FaultKind::MemoryFurnace,
        FaultKind::MemoryTable,
        FaultKind::FlashProgramme,
        FaultKind::FlashSettings,
        FaultKind::FlashLog,
        FaultKind::LinkLost,
    ] {
        let (sick, healthy) = readings(kind, &HEAT, 100);
        assert_eq!(sick, healthy, "{kind:?}");
        let mut injector = FaultInjector::new(vec![kind.at(0.0)]);
        injector.activate_due(0.0);
        assert_eq!(*injector.condition(), PlantCondition::default(), "{kind:?}");
        assert!(injector.active().any(|fault| fault.kind == kind));
    }
    let mut stopped = FaultInjector::new(vec![FaultKind::ClockStopped.at(0.0)]);
    stopped.activate_due(0.0);
    let clock_stopped = PlantCondition { clock_stopped: true, ..PlantCondition::default() };
    assert_eq!(*stopped.condition(), clock_stopped);
}

#[test]
fn a_fault_of_the_memory_flips_the_bit_that_was_asked_for() {
    for (kind, area) in [
        (FaultKind::MemoryFurnace, MemoryArea::Furnace),
        (FaultKind::MemoryTable, MemoryArea::LoadedTable),
        (FaultKind::MemoryProgramme, MemoryArea::Programme),
        (FaultKind::MemoryHighestSetpoint, MemoryArea::HighestSetpoint),
        (FaultKind::MemorySetpoint, MemoryArea::Setpoint),
        (FaultKind::MemoryStep, MemoryArea::Step),
    ] {
        let mut injector = FaultInjector::new(vec![kind.at(1.0).severity(5.0)]);
        assert!(injector.activate_due(0.9).memory.is_empty());
        assert_eq!(injector.activate_due(1.0).memory, [MemoryFault { area, bit: 5 }]);
        assert!(injector.activate_due(1.1).memory.is_empty(), "{kind:?} flips once");
    }
}

#[test]
fn the_default_severity_of_every_kind_is_allowed() {
    for kind in FaultKind::ALL {
        let Some(severity) = kind.severity() else { continue };
        let (low, high) = severity.range;
        assert!((low..=high).contains(&severity.default), "{kind:?}");
        assert!(!severity.whole || severity.default.fract().abs() < 1e-9, "{kind:?}");
        assert_ne!(kind.effect(low), kind.effect(high), "{kind:?} does not use its severity");
        assert!(kind.meaning().ends_with('.'), "{kind:?}: {}", kind.meaning());
    }
}
