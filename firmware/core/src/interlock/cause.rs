//! Why a furnace trips: one cause a hazard.

use serde::{Deserialize, Serialize};

/// The one reason why heat was taken away. Links, logs and snapshots carry the number of a
/// variant: new ones are added at the end, and only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Cause {
    /// A channel's circuit is open or its front end stopped answering.
    SensorOpen,
    /// A channel says what no thermocouple says, or jumps as no furnace can.
    SensorImplausible,
    /// A channel is hotter than the programme ever asks for.
    OverProgramme,
    /// A channel is hotter than the furnace may ever be.
    OverFurnace,
    /// The two channels no longer measure the same furnace.
    ChannelsDisagree,
    /// Heat is sent and the reading does not rise as it must.
    HeaterWithoutEffect,
    /// No heat is sent and the heater conducts, or the reading rises all the same.
    HeaterStuckOn,
    /// The lift or door is not proven shut while the programme heats.
    ClosureOpen,
    /// The pressure of a vacuum stage was not reached in its time.
    VacuumLate,
    /// A tick came too late or too early: the clock or the processor cannot be trusted.
    TickOverrun,
    /// The programme in memory is no longer the one that was verified.
    ProgrammeChanged,
}

impl Cause {
    /// All causes, in the order of the safety page.
    pub const ALL: [Self; 11] = [
        Self::SensorOpen,
        Self::SensorImplausible,
        Self::OverProgramme,
        Self::OverFurnace,
        Self::ChannelsDisagree,
        Self::HeaterWithoutEffect,
        Self::HeaterStuckOn,
        Self::ClosureOpen,
        Self::VacuumLate,
        Self::TickOverrun,
        Self::ProgrammeChanged,
    ];

    /// A short name, as the safety page and the tools write it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::SensorOpen => "sensor open",
            Self::SensorImplausible => "sensor implausible",
            Self::OverProgramme => "over the programme",
            Self::OverFurnace => "over the furnace",
            Self::ChannelsDisagree => "channels disagree",
            Self::HeaterWithoutEffect => "heater without effect",
            Self::HeaterStuckOn => "heater stuck on",
            Self::ClosureOpen => "closure open",
            Self::VacuumLate => "vacuum late",
            Self::TickOverrun => "tick overrun",
            Self::ProgrammeChanged => "programme changed",
        }
    }
}
