//! The effects on the readings between plant and core.

use saggar_core::io::{Inputs, ThermocoupleSample};

use super::effect::{
    ContactFault, FaultEffect, GaugeFault, SensorChannel, SignalFault, SwitchContact,
};

/// The time of a reading, for a fault that has struck.
#[derive(Clone, Copy, Debug)]
pub(super) struct ReadingMoment {
    /// Time since the fault struck (s).
    pub(super) since_s: f64,
    /// The inputs when it struck.
    pub(super) at_strike: Inputs,
}

/// Applies one effect to the inputs of the core.
pub(super) fn corrupt(effect: FaultEffect, moment: &ReadingMoment, inputs: &mut Inputs) {
    match effect {
        FaultEffect::Signal(channel, fault) => {
            let of = |inputs: &Inputs| match channel {
                SensorChannel::Control => inputs.control,
                SensorChannel::Limit => inputs.limit,
            };
            let sample = match channel {
                SensorChannel::Control => &mut inputs.control,
                SensorChannel::Limit => &mut inputs.limit,
            };
            if let (Some(sample), Some(first)) = (sample, of(&moment.at_strike)) {
                corrupt_sample(fault, moment.since_s, first, sample);
            }
        }
        FaultEffect::Contact(contact, fault) => {
            let of = |inputs: &Inputs| match contact {
                SwitchContact::Shut => inputs.closure.shut,
                SwitchContact::Auxiliary => inputs.contactor_closed,
            };
            let says = match fault {
                ContactFault::Says(says) => says,
                ContactFault::Stuck => of(&moment.at_strike),
            };
            match contact {
                SwitchContact::Shut => inputs.closure.shut = says,
                SwitchContact::Auxiliary => inputs.contactor_closed = says,
            }
        }
        FaultEffect::Gauge(fault) => {
            inputs.pressure_pa = match fault {
                GaugeFault::Dead => None,
                GaugeFault::Frozen => moment.at_strike.pressure_pa,
                GaugeFault::Share(share) => {
                    inputs.pressure_pa.map(|pa| (f64::from(pa) * share) as u32)
                }
            };
        }
        FaultEffect::CurrentReadsZero => {
            inputs.heater_current_ma = inputs.heater_current_ma.map(|_| 0);
        }
        FaultEffect::Tip(..)
        | FaultEffect::Contactor(_)
        | FaultEffect::OutputStage { .. }
        | FaultEffect::ElementShare(_)
        | FaultEffect::OpenedByHand(_)
        | FaultEffect::IsolationStuck { .. }
        | FaultEffect::VentStuck { .. }
        | FaultEffect::PumpShare(_)
        | FaultEffect::SealLeak(_)
        | FaultEffect::TickLength(_)
        | FaultEffect::LateTick(_) => {}
    }
}

fn corrupt_sample(
    fault: SignalFault,
    since_s: f64,
    first: ThermocoupleSample,
    sample: &mut ThermocoupleSample,
) {
    match fault {
        SignalFault::Open => sample.open = true,
        SignalFault::Short => sample.emf_nv = 0,
        SignalFault::Reversed => sample.emf_nv = sample.emf_nv.saturating_neg(),
        SignalFault::Frozen => sample.emf_nv = first.emf_nv,
        SignalFault::Gain(share) => sample.emf_nv = (f64::from(sample.emf_nv) * share) as i32,
        SignalFault::Drift(nv_per_s) => {
            let lost = (since_s * nv_per_s) as i32;
            sample.emf_nv = sample.emf_nv.saturating_sub(lost);
        }
        SignalFault::TerminalsOff(millikelvin) => {
            sample.cold_junction_mc = sample.cold_junction_mc.saturating_add(millikelvin);
        }
    }
}
