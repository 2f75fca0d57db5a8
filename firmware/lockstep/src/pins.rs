//! The parts and pins of the emulated board.

/// A part on a bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// SPI of the control thermocouple.
    Control,
    /// SPI of the limit thermocouple.
    Limit,
    /// The I²C bus; the first byte out is the address.
    Slow,
}

/// Input pins, by their bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// Data-ready of the control thermocouple.
    ControlReady,
    /// Data-ready of the limit thermocouple.
    LimitReady,
    /// Auxiliary contact of the contactor.
    ContactorAux,
    /// The contact of the shut end.
    Shut,
    /// The contact of the open end.
    Open,
    /// Start button.
    Start,
    /// Stop button.
    Stop,
    /// Confirm button.
    Confirm,
}

/// Output pins, by their bit.
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
    /// Lift towards open, or the door's lamp.
    ToOpen,
    /// Lift towards shut.
    ToShut,
    /// Lamp.
    Lamp,
    /// Buzzer.
    Buzzer,
    /// External watchdog.
    Watchdog,
}

impl Input {
    /// Its bit in [`PINS_IN`](crate::PINS_IN).
    pub const fn bit(self) -> u32 {
        1u32.wrapping_shl(self as u32)
    }
}

impl Output {
    /// Its bit in [`PINS_OUT`](crate::PINS_OUT).
    pub const fn bit(self) -> u32 {
        1u32.wrapping_shl(self as u32)
    }
}
