//! The trip causes, one for each hazard.

use serde::{Deserialize, Serialize};

/// Why the interlock tripped. Links, logs and snapshots carry the variant's number, so add new
/// variants at the end only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Cause {
    /// The circuit of a channel is open, or its front end stopped answering.
    SensorOpen,
    /// A channel reports a voltage outside its thermocouple's range, or jumps faster than the
    /// furnace can change.
    SensorImplausible,
    /// A channel is hotter than the programme's maximum setpoint plus the allowed overshoot.
    AboveProgrammeLimit,
    /// A channel is at or above the furnace's maximum temperature.
    AboveFurnaceLimit,
    /// The two channels differ by more than the furnace allows.
    ChannelsDisagree,
    /// The heater runs near full power and the reading does not rise as expected.
    HeaterWithoutEffect,
    /// The heater conducts without a command, or the reading rises without one.
    HeaterStuckOn,
    /// The contacts do not prove the lift or door shut while a step heats.
    ClosureOpen,
    /// The pressure of a vacuum stage was not reached in time.
    VacuumLate,
    /// A tick came too early or too late: clock or processor cannot be trusted.
    TickOverrun,
    /// The programme in memory differs from the one that was verified.
    ProgrammeChanged,
}

impl Cause {
    /// All causes, in the order of the safety page.
    pub const ALL: [Self; 11] = [
        Self::SensorOpen,
        Self::SensorImplausible,
        Self::AboveProgrammeLimit,
        Self::AboveFurnaceLimit,
        Self::ChannelsDisagree,
        Self::HeaterWithoutEffect,
        Self::HeaterStuckOn,
        Self::ClosureOpen,
        Self::VacuumLate,
        Self::TickOverrun,
        Self::ProgrammeChanged,
    ];

    /// A short name, used by the tools and in the table of the safety page.
    pub const fn name(self) -> &'static str {
        match self {
            Self::SensorOpen => "sensor open",
            Self::SensorImplausible => "sensor implausible",
            Self::AboveProgrammeLimit => "above programme limit",
            Self::AboveFurnaceLimit => "above furnace limit",
            Self::ChannelsDisagree => "channels disagree",
            Self::HeaterWithoutEffect => "heater without effect",
            Self::HeaterStuckOn => "heater stuck on",
            Self::ClosureOpen => "closure open",
            Self::VacuumLate => "vacuum late",
            Self::TickOverrun => "tick overrun",
            Self::ProgrammeChanged => "programme changed",
        }
    }

    /// What to do about it: the operator's first checks, as one sentence.
    pub const fn advice(self) -> &'static str {
        match self {
            Self::SensorOpen => "Check the thermocouple, its plug and its front end.",
            Self::SensorImplausible => {
                "Check the thermocouple's type, polarity and wiring, and look for interference."
            }
            Self::AboveProgrammeLimit => {
                "Let the furnace cool, and check that the output stage switches off."
            }
            Self::AboveFurnaceLimit => {
                "Let the furnace cool, and check output stage and contactor before the next firing."
            }
            Self::ChannelsDisagree => {
                "Check that both thermocouples sit in the chamber and are not damaged."
            }
            Self::HeaterWithoutEffect => {
                "Check heating element, fuse and output stage, and that no thermocouple is shorted \
                 or has slipped out."
            }
            Self::HeaterStuckOn => {
                "Switch off the mains: the output stage may have failed closed. Check it."
            }
            Self::ClosureOpen => "Shut the lift or door, and check its two contacts.",
            Self::VacuumLate => "Check the seals, the pump, its valve and the gauge.",
            Self::TickOverrun => "If it happens again, have the controller board checked.",
            Self::ProgrammeChanged => {
                "Upload the programme again. If it happens again, have the controller's memory checked."
            }
        }
    }
}
