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
    /// The heater conducts without a command or beyond it, or the reading rises without one.
    HeaterStuckOn,
    /// The contacts do not prove the lift or door shut while a step heats.
    ClosureOpen,
    /// The pressure of a vacuum stage was not reached in time, or does not fall as a pump makes it fall.
    VacuumLate,
    /// A tick came too early or too late: clock or processor cannot be trusted.
    TickOverrun,
    /// The programme in memory differs from the one that was verified.
    ProgrammeChanged,
    /// The heater is driven although the reading is well above the setpoint of the moment.
    AboveSetpoint,
    /// The furnace's data in memory differ from those that were loaded.
    FurnaceDataChanged,
    /// A channel repeats one code under heat.
    SensorFrozen,
    /// The reading rises without heat, and no current flows.
    SensorLagging,
    /// The terminals of the two channels differ by more than two sensors side by side can.
    TerminalsDisagree,
    /// The auxiliary contact of the contactor contradicts its command.
    ContactorNotFollowing,
    /// The heater is driven and no current flows.
    NoHeaterCurrent,
    /// The current does not fit the cycles that are commanded.
    HeaterCurrentWrong,
    /// The clock and the crossings of the mains contradict each other.
    ClockWrong,
    /// The lift or door did not reach its position in time.
    ClosureStuck,
    /// The pressure falls while the isolation valve is commanded shut.
    IsolationStuck,
    /// The pressure rises while the pump draws, and again after another try.
    VacuumLost,
    /// The gauge reads what neither the chamber nor the pump can do.
    GaugeImplausible,
}

impl Cause {
    /// All causes, in the order of the safety page.
    pub const ALL: [Self; 24] = [
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
        Self::AboveSetpoint,
        Self::FurnaceDataChanged,
        Self::SensorFrozen,
        Self::SensorLagging,
        Self::TerminalsDisagree,
        Self::ContactorNotFollowing,
        Self::NoHeaterCurrent,
        Self::HeaterCurrentWrong,
        Self::ClockWrong,
        Self::ClosureStuck,
        Self::IsolationStuck,
        Self::VacuumLost,
        Self::GaugeImplausible,
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
            Self::AboveSetpoint => "above setpoint",
            Self::FurnaceDataChanged => "furnace data changed",
            Self::SensorFrozen => "sensor frozen",
            Self::SensorLagging => "sensor lagging",
            Self::TerminalsDisagree => "terminals disagree",
            Self::ContactorNotFollowing => "contactor not following",
            Self::NoHeaterCurrent => "no heater current",
            Self::HeaterCurrentWrong => "heater current wrong",
            Self::ClockWrong => "clock wrong",
            Self::ClosureStuck => "closure stuck",
            Self::IsolationStuck => "isolation valve stuck",
            Self::VacuumLost => "vacuum lost",
            Self::GaugeImplausible => "gauge implausible",
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
            Self::VacuumLate => "Check the seals, the pump, both valves and the gauge.",
            Self::TickOverrun => "If it happens again, have the controller board checked.",
            Self::ProgrammeChanged => {
                "Upload the programme again. If it happens again, have the controller's memory checked."
            }
            Self::AboveSetpoint => {
                "Compare the profile's tables with the furnace, and load its settings again."
            }
            Self::FurnaceDataChanged => {
                "Switch the device off and on. If it happens again, have the controller's memory checked."
            }
            Self::SensorFrozen => "Check the front end of the thermocouple and its wiring.",
            Self::SensorLagging => {
                "Check that the control thermocouple sits in its place and that its sheath is clean."
            }
            Self::TerminalsDisagree => {
                "Check the cold-junction sensors, and that nothing heats one of the terminal blocks."
            }
            Self::ContactorNotFollowing => {
                "Switch off the mains: the contactor may be welded. Check it, its coil and its auxiliary \
                 contact."
            }
            Self::NoHeaterCurrent => {
                "Check fuse, cut-out, heating element and output stage, then the current sensor and its wiring."
            }
            Self::HeaterCurrentWrong => {
                "Measure the resistance of the heating element, then check the mains voltage, the current \
                 sensor and the current in the settings."
            }
            Self::ClockWrong => {
                "Check the mains frequency in the settings and the detector of the crossings. If both are \
                 right, have the controller board checked."
            }
            Self::ClosureStuck => {
                "Check that nothing blocks the lift or door, then its drive and its two contacts."
            }
            Self::IsolationStuck => {
                "Check the isolation valve: it does not shut. Let air in before you switch the pump off."
            }
            Self::VacuumLost => "Check the pump, its line, the valves and the seals.",
            Self::GaugeImplausible => {
                "Check the gauge, its line and its wiring, and that the vent opens."
            }
        }
    }
}
