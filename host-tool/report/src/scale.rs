//! Temperatures in the scale in which the reader wants them.

use saggar_plant::verdict::Scale;

/// A temperature (°C) in a scale.
pub(super) fn temperature(scale: Scale, celsius: f64) -> f64 {
    match scale {
        Scale::Celsius => celsius,
        Scale::Fahrenheit => celsius * 1.8 + 32.0,
    }
}

/// A difference of temperatures (K) in a scale.
pub(super) fn difference(scale: Scale, kelvin: f64) -> f64 {
    match scale {
        Scale::Celsius => kelvin,
        Scale::Fahrenheit => kelvin * 1.8,
    }
}

/// The sign of a temperature.
pub(super) const fn unit(scale: Scale) -> &'static str {
    match scale {
        Scale::Celsius => "°C",
        Scale::Fahrenheit => "°F",
    }
}
