//! Sensors that are wrong by little: how hot the work gets, whatever the sensor says.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use std::collections::BTreeMap;

use saggar_bench::World;
use saggar_bench::observer::Observer;
use saggar_bench::trace::Row;
use saggar_core::events::{Ending, Event, EventKind};
use saggar_core::interlock::Cause;
use saggar_plant::faults::FaultKind;
use saggar_schedule::FiringPlan;

use super::{FiringOptions, example, schedule, setup_with};

/// How far the true temperature may be above anything that was asked for so far (K).
const ABOVE_ASKED_MAX_K: f64 = 25.0;

/// What a firing did to the work.
#[derive(Clone, Debug, Default)]
struct Excess {
    asked_c: f64,
    /// Maximum of the muffle above what was asked for so far (K).
    muffle_k: f64,
    /// Cause and time of the trip (s).
    trip: Option<(Cause, f64)>,
    /// Maximum temperature of the muffle while the vent was open (°C).
    vented_c: f64,
}

impl Observer for Excess {
    fn row(&mut self, row: &Row, _energy_j: f64, _world: &World) {
        let asked_c = row.measured.setpoint_c.unwrap_or(self.asked_c);
        self.asked_c = self.asked_c.max(asked_c);
        let modelled = super::modelled(row);
        self.muffle_k = self.muffle_k.max(modelled.muffle_c - self.asked_c);
        if row.measured.outputs.vent_valve {
            self.vented_c = self.vented_c.max(modelled.muffle_c);
        }
    }

    fn event(&mut self, event: &Event) {
        if let EventKind::Tripped(cause) = event.kind {
            self.trip.get_or_insert((cause, event.at.millis() as f64 / 1000.0));
        }
    }
}

/// Faults of a sensor that still gives a plausible reading.
const SUBTLE: [FaultKind; 9] = [
    FaultKind::ControlDrift,
    FaultKind::ControlLagging,
    FaultKind::ControlDetached,
    FaultKind::ControlFrozen,
    FaultKind::ControlGain,
    FaultKind::ControlTerminals,
    FaultKind::LimitFrozen,
    FaultKind::LimitDetached,
    FaultKind::LimitDrift,
];

/// A firing of the teaching furnace that is hot for long.
fn door() -> FiringPlan {
    schedule(
        "name = \"Long\"\nfurnace = \"../furnaces/teaching-door.toml\"\n[work]\nbody = \"alumina\"\n\
         wall_millimetre = 0.5\narea_square_millimetre = 220\n\
         [[stage]]\nramp = { to_celsius = 400, kelvin_per_minute = 8 }\n\
         [[stage]]\nsoak = { minutes = 20, band_kelvin = 10 }\n\
         [[stage]]\nramp = { to_celsius = 1050, kelvin_per_minute = 10 }\n\
         [[stage]]\nsoak = { minutes = 90, band_kelvin = 10 }\n\
         [[stage]]\ncool = { below_celsius = 450 }\n",
    )
}

/// Fires a plan with a fault at each of `moments` that are spread over the firing.
fn at_moments(
    plan: &FiringPlan,
    fault: FaultKind,
    moments: u32,
) -> Vec<(f64, Excess, Option<Ending>)> {
    let options = FiringOptions::default();
    let bench = || setup_with(plan, &options).bench(Excess::default()).unwrap();
    let healthy = bench().run_to_end(&plan.work);
    assert_eq!(healthy.ending, Some(Ending::Completed));
    let length_s = healthy.ticks as f64 * 0.1;
    let mut bench = bench();
    let moments = (0..moments).map(|moment| {
        let at_s = length_s * (f64::from(moment) + 0.5) / f64::from(moments);
        bench.run_until(at_s - 1.0);
        let faults = vec![fault.at(at_s)];
        let fired = bench.fork(faults).run_to_end(&plan.work);
        (at_s, fired.trace, fired.ending)
    });
    moments.collect()
}

#[test]
fn a_sensor_that_is_wrong_by_little_overheats_by_little() {
    let plan = example("infiltrate-alumina");
    for fault in SUBTLE {
        for (at_s, excess, ending) in at_moments(&plan, fault, 6) {
            let name = fault.name();
            assert!(excess.muffle_k <= ABOVE_ASKED_MAX_K, "{name} at {at_s:.0} s: {excess:?}");
            assert!(
                excess.vented_c < 701.0 && ending.is_some(),
                "{name} at {at_s:.0} s: {excess:?}"
            );
            let known = [
                Cause::SensorImplausible,
                Cause::ChannelsDisagree,
                Cause::SensorFrozen,
                Cause::SensorLagging,
                Cause::TerminalsDisagree,
                // A reading that is frozen below a low soak: no heat raises it.
                Cause::HeaterWithoutEffect,
            ];
            let cause = excess.trip.map(|(cause, _)| cause);
            assert!(cause.is_none_or(|cause| known.contains(&cause)), "{name}: {excess:?}");
        }
    }
}

/// The table of `docs/safety.md`: 24 moments in each of four firings.
#[test]
#[ignore = "five minutes"]
fn sensor_faults() {
    let mut plans = ["infiltrate-alumina", "infiltrate-spinel-vacuum", "clean-alumina"]
        .map(example)
        .to_vec();
    plans.push(door());
    for fault in SUBTLE.into_iter().chain([FaultKind::ControlOffset]) {
        let (mut over, mut worst_k, mut vented_c) = (0, 0.0f64, 0.0f64);
        let mut endings = BTreeMap::<String, u32>::new();
        for plan in &plans {
            for (_, excess, ending) in at_moments(plan, fault, 24) {
                over += u32::from(excess.muffle_k > ABOVE_ASKED_MAX_K);
                worst_k = worst_k.max(excess.muffle_k);
                vented_c = vented_c.max(excess.vented_c);
                *endings.entry(format!("{ending:?}")).or_default() += 1;
            }
        }
        println!(
            "{:18} worst {worst_k:5.1} K, {over} of 96 over 25 K, vented at {vented_c:.0} °C, {endings:?}",
            fault.name()
        );
    }
}
