//! Grants the [`HeatPermit`] and latches the first trip cause.
//!
//! A permit is granted on proof: every condition is written so that a missing reading or a NaN
//! fails it. The interlock knows neither the programme nor the control loop; what the sequencer
//! demanded in the last tick arrives as data ([`InterlockInputs`]).

mod asked;
mod cause;
mod channels;
mod clock;
mod contactor;
mod counters;
mod current;
mod element;
mod frozen;
mod heater;
mod inputs;
mod no_rise;
mod second;
mod setpoint;
#[cfg(test)]
mod tests;
mod vacuum;
mod view;

use serde::Serialize;

use crate::estimate::{Channel, ChannelEstimate, Estimate};
use crate::furnace::Furnace;
use crate::sensors::SensorFault;

pub use cause::Cause;
use channels::ChannelWatch;
pub(crate) use channels::terminals_agree;
use clock::ClockWatch;
use contactor::ContactorWatch;
use counters::LeakyBucket;
use current::CurrentWatch;
use heater::HeaterMonitor;
pub use inputs::InterlockInputs;
use second::Second;
use setpoint::SetpointWatch;
use vacuum::VacuumWatch;

/// Permission to heat in this one tick. Only the interlock can create it, `actuators` consumes it,
/// and nothing may store it.
#[derive(Debug)]
pub struct HeatPermit(());

/// Why no permit was granted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PermitError {
    /// Not tripped, but no heat is demanded, or a condition for heat is not proven in this tick.
    Withheld,
    /// Tripped; latched until the operator accepts the trip at the device.
    Tripped(Cause),
}

/// State of the interlock.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct Interlock {
    tripped: Option<Cause>,
    /// Maximum setpoint of the programme that tripped (°C). Another one may have been loaded since.
    setpoint_max_c: f32,
    /// The cause present in this tick, whether or not a trip is latched. Set anew in every tick.
    #[serde(skip)]
    present: Option<Cause>,
    /// The channel that is to blame for it, if it is a fault of one channel.
    #[serde(skip)]
    failed: Option<Channel>,
    control_bad: LeakyBucket,
    limit_bad: LeakyBucket,
    open: LeakyBucket,
    second: Second,
    heater: HeaterMonitor,
    channels: ChannelWatch,
    clock: ClockWatch,
    contactor: ContactorWatch,
    current: CurrentWatch,
    setpoint: SetpointWatch,
    vacuum: VacuumWatch,
}

impl Interlock {
    /// Evaluates one tick: grants a permit if heat is demanded and proven safe.
    ///
    /// # Errors
    /// [`PermitError`]; a trip stays latched.
    pub fn evaluate(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
    ) -> Result<HeatPermit, PermitError> {
        self.present = self.detect(furnace, inputs);
        if self.tripped.is_none() {
            self.tripped = self.present;
            self.setpoint_max_c = inputs.setpoint_max_c;
        }
        match self.tripped {
            Some(cause) => Err(PermitError::Tripped(cause)),
            None if proves_safe(furnace, inputs) => Ok(HeatPermit(())),
            None => Err(PermitError::Withheld),
        }
    }

    /// The latched cause.
    pub const fn trip(&self) -> Option<Cause> {
        self.tripped
    }

    /// The heater has carried less current than expected for a while in this firing, but enough to go
    /// on.
    pub const fn heater_is_weak(&self) -> bool {
        self.current.is_weak()
    }

    /// The channel that is to blame for a trip of this tick: an open, an implausible or a frozen one.
    pub(crate) fn failed_channel(&self) -> Option<Channel> {
        let of_one_channel = matches!(
            self.present,
            Some(Cause::SensorOpen | Cause::SensorImplausible | Cause::SensorFrozen)
        );
        self.failed.filter(|_| of_one_channel)
    }

    /// Latches a cause again that was latched when the power failed. Does nothing if one is latched
    /// already. `setpoint_max_c` is the maximum setpoint that may have been in force (°C), against
    /// which [`Self::accept_trip`] checks.
    pub fn restore_trip(&mut self, cause: Cause, setpoint_max_c: f32) {
        if self.tripped.is_none() {
            self.tripped = Some(cause);
            self.setpoint_max_c = setpoint_max_c;
        }
    }

    /// Accepts the trip because the operator pressed confirm. Call it after [`Self::evaluate`] in
    /// the same tick. Returns false and keeps the trip if a cause is present in this tick, or if
    /// the hazard of the latched one persists.
    pub fn accept_trip(&mut self, furnace: &Furnace, inputs: &InterlockInputs<'_>) -> bool {
        let at_trip = InterlockInputs { setpoint_max_c: self.setpoint_max_c, ..*inputs };
        match self.tripped {
            Some(cause)
                if self.present.is_none()
                    && !persists(cause, furnace, &at_trip, &self.channels) =>
            {
                // The heater monitor keeps its history, such as how long ago the chamber was open,
                // and the second in which it checks.
                let heater = core::mem::take(&mut self.heater);
                let second = core::mem::take(&mut self.second);
                *self = Self { heater, second, ..Self::default() };
                true
            }
            Some(_) | None => false,
        }
    }

    /// Updates every counter in every tick, so that none stands still while another cause is
    /// present, and returns the first cause in the order below.
    fn detect(&mut self, furnace: &Furnace, inputs: &InterlockInputs<'_>) -> Option<Cause> {
        let demand = inputs.demand;
        let Estimate { control, limit } = inputs.estimate;
        let control_bad = self.control_bad.update(control.is_err());
        let limit_bad = self.limit_bad.update(limit.is_err());
        let open_heats = inputs.heats() && !inputs.shut;
        let open = self.open.update(open_heats || inputs.shut_too_early);
        self.second.update(inputs.commanded_duty);
        let second = &self.second;
        let heater = self.heater.update(furnace, inputs, second);
        let channels = self.channels.update(furnace, inputs, second);
        let clock = self.clock.update(furnace, inputs);
        let contactor = self.contactor.update(furnace, inputs);
        let current = self.current.update(furnace, inputs, second);
        let setpoint = self.setpoint.update(furnace, inputs, second);
        let vacuum = self.vacuum.update(furnace, inputs, second);
        self.failed = match (control_bad, limit_bad) {
            (true, _) => Some(Channel::Control),
            (false, true) => Some(Channel::Limit),
            (false, false) => self.channels.frozen(),
        };
        let max = furnace.limits.furnace_max.get();
        if reaches(control, max) || reaches(limit, max) {
            return Some(Cause::AboveFurnaceLimit);
        }
        if !inputs.furnace_intact {
            // Also at rest, where the vent opens by these data.
            return Some(Cause::FurnaceDataChanged);
        }
        if !demand.firing {
            // The other causes need a firing: an idle furnace may stand open with its sensors
            // unplugged.
            return contactor.or(current).or(vacuum).or(heater);
        }
        if !inputs.programme_intact {
            Some(Cause::ProgrammeChanged)
        } else if !inputs.on_time {
            Some(Cause::TickOverrun)
        } else if control_bad || limit_bad {
            Some(sensor_cause(if control_bad { control } else { limit }))
        } else if inputs.heats() && over_programme(furnace, inputs) {
            Some(Cause::AboveProgrammeLimit)
        } else if open {
            let stuck = inputs.shut_too_early;
            Some(if stuck { Cause::ClosureStuck } else { Cause::ClosureOpen })
        } else if channels.is_some() {
            channels
        } else if demand.closure_overdue {
            Some(Cause::ClosureStuck)
        } else if demand.vacuum_overdue {
            Some(Cause::VacuumLate)
        } else {
            contactor.or(current).or(setpoint).or(vacuum).or(clock).or(heater)
        }
    }
}

/// True if the hazard of a trip is still there, although an idle furnace would not trip on it.
fn persists(
    cause: Cause,
    furnace: &Furnace,
    inputs: &InterlockInputs<'_>,
    channels: &ChannelWatch,
) -> bool {
    let Estimate { control, limit } = inputs.estimate;
    // Without a reading there is no proof that a channel has cooled down.
    let unread = control.is_err() || limit.is_err();
    match cause {
        // A shorted sensor is valid again and reads like a cold furnace; only the other channel
        // contradicts it.
        Cause::SensorOpen | Cause::SensorImplausible | Cause::ChannelsDisagree => {
            !inputs.estimate.agrees(furnace.limits.disagree_max_k)
        }
        Cause::AboveProgrammeLimit => unread || over_programme(furnace, inputs),
        Cause::AboveFurnaceLimit => {
            let max = furnace.limits.furnace_max.get();
            unread || reaches(control, max) || reaches(limit, max)
        }
        Cause::HeaterStuckOn => current::conducts(furnace, inputs),
        Cause::ContactorNotFollowing => contactor::contradicts(furnace, inputs),
        Cause::ClosureOpen => !inputs.shut,
        // Between its ends, or both contacts closed.
        Cause::ClosureStuck => inputs.raw.closure.shut == inputs.raw.closure.open,
        Cause::GaugeImplausible => furnace.vacuum.is_some() && inputs.raw.pressure_pa.is_none(),
        Cause::TickOverrun => !inputs.on_time,
        Cause::ProgrammeChanged => !inputs.programme_intact,
        Cause::FurnaceDataChanged => !inputs.furnace_intact,
        // A front end that works moves by a step within seconds, also at rest.
        Cause::SensorFrozen => unread || channels.stands_still(),
        Cause::TerminalsDisagree => unread || !terminals_agree(inputs.raw),
        // Only the next firing can show whether these are gone.
        Cause::HeaterWithoutEffect
        | Cause::VacuumLate
        | Cause::AboveSetpoint
        | Cause::SensorLagging
        | Cause::NoHeaterCurrent
        | Cause::HeaterCurrentWrong
        | Cause::ClockWrong
        | Cause::IsolationStuck
        | Cause::VacuumLost => false,
    }
}

/// The cause for a channel whose bucket is full.
const fn sensor_cause(channel: &Result<ChannelEstimate, SensorFault>) -> Cause {
    match channel {
        Err(SensorFault::Open | SensorFault::Missing) => Cause::SensorOpen,
        Err(SensorFault::Implausible) | Ok(_) => Cause::SensorImplausible,
    }
}

/// True if a valid channel is not proven below the limit. An invalid channel has its own causes.
fn reaches(channel: &Result<ChannelEstimate, SensorFault>, limit_c: f32) -> bool {
    matches!(channel, Ok(estimate) if !(estimate.worst_case.get() < limit_c))
}

/// Ceilings of the control and the limit channel in this programme (°C). The limit channel sits
/// nearer to the heating element, so its ceiling is higher by the allowed difference.
fn ceilings_c(furnace: &Furnace, inputs: &InterlockInputs<'_>) -> (f32, f32) {
    let limits = &furnace.limits;
    let ceiling = inputs.setpoint_max_c + limits.overshoot_max_k;
    (ceiling, ceiling + limits.disagree_max_k)
}

fn over_programme(furnace: &Furnace, inputs: &InterlockInputs<'_>) -> bool {
    let (control_c, limit_c) = ceilings_c(furnace, inputs);
    reaches(&inputs.estimate.control, control_c)
        || matches!(&inputs.estimate.limit, Ok(limit) if !limit_channel_below(limit, limit_c))
}

/// True if the limit channel is proven below its ceiling. Below its range it only gives an upper
/// bound, which says nothing about a lower ceiling: there the control channel must protect alone.
/// A ceiling that is not finite proves nothing.
fn limit_channel_below(limit: &ChannelEstimate, ceiling_c: f32) -> bool {
    (limit.is_upper_bound && ceiling_c.is_finite()) || limit.worst_case.get() < ceiling_c
}

/// Everything that must be proven in this very tick before heat is allowed.
fn proves_safe(furnace: &Furnace, inputs: &InterlockInputs<'_>) -> bool {
    let limits = &furnace.limits;
    let (Ok(control), Ok(limit)) = (&inputs.estimate.control, &inputs.estimate.limit) else {
        return false;
    };
    let (control_c, limit_c) = ceilings_c(furnace, inputs);
    inputs.demand.firing
        && inputs.heats()
        && inputs.shut
        && inputs.on_time
        && inputs.programme_intact
        && inputs.furnace_intact
        && !control.is_upper_bound
        && control.worst_case.get() < limits.furnace_max.get()
        && limit.worst_case.get() < limits.furnace_max.get()
        && control.worst_case.get() < control_c
        && limit_channel_below(limit, limit_c)
        && inputs.estimate.agrees(limits.disagree_max_k)
}
