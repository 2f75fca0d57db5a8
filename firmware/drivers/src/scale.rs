//! Scales of the slow converters: codes to pressure and heater current, in integers.

/// Codes per millivolt.
const CODES_PER_MV: i32 = 8;

/// Offset of a current sensor's zero that is tolerated below 0 mV (codes): 2 mV.
const ZERO_CODES: i32 = 16;

/// A gauge with a live zero, whose voltage rises linearly with absolute pressure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PressureScale {
    /// Voltage at 0 Pa (mV).
    pub zero_mv: i16,
    /// Pascal per millivolt.
    pub pa_per_mv: u16,
    /// A lower voltage means a broken wire (mV).
    pub lowest_mv: i16,
    /// A higher voltage means a defective gauge (mV).
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

/// A true-rms converter on a current transformer, with a voltage proportional to the current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CurrentScale {
    /// Milliampere per millivolt.
    pub ma_per_mv: u16,
}

impl CurrentScale {
    /// Current (mA rms) of a code; `None` if the voltage is negative. At full scale of the converter
    /// the real current may be higher.
    pub fn milliamperes(&self, code: i16) -> Option<u32> {
        let code = i32::from(code);
        (code >= ZERO_CODES.wrapping_neg()).then(|| scaled(code, self.ma_per_mv))
    }
}

/// Codes times a scale per millivolt, rounded to the nearest; 0 for negative codes.
fn scaled(codes: i32, per_mv: u16) -> u32 {
    let codes = codes.max(0).unsigned_abs();
    codes.saturating_mul(u32::from(per_mv)).saturating_add(4) >> 3
}
