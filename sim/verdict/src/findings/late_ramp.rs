//! Ramps that arrive later than their rate says.

/// Lateness up to which a ramp counts as on time (s): two minutes. The rounded corners alone take 40 s.
const ON_TIME_S: f64 = 120.0;

/// The same as a share of the time at the rate.
const ON_TIME_SHARE: f64 = 0.1;

/// A ramp that arrives clearly later than its rate says. Low ramps do, because the heat that the element
/// stores would carry the reading past their end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LateRamp {
    /// The step of the programme, from 0.
    pub step: u8,
    /// Its target (°C).
    pub to_c: f64,
    /// Its duration at its rate (s).
    pub at_rate_s: f64,
    /// Its duration (s).
    pub takes_s: f64,
}

impl LateRamp {
    /// How much later it arrives (s).
    pub fn late_s(&self) -> f64 {
        self.takes_s - self.at_rate_s
    }

    /// True if it is later than two minutes and than a tenth of its time at the rate.
    pub fn is_clearly_late(&self) -> bool {
        self.late_s() > ON_TIME_S.max(ON_TIME_SHARE * self.at_rate_s)
    }
}
