//! Physical constants that several models share.

/// 0 °C in kelvin.
pub const KELVIN: f64 = 273.15;

/// Standard atmosphere (Pa).
pub const ATMOSPHERE_PA: f64 = 101_325.0;

/// Standard gravity (m/s²); 3rd CGPM, 1901.
pub const GRAVITY_M_S2: f64 = 9.80665;
