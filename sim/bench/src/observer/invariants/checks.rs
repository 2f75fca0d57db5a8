//! The checks of one tick, from what goes in and out of the core and from the true furnace.

use saggar_core::interlock::Cause;

use super::asked::ROUNDING_K;
use super::{Invariant, InvariantWatch};
use crate::observer::TickRecord;

/// Opening from which a chamber counts as open, 0 to 1: the first millimetre.
const OPEN_FROM: f64 = 0.01;

/// Ticks in which an open chamber may still get power: one until the contact is read, one until the
/// output acts, and the one in which it opens.
const OPEN_TICKS_MAX: u8 = 3;

impl InvariantWatch {
    pub(super) fn check_tick(&mut self, record: &TickRecord<'_>) {
        let status = record.core.status();
        let at_s = record.world.now_s();
        let setpoint_c = status.setpoint.map(|setpoint| f64::from(setpoint.celsius));
        self.check_open_chamber(at_s, record);
        self.check_latch(at_s, record, status.trip);
        self.check_valves(at_s, record);
        if record.outputs.heater_cycles != 0 {
            self.check_heat(at_s, record, status.trip);
            self.check_command(at_s, record, setpoint_c);
        }
        if record.world.is_started() {
            self.asked.update(setpoint_c, || record.world.modelled().muffle_c);
        }
        // Before the first heat the setpoint follows the reading, and is no command yet.
        let follows = status.reading_c.map(f64::from).zip(setpoint_c);
        let follows = follows.is_some_and(|(reading, set)| (reading - set).abs() <= ROUNDING_K);
        self.previous.setpoint_c = setpoint_c.filter(|_| !follows);
    }

    /// Heat only with everything proven that the inputs can show.
    fn check_heat(&mut self, at_s: f64, record: &TickRecord<'_>, trip: Option<Cause>) {
        let (inputs, outputs) = (record.inputs, record.outputs);
        let reads = |sample: Option<saggar_core::io::ThermocoupleSample>| {
            sample.is_some_and(|sample| !sample.open)
        };
        let conditions = [
            (outputs.contactor, "the contactor commanded open"),
            (record.core.is_firing(), "no firing"),
            (trip.is_none(), "a latched trip"),
            (inputs.closure.proves_shut(), "the chamber not proven shut"),
            (reads(inputs.control), "no reading of the control channel"),
            (reads(inputs.limit), "no reading of the limit channel"),
        ];
        for (holds, without) in conditions {
            if !holds {
                self.violated(Invariant::HeatOnProof, at_s, || format!("heat with {without}"));
            }
        }
    }

    fn check_open_chamber(&mut self, at_s: f64, record: &TickRecord<'_>) {
        let drive = record.world.drive();
        let open = drive.opening > OPEN_FROM;
        self.previous.open_ticks =
            if open { self.previous.open_ticks.saturating_add(1) } else { 0 };
        if self.previous.open_ticks > OPEN_TICKS_MAX && drive.heater_w > 0.0 {
            self.violated(Invariant::OpenChamberIsOff, at_s, || {
                format!("{:.0} W into a chamber {:.2} open", drive.heater_w, drive.opening)
            });
        }
    }

    fn check_latch(&mut self, at_s: f64, record: &TickRecord<'_>, trip: Option<Cause>) {
        match (self.previous.trip, trip) {
            (None, Some(_)) => self.previous.latched += u32::from(record.world.is_started()),
            (Some(cause), None) if !record.inputs.buttons.confirm => {
                self.violated(Invariant::LatchEndsAtDevice, at_s, || {
                    format!("the trip {cause:?} ended without a press of confirm")
                });
            }
            (Some(first), Some(later)) if first != later => {
                self.violated(Invariant::LatchEndsAtDevice, at_s, || {
                    format!("the trip {first:?} became {later:?}")
                });
            }
            (Some(_) | None, None) | (Some(_), Some(_)) => {}
        }
        if trip.is_some() && (record.outputs.contactor || record.outputs.heater_cycles != 0) {
            self.violated(Invariant::HeatOnProof, at_s, || {
                "the contactor closed or heat under a trip".to_owned()
            });
        }
        self.previous.trip = trip;
    }

    fn check_valves(&mut self, at_s: f64, record: &TickRecord<'_>) {
        let outputs = record.outputs;
        if outputs.isolation_valve && !outputs.pump {
            self.violated(Invariant::ValveOrder, at_s, || {
                "the valve to the pump open while the pump is off".to_owned()
            });
        }
        if outputs.isolation_valve && outputs.vent_valve {
            self.violated(Invariant::ValveOrder, at_s, || {
                "the valve to the pump and the vent open together".to_owned()
            });
        }
    }

    fn check_command(&mut self, at_s: f64, record: &TickRecord<'_>, setpoint_c: Option<f64>) {
        let (cycles, in_a_tick) = (record.outputs.heater_cycles, record.core.cycles_per_tick());
        if cycles.count_ones() > u32::from(in_a_tick) {
            self.violated(Invariant::CommandInBounds, at_s, || {
                format!("{cycles:#b} cycles in a tick of {in_a_tick}")
            });
        }
        let Some(now_c) = setpoint_c else { return };
        let max_c = self.asked.programme_max_c();
        if !(now_c <= max_c + ROUNDING_K) {
            self.violated(Invariant::CommandInBounds, at_s, || {
                format!("setpoint {now_c:.1} °C, the programme's highest is {max_c:.1} °C")
            });
        }
        if let Some(before_c) = self.previous.setpoint_c {
            let (rise_k, max_k) = (now_c - before_c, self.asked.rise_max_k());
            if !(rise_k <= max_k) {
                self.violated(Invariant::CommandInBounds, at_s, || {
                    format!(
                        "the setpoint rose by {rise_k:.2} K in a tick, {max_k:.2} K allowed"
                    )
                });
            }
        }
    }

    /// Every trip so far was told by an event.
    pub(super) fn check_trips_told(&mut self, at_s: f64) {
        let (latched, told) = (self.previous.latched, self.trips_told);
        if latched > told {
            self.violated(Invariant::TripsTold, at_s, || {
                format!("{latched} trips were latched, {told} were told")
            });
        }
    }
}
