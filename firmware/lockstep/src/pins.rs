//! The parts and pins of the emulated board.

/// A part on a bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// SPI of the control thermocouple's front end.
    Control,
    /// SPI of the limit thermocouple's front end.
    Limit,
    /// The I²C bus; the first byte sent is the address.
    Slow,
}

/// Input pins, in the order of their bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// Data-ready of the control thermocouple.
    ControlReady,
    /// Data-ready of the limit thermocouple.
    LimitReady,
    /// Auxiliary contact of the contactor.
    ContactorAux,
    /// Contact that closes when the chamber is shut.
    Shut,
    /// Contact that closes when the chamber is open.
    Open,
    /// Start button.
    Start,
    /// Stop button.
    Stop,
    /// Confirm button.
    Confirm,
}

/// Output pins, in the order of their bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Output {
    /// Heater relay.
    Heater,
    /// Contactor.
    Contactor,
    /// Pump.
    Pump,
    /// Isolation valve.
    IsolationValve,
    /// Vent valve.
    VentValve,
    /// Drives the lift open, or the lamp that asks for an open door.
    ToOpen,
    /// Drives the lift shut.
    ToShut,
    /// Lamp.
    Lamp,
    /// Buzzer.
    Buzzer,
    /// External watchdog.
    Watchdog,
}

impl Input {
    /// The pin's bit in [`PINS_IN`](crate::PINS_IN).
    pub const fn bit(self) -> u32 {
        1u32.wrapping_shl(self as u32)
    }
}

impl Output {
    /// The pin's bit in [`PINS_OUT`](crate::PINS_OUT).
    pub const fn bit(self) -> u32 {
        1u32.wrapping_shl(self as u32)
    }
}
