//! The effects on the readings between plant and core.

use saggar_core::io::{Inputs, ThermocoupleSample};

use super::effect::{
    ContactFault, CurrentFault, FaultEffect, GaugeFault, SensorChannel, SignalFault,
    SwitchContact,
};

/// The time of a reading, for a fault that has struck.
#[derive(Clone, Copy, Debug)]
pub(super) struct ReadingMoment {
    /// Time after the start button (s).
    pub(super) now_s: f64,
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
            let reading = match channel {
                SensorChannel::Control => &mut inputs.control,
                SensorChannel::Limit => &mut inputs.limit,
            };
            if let (Some(sample), Some(first)) = (reading.as_mut(), of(&moment.at_strike)) {
                corrupt_sample(fault, moment, first, sample);
            }
            if fault == SignalFault::Silent {
                *reading = None;
            }
        }
        FaultEffect::Contact(contact, fault) => {
            let of = |inputs: &Inputs| match contact {
                SwitchContact::Shut => inputs.closure.shut,
                SwitchContact::Open => inputs.closure.open,
                SwitchContact::Auxiliary => inputs.contactor_closed,
            };
            let says = match fault {
                ContactFault::Says(says) => says,
                ContactFault::Stuck => of(&moment.at_strike),
            };
            match contact {
                SwitchContact::Shut => inputs.closure.shut = says,
                SwitchContact::Open => inputs.closure.open = says,
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
        FaultEffect::Current(CurrentFault::Silent) => inputs.heater_current_ma = None,
        FaultEffect::Current(CurrentFault::Share(share)) => {
            inputs.heater_current_ma =
                inputs.heater_current_ma.map(|ma| (f64::from(ma) * share) as u32);
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
        | FaultEffect::MainsShare(_)
        | FaultEffect::MainsCut
        | FaultEffect::ClosureJammed
        | FaultEffect::TickLength(_)
        | FaultEffect::ClockStopped
        | FaultEffect::ClockJump(_)
        | FaultEffect::LateTick(_)
        | FaultEffect::Memory(_)
        | FaultEffect::Flash(_)
        | FaultEffect::LinkLost => {}
    }
}

fn corrupt_sample(
    fault: SignalFault,
    moment: &ReadingMoment,
    first: ThermocoupleSample,
    sample: &mut ThermocoupleSample,
) {
    match fault {
        SignalFault::Open => sample.open = true,
        // The caller takes the sample away.
        SignalFault::Silent => {}
        SignalFault::Noise(nanovolt) => {
            let added = (nanovolt * hashed_noise(moment.now_s)) as i32;
            sample.emf_nv = sample.emf_nv.saturating_add(added);
        }
        SignalFault::Short => sample.emf_nv = 0,
        SignalFault::Reversed => sample.emf_nv = sample.emf_nv.saturating_neg(),
        SignalFault::Frozen => sample.emf_nv = first.emf_nv,
        SignalFault::Gain(share) => sample.emf_nv = (f64::from(sample.emf_nv) * share) as i32,
        SignalFault::Drift(nv_per_s) => {
            let lost = (moment.since_s * nv_per_s) as i32;
            sample.emf_nv = sample.emf_nv.saturating_sub(lost);
        }
        SignalFault::TerminalsOff(millikelvin) => {
            sample.cold_junction_mc = sample.cold_junction_mc.saturating_add(millikelvin);
        }
    }
}

/// Noise with a standard deviation of 1 that depends only on the time, so that a fault draws nothing from
/// the noise of the instruments: the sum of four uniform numbers (Irwin and Hall), from the bits of a
/// hash (the finaliser of SplitMix64, Steele and others 2014, constants from memory).
fn hashed_noise(now_s: f64) -> f64 {
    let mut bits = ((now_s * 10.0).round() as i64 as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    bits ^= bits >> 31;
    let parts = [0, 16, 32, 48].map(|shift| f64::from((bits >> shift) as u16) / 65_535.0);
    (parts.iter().sum::<f64>() - 2.0) * 3.0f64.sqrt()
}
