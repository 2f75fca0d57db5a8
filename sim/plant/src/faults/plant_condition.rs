//! The state of the plant's parts, summed over the faults that are there.

use super::effect::{FaultEffect, SensorChannel, TipFault};
use crate::instruments::TipCondition;
use crate::mains::CircuitCondition;

/// The state of the plant's parts. The default is a healthy plant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlantCondition {
    /// The heater's circuit.
    pub circuit: CircuitCondition,
    /// The tip of the control thermocouple.
    pub control_tip: TipCondition,
    /// The tip of the limit thermocouple.
    pub limit_tip: TipCondition,
    /// The lift or door does not move.
    pub closure_jammed: bool,
    /// How far the chamber is held open by hand, 0 to 1.
    pub held_open: f64,
    /// The valve between pump and chamber is stuck in this position (`true`: open).
    pub isolation_stuck: Option<bool>,
    /// The vent is stuck in this position (`true`: open).
    pub vent_stuck: Option<bool>,
    /// Speed of the pump, as a share.
    pub pump_share: f64,
    /// Leak of a failed seal (Pa m³/s).
    pub seal_leak_pa_m3_s: f64,
    /// True length of a tick as a multiple of its nominal one; `None` if the core's clock is right.
    pub tick_length: Option<f64>,
    /// The core's clock stands still.
    pub clock_stopped: bool,
}

impl Default for PlantCondition {
    fn default() -> Self {
        Self {
            circuit: CircuitCondition::default(),
            control_tip: TipCondition::default(),
            limit_tip: TipCondition::default(),
            closure_jammed: false,
            held_open: 0.0,
            isolation_stuck: None,
            vent_stuck: None,
            pump_share: 1.0,
            seal_leak_pa_m3_s: 0.0,
            tick_length: None,
            clock_stopped: false,
        }
    }
}

impl PlantCondition {
    /// Adds the effect of one fault.
    pub fn add(&mut self, effect: FaultEffect) {
        match effect {
            FaultEffect::Tip(SensorChannel::Control, tip) => {
                add_tip(&mut self.control_tip, tip)
            }
            FaultEffect::Tip(SensorChannel::Limit, tip) => add_tip(&mut self.limit_tip, tip),
            FaultEffect::Contactor(condition) => self.circuit.contactor = condition,
            FaultEffect::OutputStage { on_share, off_share } => {
                self.circuit.on_share = on_share;
                self.circuit.off_share = off_share;
            }
            FaultEffect::ElementShare(share) => self.circuit.element_share *= share,
            FaultEffect::MainsShare(share) => self.circuit.mains_share *= share,
            FaultEffect::ClosureJammed => self.closure_jammed = true,
            FaultEffect::ClockStopped => self.clock_stopped = true,
            FaultEffect::OpenedByHand(opening) => self.held_open = opening,
            FaultEffect::IsolationStuck { open } => self.isolation_stuck = Some(open),
            FaultEffect::VentStuck { open } => self.vent_stuck = Some(open),
            FaultEffect::PumpShare(share) => self.pump_share *= share,
            FaultEffect::SealLeak(leak_pa_m3_s) => self.seal_leak_pa_m3_s += leak_pa_m3_s,
            FaultEffect::TickLength(length) => self.tick_length = Some(length),
            FaultEffect::Signal(..)
            | FaultEffect::Contact(..)
            | FaultEffect::Gauge(_)
            | FaultEffect::Current(_)
            | FaultEffect::MainsCut
            | FaultEffect::ClockJump(_)
            | FaultEffect::LateTick(_)
            | FaultEffect::Memory(_)
            | FaultEffect::Flash(_)
            | FaultEffect::LinkLost => {}
        }
    }
}

fn add_tip(tip: &mut TipCondition, fault: TipFault) {
    match fault {
        TipFault::Colder(kelvin) => tip.colder_k += kelvin,
        TipFault::Slower(factor) => tip.lag_factor = Some(factor),
        TipFault::Detached { share, lag_factor } => {
            tip.share *= share;
            tip.lag_factor = Some(lag_factor);
        }
    }
}
