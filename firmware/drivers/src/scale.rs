//! What the codes of the slow converters mean: pressure and heater current, in integers.

/// Codes in a millivolt.
const CODES_PER_MV: i32 = 8;

/// Zero of a current sensor may be this far below (codes): 2 mV.
const ZERO_CODES: i32 = 16;

/// A gauge whose voltage rises in proportion to the absolute pressure from a live zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PressureScale {
    /// Voltage at 0 Pa (mV).
    pub zero_mv: i16,
    /// Pascal to a millivolt.
    pub pa_per_mv: u16,
    /// A lower voltage is a broken wire (mV).
    pub lowest_mv: i16,
    /// A higher voltage is a fault (mV).
    pub highest_mv: i16,
}

impl PressureScale {
    /// Absolute pressure (Pa) of a code; `None` outside the live range.
    pub fn pascals(&self, code: i16) -> Option<u32> {
        let code = i32::from(code);
        let codes = |mv: i16| i32::from(mv).saturating_mul(CODES_PER_MV);
        if code < codes(self.lowest_mv) || code > codes(self.highest_mv) {
            return None;
        }
        Some(scaled(code.saturating_sub(codes(self.zero_mv)), self.pa_per_mv))
    }
}

/// A true-rms converter on a current transformer: its voltage is in proportion to the current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CurrentScale {
    /// Milliampere to a millivolt.
    pub ma_per_mv: u16,
}

impl CurrentScale {
    /// Current (mA rms) of a code; `None` if the voltage is negative. At the converter's full
    /// scale the current is at least what is told.
    pub fn milliamperes(&self, code: i16) -> Option<u32> {
        let code = i32::from(code);
        (code >= ZERO_CODES.wrapping_neg()).then(|| scaled(code, self.ma_per_mv))
    }
}

/// Codes above zero, times a scale to a millivolt, rounded to the nearest; below zero is zero.
fn scaled(codes: i32, per_mv: u16) -> u32 {
    let codes = codes.max(0).unsigned_abs();
    codes.saturating_mul(u32::from(per_mv)).saturating_add(4) >> 3
}
