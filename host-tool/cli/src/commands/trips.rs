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

/// How to provoke each trip on a real furnace, without the heater's own mains where that is possible.
const TRIALS: [(Cause, &str); 24] = [
    (
        Cause::SensorOpen,
        "In a firing, unplug the control thermocouple: dark in the same tick. Do it again with the limit \
             thermocouple, whose open circuit may take 1.6 s to show.",
    ),
    (
        Cause::SensorImplausible,
        "In a firing, touch the plug of a thermocouple with 50 mV from a battery and a divider: the voltage \
             is outside its range. Swapped wires show as channels disagree.",
    ),
    (
        Cause::AboveProgrammeLimit,
        "Both thermocouples outside the shut chamber: in a soak at 60 °C, warm both together, slowly, with \
             a hot-air gun beyond the soak plus the overshoot.",
    ),
    (
        Cause::AboveFurnaceLimit,
        "Write test settings with `furnace_max_celsius = 200` and the programme's limit below it; without a firing, warm \
             a thermocouple slowly beyond 200 °C. Write the right settings again, and compare their digest.",
    ),
    (
        Cause::ChannelsDisagree,
        "In a firing, warm one thermocouple slowly with a hot-air gun; do it with the other as well.",
    ),
    (
        Cause::HeaterWithoutEffect,
        "Only with `heater_current = false` in the test settings: fire a ramp with the lamp unplugged.",
    ),
    (
        Cause::HeaterStuckOn,
        "Mains locked off: bridge the output stage. Switch on and start: the self-test finds it two seconds \
             later, when it closes the contactor. At rest the open contactor hides it.",
    ),
    (Cause::ClosureOpen, "In a firing, take the wire of the shut contact off its terminal."),
    (
        Cause::VacuumLate,
        "Fire a programme that draws at room temperature, with the hose to the pump taken off.",
    ),
    (
        Cause::TickOverrun,
        "Halt the processor with the probe for some 200 ms in a firing; for longer, the outer watchdog \
             opens the contactor, which is found as well.",
    ),
    (
        Cause::ProgrammeChanged,
        "Cannot be provoked from outside; `saggar rehearse SCHEDULE --fault memory-programme@60` shows it.",
    ),
    (
        Cause::FurnaceDataChanged,
        "Cannot be provoked from outside; `saggar rehearse SCHEDULE --fault memory-furnace@60` shows it.",
    ),
    (
        Cause::AboveSetpoint,
        "Cannot be provoked from outside; `saggar rehearse SCHEDULE --fault memory-table@60` shows it, in a ramp.",
    ),
    (
        Cause::SensorFrozen,
        "Cannot be provoked without a front end that hangs; `saggar rehearse SCHEDULE --fault control-frozen@60` shows it, in a ramp.",
    ),
    (
        Cause::SensorLagging,
        "Later, in the warm furnace: put the control thermocouple into a thick sheath and switch the heat off.",
    ),
    (
        Cause::TerminalsDisagree,
        "In a firing, warm one terminal block by 15 K, gently; then let it cool and start again.",
    ),
    (
        Cause::ContactorNotFollowing,
        "In a firing, take the wire of the auxiliary contact off its terminal. Without a firing, bridge the \
             two terminals of that input.",
    ),
    (
        Cause::NoHeaterCurrent,
        "Mains locked off: unplug the lamp. Switch on and start: the self-test finds it.",
    ),
    (
        Cause::HeaterCurrentWrong,
        "Mains locked off: put a lamp of half the power of the first in its place. Switch on and start.",
    ),
    (
        Cause::ClockWrong,
        "Write test settings with the other mains frequency, 60 for 50 Hz, and fire for two minutes.",
    ),
    (
        Cause::ClosureStuck,
        "Take the wires of both contacts off their terminals and order the lift to move, or the door to be \
             moved, by a programme.",
    ),
    (
        Cause::IsolationStuck,
        "Air supply and power of the valve off: wedge it open from outside, then start a draw.",
    ),
    (Cause::VacuumLost, "Switch the pump off at its plug while it draws."),
    (Cause::GaugeImplausible, "Unplug the gauge while a vacuum is drawn."),
];

/// How to provoke a trip.
fn trial(cause: Cause) -> &'static str {
    TRIALS.iter().find(|(of, _)| *of == cause).map_or("", |(_, text)| text)
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
        let list = trips(None).expect("no file");
        assert!(list.trips.iter().all(|entry| !entry.trial.is_empty()), "{list:?}");
        assert!(trips(None).expect("no file").trips.iter().all(|entry| entry.unseen.is_none()));
    }
}
