//! A slow voltage on an ADS1115 (Texas Instruments): 16 bit over I²C, ±4.096 V.
//!
//! Input AIN0 against ground, continuous conversion, 16 per second. Each tick reads the configuration
//! and then the result, one write-read each, so that a chip that was reset is never taken for one
//! that measures zero.
//!
//! Register map and fields: Texas Instruments SBAS444E (ADS1115).
//! The crate `ads1x1x` 0.3 is maintained and on embedded-hal 1.0, but cannot read the configuration
//! back.

use embedded_hal::i2c::I2c;

const CONVERSION: u8 = 0x00;
const CONFIG: u8 = 0x01;

/// AIN0 against ground, ±4.096 V, continuous, 16 per second, comparator off.
const SETTING: u16 = 0x4223;

/// The top bit reads as busy or idle, not as written.
const SETTING_MASK: u16 = 0x7FFF;

/// One chip. The bus is borrowed for each reading.
#[derive(Debug)]
pub struct Ads1115 {
    address: u8,
    /// It was set up once. What it is told later shows when its configuration is read back.
    running: bool,
}

impl Ads1115 {
    /// The chip at this 7-bit address (0x48 to 0x4B). Nothing is sent yet.
    pub const fn new(address: u8) -> Self {
        Self { address, running: false }
    }

    /// Reads the last conversion, in eighths of a millivolt; once a tick.
    ///
    /// `None` if the bus or the chip does not answer as expected; the chip is then set up again in the
    /// same tick.
    pub fn read<B: I2c>(&mut self, bus: &mut B) -> Option<i16> {
        let code = if self.running { self.fetch(bus) } else { None };
        if code.is_none() {
            let [high, low] = SETTING.to_be_bytes();
            self.running |= bus.write(self.address, &[CONFIG, high, low]).is_ok();
        }
        code
    }

    fn fetch<B: I2c>(&self, bus: &mut B) -> Option<i16> {
        let mut setting = [0u8; 2];
        bus.write_read(self.address, &[CONFIG], &mut setting).ok()?;
        if u16::from_be_bytes(setting) & SETTING_MASK != SETTING {
            return None;
        }
        let mut code = [0u8; 2];
        bus.write_read(self.address, &[CONVERSION], &mut code).ok()?;
        Some(i16::from_be_bytes(code))
    }
}
