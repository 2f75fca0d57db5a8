//! What comes in and what goes out of a tick: raw, integer, and complete, so that a recorded
//! run replays bit for bit.

use serde::{Deserialize, Serialize};

/// One conversion of a thermocouple front end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ThermocoupleSample {
    /// Voltage at the terminals, nanovolt.
    pub emf_nv: i32,
    /// Temperature of the terminals (the cold junction), thousandths of a degree Celsius.
    pub cold_junction_mc: i32,
    /// The front end found the circuit open.
    pub open: bool,
    /// Age of the conversion when the tick began, milliseconds.
    pub age_ms: u16,
}

/// The two contacts of the lift or the door.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClosureContacts {
    /// The contact that closes when the chamber is shut.
    pub shut: bool,
    /// The contact that closes when it is fully open.
    pub open: bool,
}

impl ClosureContacts {
    /// Shut, and both contacts agree on it.
    pub const fn proves_shut(self) -> bool {
        self.shut && !self.open
    }

    /// Open, and both contacts agree on it.
    pub const fn proves_open(self) -> bool {
        self.open && !self.shut
    }
}

/// The local controls. The core acts on a press of start or confirm, not on a held button; stop
/// stops as long as it is down.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Buttons {
    /// Start the loaded programme.
    pub start: bool,
    /// End the firing, heat off.
    pub stop: bool,
    /// Answer an operator hold, or accept a trip whose cause has gone.
    pub confirm: bool,
}

/// Everything that the core is told in one tick.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Inputs {
    /// The thermocouple that the control follows; `None` if its front end did not answer.
    pub control: Option<ThermocoupleSample>,
    /// The second, independent thermocouple.
    pub limit: Option<ThermocoupleSample>,
    /// Absolute chamber pressure, pascal; `None` without a gauge or if it did not answer.
    pub pressure_pa: Option<u32>,
    /// Lift or door.
    pub closure: ClosureContacts,
    /// Auxiliary contact of the heater contactor: true when it is closed.
    pub contactor_closed: bool,
    /// Heater current over the last tick, milliampere (rms); `None` without a sensor.
    pub heater_current_ma: Option<u32>,
    /// The operator's buttons.
    pub buttons: Buttons,
}

/// Everything that the core asks of the board in one tick.
///
/// `Outputs::default()` is the safe state of a furnace at rest: heat off, contactor open, pump
/// off, valves shut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Outputs {
    /// Which of the next mains cycles conduct, bit 0 first. Whole cycles: no direct current.
    pub heater_cycles: u8,
    /// Close the contactor in series with the heater.
    pub contactor: bool,
    /// Run the pump.
    pub pump: bool,
    /// Open the valve between chamber and pump.
    pub isolation_valve: bool,
    /// Open the valve between chamber and air.
    pub vent_valve: bool,
    /// Move the lift to open (`true`) or shut (`false`). A door only shows it as a request.
    pub open_closure: bool,
    /// A firing is running.
    pub lamp: bool,
    /// The operator is wanted.
    pub buzzer: bool,
}
