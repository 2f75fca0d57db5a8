//! Each fault against a healthy plant with the same outputs and the same noise: what it changes, and that
//! it changes nothing else.

mod kinds;
mod times;

use saggar_core::io::{Inputs, Outputs, ThermocoupleSample};
use saggar_core::sensors::ThermocoupleType;

use super::{Fault, FaultInjector, FaultKind};
use crate::plant::{ModelState, Plant};
use crate::spec::WorkSpec;
use crate::thermal::tests::demo::small_lift_furnace;

/// A minute of half power, before the fault strikes.
const WARM_UP_TICKS: u64 = 600;
const WARM_S: f64 = 60.0;

const IDLE: Outputs = Outputs {
    heater_cycles: 0,
    contactor: false,
    pump: false,
    isolation_valve: false,
    vent_valve: false,
    open_closure: false,
    lamp: false,
    buzzer: false,
};
const HEAT: Outputs = Outputs { heater_cycles: 0b1_0101, contactor: true, ..IDLE };
const DRAW: Outputs = Outputs { pump: true, isolation_valve: true, ..IDLE };

/// A plant, its faults and its time.
struct FaultBench {
    plant: Plant,
    faults: FaultInjector,
    ticks: u64,
    inputs: Inputs,
    energy_j: f64,
}

/// Work that gives no vapour, which would hide what valves and pump do.
fn dry() -> WorkSpec {
    WorkSpec { coat: None, moisture_share: 0.0, ..WorkSpec::coated_coping() }
}

impl FaultBench {
    /// A furnace that was heated under vacuum, with this fault to strike in its next tick.
    fn warm(fault: Option<FaultKind>) -> Self {
        Self::warm_with(fault.map(|kind| kind.at(WARM_S)))
    }

    /// The same with a fault that need not last, or not with its default severity.
    fn warm_with(scheduled: Option<Fault>) -> Self {
        let mut bench = Self {
            plant: Plant::new(&small_lift_furnace(), &dry(), 1).unwrap(),
            faults: FaultInjector::new(scheduled.into_iter().collect()),
            ticks: 0,
            inputs: Inputs::default(),
            energy_j: 0.0,
        };
        bench.run(&Outputs { contactor: true, heater_cycles: 0b1_0101, ..DRAW }, WARM_UP_TICKS);
        bench.energy_j = 0.0;
        bench
    }

    fn run(&mut self, outputs: &Outputs, ticks: u64) -> Inputs {
        for _ in 0..ticks {
            let now_s = self.ticks as f64 * 0.1;
            self.faults.activate_due(now_s);
            self.energy_j += self.plant.tick(outputs, &self.faults);
            self.inputs = self.plant.sample_inputs(&self.faults);
            self.faults.corrupt(now_s, &mut self.inputs);
            self.ticks += 1;
            if self.ticks.is_multiple_of(10) {
                self.plant.end_second(1.0);
            }
        }
        self.inputs
    }

    fn truth(&self) -> ModelState {
        self.plant.model_state()
    }
}

/// The benches with and without a fault after these outputs.
fn pair(fault: FaultKind, outputs: &Outputs, ticks: u64) -> (FaultBench, FaultBench) {
    pair_with(fault.at(WARM_S), outputs, ticks)
}

fn pair_with(fault: Fault, outputs: &Outputs, ticks: u64) -> (FaultBench, FaultBench) {
    let (mut sick, mut healthy) = (FaultBench::warm_with(Some(fault)), FaultBench::warm(None));
    sick.run(outputs, ticks);
    healthy.run(outputs, ticks);
    (sick, healthy)
}

fn celsius(sample: Option<ThermocoupleSample>) -> f64 {
    let sample = sample.unwrap();
    let cold_c = f64::from(sample.cold_junction_mc) / 1000.0;
    let uv = f64::from(sample.emf_nv) / 1000.0 + ThermocoupleType::S.emf_uv(cold_c).unwrap();
    f64::from(ThermocoupleType::S.celsius((uv / 1000.0) as f32).unwrap())
}

/// Asserts that a fault of readings leaves the furnace alone, and returns the readings with it and
/// without it.
fn readings(fault: FaultKind, outputs: &Outputs, ticks: u64) -> (Inputs, Inputs) {
    readings_with(fault.at(WARM_S), outputs, ticks)
}

fn readings_with(fault: Fault, outputs: &Outputs, ticks: u64) -> (Inputs, Inputs) {
    let (sick, healthy) = pair_with(fault, outputs, ticks);
    assert_eq!(sick.truth(), healthy.truth(), "{fault:?} changed the furnace");
    (sick.inputs, healthy.inputs)
}

#[test]
fn a_fault_of_the_control_channel_changes_only_that_reading() {
    use FaultKind::*;
    for fault in [
        ControlOpen,
        ControlShort,
        ControlDrift,
        ControlGain,
        ControlOffset,
        ControlFrozen,
        ControlDetached,
        ControlLagging,
        ControlReversed,
        ControlTerminals,
    ] {
        let (sick, healthy) = readings(fault, &HEAT, 600);
        assert_ne!(sick.control, healthy.control, "{fault:?}");
        assert_eq!(Inputs { control: healthy.control, ..sick }, healthy, "{fault:?}");
    }
}

#[test]
fn a_fault_of_the_limit_channel_changes_only_that_reading() {
    for fault in [
        FaultKind::LimitOpen,
        FaultKind::LimitFrozen,
        FaultKind::LimitDetached,
        FaultKind::LimitDrift,
    ] {
        let (sick, healthy) = readings(fault, &HEAT, 600);
        assert_ne!(sick.limit, healthy.limit, "{fault:?}");
        assert_eq!(Inputs { limit: healthy.limit, ..sick }, healthy, "{fault:?}");
    }
}

#[test]
fn a_wrong_sensor_reads_what_its_row_says() {
    let of = |fault| {
        let (sick, healthy) = readings(fault, &HEAT, 600);
        (sick.control.unwrap(), healthy.control.unwrap())
    };
    let (sick, healthy) = of(FaultKind::ControlGain);
    let share = f64::from(sick.emf_nv) / f64::from(healthy.emf_nv);
    assert!((share - 0.97).abs() < 1e-3, "{share}");
    let (sick, healthy) = of(FaultKind::ControlOffset);
    let error_k = celsius(Some(sick)) - celsius(Some(healthy));
    assert!((error_k + 30.0).abs() < 1.0, "{error_k}");
    let (sick, healthy) = of(FaultKind::ControlReversed);
    assert_eq!(sick.emf_nv, -healthy.emf_nv);
    let (sick, healthy) = of(FaultKind::ControlTerminals);
    assert_eq!(sick.cold_junction_mc, healthy.cold_junction_mc - 30_000);
    let (sick, healthy) = of(FaultKind::ControlDrift);
    assert_eq!(sick.emf_nv, healthy.emf_nv - 5_990, "100 nV in each of 59.9 s");
}

#[test]
fn a_frozen_front_end_repeats_its_first_code() {
    let mut bench = FaultBench::warm(Some(FaultKind::ControlFrozen));
    let first = bench.run(&HEAT, 1).control.unwrap().emf_nv;
    for _ in 0..100 {
        assert_eq!(bench.run(&HEAT, 1).control.unwrap().emf_nv, first);
    }
}

/// Ten times the 2.5 s of this sensor: after 25 s at a constant place it has made up 1 - 1/e.
#[test]
fn a_lagging_sensor_follows_with_ten_times_its_lag() {
    use crate::instruments::{Thermocouple, TipCondition};
    let furnace = small_lift_furnace();
    for (share, end_c) in [(1.0, 500.0), (0.96, 480.0)] {
        let mut sensor = Thermocouple::new(&furnace.control_sensor, 22.0, 22.0);
        let condition = TipCondition { share, lag_factor: Some(10.0), colder_k: 0.0 };
        sensor.tip_c(&condition, 100.0, 0.0);
        let reached = (0..250).map(|_| sensor.tip_c(&condition, 500.0, 0.1)).last().unwrap();
        let expected = end_c - (end_c - 100.0) / std::f64::consts::E;
        assert!((reached - expected).abs() < 1e-6, "{reached}, not {expected}");
    }
}

#[test]
fn a_contact_lies_and_changes_nothing_else() {
    let (sick, healthy) = readings(FaultKind::AuxiliaryOpen, &HEAT, 10);
    assert_eq!(Inputs { contactor_closed: true, ..sick }, healthy);
    assert!(!sick.contactor_closed);
    let mut stuck = FaultBench::warm(Some(FaultKind::AuxiliaryStuck));
    assert!(stuck.run(&HEAT, 1).contactor_closed);
    assert!(stuck.run(&IDLE, 10).contactor_closed, "it keeps what it said");
    let opening = Outputs { open_closure: true, vent_valve: true, ..IDLE };
    let (sick, healthy) = readings(FaultKind::ShutStuck, &opening, 300);
    assert!(sick.closure.shut && sick.closure.open && !healthy.closure.shut);
    let (sick, healthy) = readings(FaultKind::ClosureLost, &HEAT, 10);
    assert!(!sick.closure.shut && healthy.closure.shut);
}

#[test]
fn a_dead_current_sensor_reads_nothing_while_current_flows() {
    let (sick, healthy) = readings(FaultKind::CurrentDead, &HEAT, 10);
    assert!(healthy.heater_current_ma > Some(4_000));
    assert_eq!(Inputs { heater_current_ma: healthy.heater_current_ma, ..sick }, healthy);
    assert_eq!(sick.heater_current_ma, Some(0));
}

#[test]
fn a_wrong_gauge_leaves_the_pressure_alone() {
    let vent = Outputs { vent_valve: true, ..IDLE };
    let (sick, healthy) = readings(FaultKind::GaugeDead, &vent, 100);
    assert_eq!((sick.pressure_pa, healthy.pressure_pa.is_some()), (None, true));
    let (sick, healthy) = readings(FaultKind::GaugeLow, &vent, 100);
    assert_eq!(sick.pressure_pa, healthy.pressure_pa.map(|pa| pa / 5));
    let mut frozen = FaultBench::warm(Some(FaultKind::GaugeFrozen));
    let first = frozen.run(&vent, 1).pressure_pa;
    assert_eq!(frozen.run(&vent, 100).pressure_pa, first);
    assert!(frozen.truth().pressure_pa > 90_000.0);
}

/// Power and current of each state of the heater's circuit: commanded on and off, contactor closed.
#[test]
fn the_heater_takes_what_its_circuit_allows() {
    let off = Outputs { contactor: true, ..IDLE };
    let joule_s = |fault, outputs: &Outputs| {
        let (sick, healthy) = pair(fault, outputs, 10);
        (sick.energy_j, healthy.energy_j)
    };
    // Three of five cycles of 1,200 W for one second.
    for (fault, on_j, off_j) in [
        (FaultKind::ElementOpen, 0.0, 0.0),
        (FaultKind::ElementAged, 540.0, 0.0),
        (FaultKind::SwitchStuck, 1_200.0, 1_200.0),
        (FaultKind::SwitchHalf, 360.0, 0.0),
        (FaultKind::SwitchLeaks, 960.0, 600.0),
        (FaultKind::ContactorDead, 0.0, 0.0),
        (FaultKind::ContactorWelded, 720.0, 0.0),
    ] {
        for (outputs, expected_j, healthy_j) in [(&HEAT, on_j, 720.0), (&off, off_j, 0.0)] {
            let (sick, healthy) = joule_s(fault, outputs);
            assert!((sick - expected_j).abs() < 1e-6, "{fault:?}: {sick} J");
            assert!((healthy - healthy_j).abs() < 1e-6);
        }
        assert!(joule_s(fault, &IDLE).0.abs() < 1e-9, "{fault:?}: an open contactor");
    }
}

/// A weld alone does not heat; with a stuck output stage nothing can take the heat away.
#[test]
fn a_weld_and_a_stuck_output_stage_heat_for_good() {
    let mut bench = FaultBench::warm(Some(FaultKind::ContactorWelded));
    assert!(bench.run(&IDLE, 10).contactor_closed && bench.energy_j.abs() < 1e-9);
    bench.faults = bench.faults.with_scheduled(vec![FaultKind::SwitchStuck.at(0.0)]);
    bench.run(&IDLE, 10);
    assert!((bench.energy_j - 1_200.0).abs() < 1e-6, "{}", bench.energy_j);
}

#[test]
fn a_chamber_opened_by_hand_stands_ajar() {
    let (sick, healthy) = pair(FaultKind::ClosureOpened, &IDLE, 300);
    assert_eq!((sick.inputs.closure.shut, sick.inputs.closure.open), (false, false));
    assert!(healthy.inputs.closure.shut);
    assert!((sick.truth().opening - 1.0 / 3.0).abs() < 0.01 && sick.truth().pressure_pa > 1e5);
}

/// Pressure (Pa) after a minute, with and without a fault.
fn pressures(fault: FaultKind, outputs: &Outputs) -> (f64, f64) {
    let (sick, healthy) = pair(fault, outputs, 600);
    (sick.truth().pressure_pa, healthy.truth().pressure_pa)
}

#[test]
fn valves_pump_and_seal_change_the_pressure() {
    let vent = Outputs { vent_valve: true, ..IDLE };
    let (sick, healthy) = pressures(FaultKind::IsolationOpen, &IDLE);
    assert!(sick > 5.0 * healthy, "sucked back through the pump: {sick} Pa, {healthy} Pa");
    let (sick, _) = pressures(FaultKind::IsolationShut, &DRAW);
    assert!(sick > 2_000.0 + 200.0, "the leak is not pumped: {sick} Pa");
    let (sick, healthy) = pressures(FaultKind::VentOpen, &IDLE);
    assert!(sick > 1e5 && healthy < 3_000.0, "{sick} Pa, {healthy} Pa");
    let (sick, healthy) = pressures(FaultKind::VentShut, &vent);
    assert!(sick < 3_000.0 && healthy > 1e5, "{sick} Pa, {healthy} Pa");
    for fault in [FaultKind::PumpDead, FaultKind::PumpWeak, FaultKind::SealLeaks] {
        let (sick, healthy) = pressures(fault, &DRAW);
        assert!(sick > healthy + 20.0, "{fault:?}: {sick} Pa, {healthy} Pa");
    }
}

/// A fast clock ends its ticks early: less heat and less time in as many ticks, in the same proportion.
#[test]
fn a_wrong_clock_scales_time_and_heat() {
    for (fault, length) in [(FaultKind::ClockFast, 1.0 / 1.4), (FaultKind::ClockSlow, 1.4)] {
        let (sick, healthy) = pair(fault, &HEAT, 700);
        let share = sick.energy_j / healthy.energy_j;
        assert!((share - length).abs() < 1e-9, "{fault:?}: {share}");
        let mut same = FaultBench::warm(None);
        same.run(&HEAT, (700.0 * length) as u64);
        let (sick_c, same_c) = (celsius(sick.inputs.limit), celsius(same.inputs.limit));
        assert!((sick_c - same_c).abs() < 1.5, "{fault:?}: {sick_c} °C, {same_c} °C");
    }
}

/// At 50 Hz: ten crossings in a tick of 100 ms, and the true number over a minute under a wrong clock.
#[test]
fn a_wrong_clock_shows_in_the_crossings_of_the_mains() {
    for (fault, length) in [
        (None, 1.0),
        (Some(FaultKind::ClockFast), 1.0 / 1.4),
        (Some(FaultKind::ClockSlow), 1.4),
    ] {
        let mut bench = FaultBench::warm(fault);
        let count = |_| u32::from(bench.run(&HEAT, 1).mains_crossings.unwrap());
        let counts: Vec<u32> = (0..600).map(count).collect();
        let expected = 10.0 * length;
        assert!(counts.iter().all(|&one| (f64::from(one) - expected).abs() < 1.0));
        let sum = f64::from(counts.iter().sum::<u32>());
        assert!((sum - 600.0 * expected).abs() <= 1.0, "{fault:?}: {sum}");
    }
}

#[test]
fn a_name_means_one_fault() {
    for fault in FaultKind::ALL {
        assert_eq!(FaultKind::from_name(fault.name()), Some(fault));
    }
}
