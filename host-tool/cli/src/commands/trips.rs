//! `trips`: every trip, what to do about it, and how to try it out on a real furnace before ware is
//! fired in it.

use std::path::Path;

use saggar_core::Cause;
use saggar_core::furnace::Furnace;
use saggar_files::FilesError;
use saggar_schedule::profile::Profile;
use serde::Serialize;

/// One trip on one furnace, or on any.
#[derive(Debug, Serialize)]
pub struct TripEntry {
    /// Its name.
    pub trip: &'static str,
    /// What to do after it.
    pub advice: &'static str,
    /// How to provoke it while commissioning.
    pub trial: &'static str,
    /// Why this furnace cannot see it; none if it can, or if no profile was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unseen: Option<&'static str>,
}

/// The trips of a furnace.
#[derive(Debug, Serialize)]
pub struct TripList {
    /// Name of the furnace, if a profile was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub furnace: Option<String>,
    /// Every trip, in the order of the safety page.
    pub trips: Vec<TripEntry>,
}

/// Every trip; with a profile, what its furnace cannot see.
///
/// # Errors
/// The profile has errors.
pub fn trips(profile: Option<&Path>) -> Result<TripList, FilesError> {
    let profile = profile.map(Profile::load).transpose().map_err(FilesError::Invalid)?;
    let furnace = profile.as_ref().map(|profile| &profile.furnace);
    let entry = |cause: Cause| TripEntry {
        trip: cause.name(),
        advice: cause.advice(),
        trial: trial(cause),
        unseen: furnace.and_then(|furnace| unseen(cause, furnace)),
    };
    let trips = Cause::ALL.map(entry).into();
    Ok(TripList { furnace: profile.map(|profile| profile.name), trips })
}

/// Why a furnace cannot see a cause.
fn unseen(cause: Cause, furnace: &Furnace) -> Option<&'static str> {
    let heater = &furnace.heater;
    let (missing, why) = match cause {
        Cause::NoHeaterCurrent | Cause::HeaterCurrentWrong => (
            heater.full_current_ma.is_none(),
            "its profile says that there is no current sensor",
        ),
        Cause::ContactorNotFollowing => (
            !heater.auxiliary_contact,
            "its profile says that the contactor has no auxiliary contact",
        ),
        Cause::ClockWrong => {
            (!heater.counts_crossings, "its profile says that no mains crossings are counted")
        }
        Cause::VacuumLate
        | Cause::IsolationStuck
        | Cause::VacuumLost
        | Cause::GaugeImplausible => (furnace.vacuum.is_none(), "it has no pump"),
        Cause::SensorOpen
        | Cause::SensorImplausible
        | Cause::AboveProgrammeLimit
        | Cause::AboveFurnaceLimit
        | Cause::ChannelsDisagree
        | Cause::HeaterWithoutEffect
        | Cause::HeaterStuckOn
        | Cause::ClosureOpen
        | Cause::TickOverrun
        | Cause::ProgrammeChanged
        | Cause::AboveSetpoint
        | Cause::FurnaceDataChanged
        | Cause::SensorFrozen
        | Cause::SensorLagging
        | Cause::TerminalsDisagree
        | Cause::ClosureStuck => return None,
    };
    missing.then_some(why)
}

/// How to provoke a trip on a real furnace, with a lamp of some 40 W in the heater's place unless the
/// text says otherwise.
const fn trial(cause: Cause) -> &'static str {
    match cause {
        Cause::SensorOpen => "In a firing, unplug each thermocouple: dark in the same tick.",
        Cause::SensorImplausible => {
            "Swap the wires of each thermocouple and warm it by hand: the reading falls. In a firing, warmed with \
             a hot-air gun to some 200 °C, it trips."
        }
        Cause::AboveProgrammeLimit => {
            "In a soak at 60 °C, warm both thermocouples with a hot-air gun beyond the overshoot."
        }
        Cause::AboveFurnaceLimit => {
            "Store settings with `furnace_max_celsius` at its minimum, and warm a thermocouple with a \
             hot-air gun beyond it, without a firing. Store the right settings again."
        }
        Cause::ChannelsDisagree => "In a firing, warm one thermocouple with a hot-air gun.",
        Cause::HeaterWithoutEffect => {
            "Only on a furnace without a current sensor: take the lamp out during a ramp at full power."
        }
        Cause::HeaterStuckOn => "Bridge the output stage while no heat is wanted.",
        Cause::ClosureOpen => "In a firing, open the contact that proves the chamber shut.",
        Cause::VacuumLate => "Fire a vacuum stage with the hose to the pump taken off.",
        Cause::TickOverrun => {
            "Halt the processor with the probe during a firing, then let it go on."
        }
        Cause::ProgrammeChanged | Cause::FurnaceDataChanged => {
            "Cannot be provoked from outside: the tests of this version are the proof."
        }
        Cause::AboveSetpoint => {
            "In a ramp, warm both thermocouples quickly with a hot-air gun while the lamp is lit."
        }
        Cause::SensorFrozen => {
            "Cannot be provoked without a second front end: the tests of this version are the proof."
        }
        Cause::SensorLagging => {
            "Put the control thermocouple into a thick sheath in the warm chamber, heater off."
        }
        Cause::TerminalsDisagree => {
            "Warm one terminal block by more than 10 K with a hot-air gun."
        }
        Cause::ContactorNotFollowing => {
            "Hold the contactor shut by hand without a firing; in a firing, open its auxiliary contact."
        }
        Cause::NoHeaterCurrent => {
            "Take the lamp out during a firing; start a firing without it."
        }
        Cause::HeaterCurrentWrong => {
            "Put a lamp of a third of the power in its place, or two lamps, and start a firing."
        }
        Cause::ClockWrong => "Take the wire of the mains detector off during a firing.",
        Cause::ClosureStuck => "Hold the lift's contact open while it moves.",
        Cause::IsolationStuck => "Hold the isolation valve open by hand while the pump starts.",
        Cause::VacuumLost => "Switch the pump off at its plug while it draws.",
        Cause::GaugeImplausible => "Unplug the gauge in a vacuum stage, and before a start.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_furnace_lacks_is_named_and_nothing_else() {
        let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/furnaces");
        let list = trips(Some(&docs.join("lift-vacuum.toml"))).expect("a profile");
        assert!(list.trips.iter().all(|entry| entry.unseen.is_none()), "{list:?}");
        let list = trips(Some(&docs.join("teaching-door.toml"))).expect("a profile");
        let unseen: Vec<_> = list.trips.iter().filter(|entry| entry.unseen.is_some()).collect();
        assert_eq!(unseen.len(), 4, "no pump: {unseen:?}");
        assert!(trips(None).expect("no file").trips.iter().all(|entry| entry.unseen.is_none()));
    }
}
