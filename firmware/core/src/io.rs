//! Inputs and outputs of one tick. They are raw integers and complete, so that a recorded run
//! replays bit for bit.

use serde::{Deserialize, Serialize};

/// One conversion result of a thermocouple front end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ThermocoupleSample {
    /// Voltage at the terminals (nV).
    pub emf_nv: i32,
    /// Temperature of the terminals, the cold junction (thousandths of °C).
    pub cold_junction_mc: i32,
    /// The front end detected an open circuit.
    pub open: bool,
    /// Age of the conversion when the tick began (ms).
    pub age_ms: u16,
}

/// The two end contacts of the lift or the door.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClosureContacts {
    /// Contact that closes when the chamber is fully shut.
    pub shut: bool,
    /// Contact that closes when the chamber is fully open.
    pub open: bool,
}

impl ClosureContacts {
    /// True if both contacts say that the chamber is shut.
    pub const fn proves_shut(self) -> bool {
        self.shut && !self.open
    }

    /// True if both contacts say that the chamber is open.
    pub const fn proves_open(self) -> bool {
        self.open && !self.shut
    }
}

/// The buttons at the device. Start and confirm act when they go down; stop acts for as long as it
/// is down.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Buttons {
    /// Start the loaded programme.
    pub start: bool,
    /// End the firing, heat off.
    pub stop: bool,
    /// Answer an operator hold, or accept a trip whose cause is gone.
    pub confirm: bool,
}

/// All inputs of one tick.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Inputs {
    /// Control thermocouple; `None` if its front end did not answer.
    pub control: Option<ThermocoupleSample>,
    /// Independent limit thermocouple; `None` if its front end did not answer.
    pub limit: Option<ThermocoupleSample>,
    /// Absolute chamber pressure (Pa); `None` without a gauge, or if it did not answer.
    pub pressure_pa: Option<u32>,
    /// Contacts of the lift or door.
    pub closure: ClosureContacts,
    /// Auxiliary contact of the heater contactor; true if the contactor is closed.
    pub contactor_closed: bool,
    /// Heater current over the last tick (mA rms); `None` without a sensor.
    pub heater_current_ma: Option<u32>,
    /// Zero crossings of the mains since the last tick, two a cycle; `None` without a counter.
    pub mains_crossings: Option<u8>,
    /// The operator's buttons.
    pub buttons: Buttons,
}

/// All outputs of one tick.
///
/// `Outputs::default()` is the safe state of an idle furnace: heat off, contactor open, pump off,
/// valves shut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Outputs {
    /// Mains cycles of the next tick in which the heater conducts, bit 0 first. Only whole cycles
    /// are switched, so that the supply sees no direct current.
    pub heater_cycles: u8,
    /// Close the contactor in series with the heater.
    pub contactor: bool,
    /// Run the pump.
    pub pump: bool,
    /// Open the valve between chamber and pump.
    pub isolation_valve: bool,
    /// Open the valve between chamber and atmosphere.
    pub vent_valve: bool,
    /// Move the lift to open (`true`) or shut (`false`). A door only shows the request.
    pub open_closure: bool,
    /// On while a firing is running.
    pub lamp: bool,
    /// On during an operator hold, while a trip is latched, and when a wait has lasted ten minutes, until
    /// it ends or confirm is pressed.
    pub buzzer: bool,
}
