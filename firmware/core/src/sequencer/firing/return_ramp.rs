//! The way back of a firing that a power cut interrupted.

use serde::Serialize;

/// The way back to the setpoint of an interrupted soak or hold.
#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct ReturnRamp {
    /// The setpoint to return to (thousandths of a degree Celsius).
    pub(super) to_mc: i32,
    /// The rate of the last ramp before (thousandths of a kelvin per minute).
    pub(super) rate_mk_per_min: u32,
}

impl ReturnRamp {
    /// Its two numbers, for a checksum.
    pub(super) const fn bits(self) -> [u32; 2] {
        [self.to_mc.cast_unsigned(), self.rate_mk_per_min]
    }
}

#[cfg(test)]
mod tests {
    use super::ReturnRamp;

    /// The checksum covers both of its numbers, each by all its bits.
    #[test]
    fn its_bits_are_its_numbers() {
        let back = ReturnRamp { to_mc: -1, rate_mk_per_min: 30_000 };
        assert_eq!(back.bits(), [u32::MAX, 30_000]);
    }
}
