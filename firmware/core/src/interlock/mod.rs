//! Station 3: the only maker of a [`HeatPermit`], and the latch of the first cause.
//!
//! A permit is granted on proof. Every condition is written so that a missing reading or a NaN
//! fails it. What the sequencer wanted on the last tick arrives as data ([`Asked`]); the
//! interlock knows neither programme nor control loop.

mod cause;
mod facts;
mod heater;
mod watch;

use serde::Serialize;

use crate::estimate::{ChannelEstimate, Estimate};
use crate::furnace::Furnace;
use crate::sensors::SensorFault;

pub use cause::Cause;
pub use facts::{InterlockInputs, LastDemand};
use heater::HeaterWatch;
use watch::{ConsecutiveCount, LeakyBucket};

/// Leave to heat in this one tick. Only the interlock can make one, `actuators` uses it up, and
/// nothing may store it.
#[derive(Debug)]
pub struct HeatPermit(());

/// Why there is no permit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PermitError {
    /// Nothing is wrong, but nothing needs heat, or proof is missing in this tick.
    Withheld,
    /// Tripped: latched until the operator accepts it at the device.
    Tripped(Cause),
}

/// Ticks for which the channels may disagree: 10 s.
const DISAGREE_TICKS: u16 = 100;

/// Memory of the interlock.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct Interlock {
    tripped: Option<Cause>,
    /// Highest setpoint of the programme that tripped (°C): another may be loaded since.
    highest_c: f32,
    /// What this tick's look found, tripped or not. No tick looks at another's.
    #[serde(skip)]
    found: Option<Cause>,
    control_bad: LeakyBucket,
    limit_bad: LeakyBucket,
    disagree: ConsecutiveCount,
    open: LeakyBucket,
    heater: HeaterWatch,
}

impl Interlock {
    /// Judges one tick: leave to heat, or why not.
    ///
    /// # Errors
    /// [`Refusal`], latched if it is a trip.
    pub fn evaluate(
        &mut self,
        furnace: &Furnace,
        facts: &InterlockInputs<'_>,
    ) -> Result<HeatPermit, PermitError> {
        self.found = self.look(furnace, facts);
        if self.tripped.is_none() {
            self.tripped = self.found;
            self.highest_c = facts.demand.setpoint_max_c;
        }
        match self.tripped {
            Some(cause) => Err(PermitError::Tripped(cause)),
            None if proves_safe(furnace, facts) => Ok(HeatPermit(())),
            None => Err(PermitError::Withheld),
        }
    }

    /// The latched cause.
    pub const fn trip(&self) -> Option<Cause> {
        self.tripped
    }

    /// Latches a cause again that was latched when the power failed, unless one is latched now.
    /// `highest_c` is how hot the furnace may have been asked to be (°C); see [`Self::accept`].
    pub fn restore_trip(&mut self, cause: Cause, highest_c: f32) {
        if self.tripped.is_none() {
            self.tripped = Some(cause);
            self.highest_c = highest_c;
        }
    }

    /// The operator at the device accepts the trip: after [`Self::judge`] in the same tick, and
    /// only if neither that nor a closer look finds the cause still there.
    pub fn accept_trip(&mut self, furnace: &Furnace, facts: &InterlockInputs<'_>) -> bool {
        let asked = LastDemand { setpoint_max_c: self.highest_c, ..facts.demand };
        let then = InterlockInputs { demand: asked, ..*facts };
        match self.tripped {
            Some(cause) if self.found.is_none() && !persists(cause, furnace, &then) => {
                // The heater is watched on: what it has to know of the past is no finding.
                let heater = core::mem::take(&mut self.heater);
                *self = Self { heater, ..Self::default() };
                true
            }
            Some(_) | None => false,
        }
    }

    /// Looks at everything in every tick, whatever comes of it, so that no counter stands still
    /// behind another's finding. The first in the list is the cause.
    fn look(&mut self, furnace: &Furnace, facts: &InterlockInputs<'_>) -> Option<Cause> {
        let asked = facts.demand;
        let Estimate { control, limit } = facts.estimate;
        let control_bad = self.control_bad.take(control.is_err());
        let limit_bad = self.limit_bad.take(limit.is_err());
        let agrees = facts.estimate.agrees(furnace.limits.disagree_max_k);
        if control.is_ok() && limit.is_ok() {
            // A channel that misses a tick neither proves nor clears a disagreement.
            self.disagree.take(!agrees);
        }
        let apart = self.disagree.held(DISAGREE_TICKS);
        let open = self.open.take(asked.heat && !facts.shut);
        let heater = self.heater.look(furnace, facts);
        let max = furnace.limits.furnace_max.get();
        if over(control, max) || over(limit, max) {
            return Some(Cause::OverFurnace);
        }
        if !asked.firing {
            // What only a firing needs is judged only in one: a furnace at rest may stand open
            // with its sensors unplugged.
            return heater;
        }
        if !facts.programme_intact {
            Some(Cause::ProgrammeChanged)
        } else if !facts.on_time {
            Some(Cause::TickOverrun)
        } else if control_bad || limit_bad {
            Some(sensor_cause(if control_bad { control } else { limit }))
        } else if asked.heat && over_programme(furnace, facts) {
            Some(Cause::OverProgramme)
        } else if open {
            Some(Cause::ClosureOpen)
        } else if apart {
            Some(Cause::ChannelsDisagree)
        } else if asked.vacuum_overdue {
            Some(Cause::VacuumLate)
        } else {
            heater
        }
    }
}

/// The hazard of a trip is still there, though no firing runs in which it would trip again.
fn persists(cause: Cause, furnace: &Furnace, facts: &InterlockInputs<'_>) -> bool {
    let Estimate { control, limit } = facts.estimate;
    // A channel that says nothing does not say that it is over.
    let unread = control.is_err() || limit.is_err();
    match cause {
        // A shorted sensor reads again, as a cold furnace: the other channel knows better.
        Cause::SensorOpen | Cause::SensorImplausible | Cause::ChannelsDisagree => {
            !facts.estimate.agrees(furnace.limits.disagree_max_k)
        }
        Cause::OverProgramme => unread || over_programme(furnace, facts),
        Cause::OverFurnace => {
            let max = furnace.limits.furnace_max.get();
            unread || over(control, max) || over(limit, max)
        }
        Cause::HeaterStuckOn => facts.heater_conducting == Some(true),
        Cause::ClosureOpen => !facts.shut,
        Cause::TickOverrun => !facts.on_time,
        Cause::ProgrammeChanged => !facts.programme_intact,
        // Only the next firing can show whether these have gone.
        Cause::HeaterWithoutEffect | Cause::VacuumLate => false,
    }
}

/// Why a channel whose bucket is full is not believed.
const fn sensor_cause(channel: &Result<ChannelEstimate, SensorFault>) -> Cause {
    match channel {
        Err(SensorFault::Open | SensorFault::Missing) => Cause::SensorOpen,
        Err(SensorFault::Implausible) | Ok(_) => Cause::SensorImplausible,
    }
}

/// A believed channel that is not proven below the limit. A channel without belief is the
/// sensor causes' business, and never proves anything.
fn over(channel: &Result<ChannelEstimate, SensorFault>, limit_c: f32) -> bool {
    matches!(channel, Ok(belief) if !(belief.worst_case.get() < limit_c))
}

/// How hot the two channels may be in this programme (°C). The limit channel sits nearer to the
/// element, so that it may be hotter by as much as the channels may differ.
fn ceilings_c(furnace: &Furnace, facts: &InterlockInputs<'_>) -> (f32, f32) {
    let limits = &furnace.limits;
    let ceiling = facts.demand.setpoint_max_c + limits.overshoot_max_k;
    (ceiling, ceiling + limits.disagree_max_k)
}

fn over_programme(furnace: &Furnace, facts: &InterlockInputs<'_>) -> bool {
    let (control_c, limit_c) = ceilings_c(furnace, facts);
    over(&facts.estimate.control, control_c)
        || matches!(&facts.estimate.limit, Ok(limit) if !below(limit, limit_c))
}

/// A limit channel below its ceiling. At its floor it says "no hotter than", which nobody can
/// compare with a ceiling below that: the control channel has to. A ceiling that is no number has
/// nothing below it.
fn below(limit: &ChannelEstimate, limit_c: f32) -> bool {
    (limit.is_upper_bound && limit_c.is_finite()) || limit.worst_case.get() < limit_c
}

/// All that must be proven in this very tick before heat is allowed.
fn proves_safe(furnace: &Furnace, facts: &InterlockInputs<'_>) -> bool {
    let limits = &furnace.limits;
    let (Ok(control), Ok(limit)) = (&facts.estimate.control, &facts.estimate.limit) else {
        return false;
    };
    let (control_c, limit_c) = ceilings_c(furnace, facts);
    facts.demand.firing
        && facts.demand.heat
        && facts.shut
        && facts.on_time
        && facts.programme_intact
        && !control.is_upper_bound
        && control.worst_case.get() < limits.furnace_max.get()
        && limit.worst_case.get() < limits.furnace_max.get()
        && control.worst_case.get() < control_c
        && below(limit, limit_c)
        && facts.estimate.agrees(limits.disagree_max_k)
}
