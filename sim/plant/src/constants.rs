//! Constants of nature that more than one model needs.

/// 0 °C in kelvin.
pub const KELVIN: f64 = 273.15;

/// Standard atmosphere (Pa), the pressure of the room.
pub const ATMOSPHERE_PA: f64 = 101_325.0;
