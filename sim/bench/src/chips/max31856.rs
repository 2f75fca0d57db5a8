//! The MAX31856 (Maxim, now Analog Devices): sixteen registers behind one address byte.
//!
//! Full scale and supply limits: Maxim, MAX31856 datasheet, electrical characteristics. Scale of
//! the voltage mode: that sheet's page 20 as quoted on electronics.stackexchange.com, question
//! 452503. Register addresses and bits: as several published drivers have them. Values after
//! power-on, conversion times, the conditions that suspend a conversion and the interval of the
//! open-circuit test: value from memory. Left out: the eight temperature modes (their result stays
//! 0), averaging, the thresholds of the hot junction, the fault pin, the filter's effect.

use super::{ChipFault, Terminals, code};

/// Registers after power-on.
const DEFAULTS: [u8; 16] =
    [0x00, 0x03, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80, 0, 0, 0, 0, 0, 0, 0, 0];

const CR0: usize = 0x0;
const CR1: usize = 0x1;
const CJHF: usize = 0x3;
const CJLF: usize = 0x4;
const CJTO: usize = 0x9;
const CJTH: usize = 0xA;
const CJTL: usize = 0xB;
const LTCBH: usize = 0xC;
const LTCBL: usize = 0xE;
const SR: usize = 0xF;

/// Conversions between open-circuit tests.
const OPEN_TEST_INTERVAL: u8 = 16;

/// Ticks that the first conversion takes; later ones take one tick each.
const FIRST_TICKS: u8 = 2;

/// A modelled MAX31856.
#[derive(Clone, Debug)]
pub struct Max31856Model {
    registers: [u8; 16],
    new: bool,
    ticks_to_first: u8,
    to_open_test: u8,
    terminals: Terminals,
    fault: ChipFault,
}

impl Default for Max31856Model {
    fn default() -> Self {
        Self {
            registers: DEFAULTS,
            new: false,
            ticks_to_first: 0,
            to_open_test: 0,
            terminals: Terminals::default(),
            fault: ChipFault::None,
        }
    }
}

impl Max31856Model {
    /// Sets the terminals and the fault.
    pub fn set(&mut self, terminals: Terminals, fault: ChipFault) {
        self.terminals = terminals;
        self.fault = fault;
    }

    /// Power-on reset; inputs stay.
    pub fn reset(&mut self) {
        let Self { terminals, fault, .. } = *self;
        *self = Self { terminals, fault, ..Self::default() };
    }

    /// The data-ready pin; low when there is an unread result.
    pub fn data_ready_low(&self) -> bool {
        self.new
    }

    /// Advances by one conversion.
    pub fn tick(&mut self) {
        let cr0 = self.registers[CR0];
        if cr0 & 0xC0 == 0 || self.fault != ChipFault::None {
            return;
        }
        self.ticks_to_first = self.ticks_to_first.saturating_sub(1);
        if self.ticks_to_first > 0 {
            return;
        }
        // The one-shot bit clears itself.
        self.registers[CR0] &= !0x40;
        if self.terminals.over_under {
            self.registers[SR] |= 0x02;
            return;
        }
        self.test_for_open_circuit();
        self.cold_junction();
        let [_, high, mid, low] = (self.measured() << 5).to_be_bytes();
        self.registers[LTCBH..=LTCBL].copy_from_slice(&[high, mid, low]);
        self.new = true;
    }

    /// Comparator mode: a fault bit clears when its cause does.
    fn test_for_open_circuit(&mut self) {
        self.registers[SR] &= !0x02;
        if self.registers[CR0] & 0x30 == 0 {
            self.registers[SR] &= !0x01;
        } else if self.to_open_test == 0 {
            self.to_open_test = OPEN_TEST_INTERVAL;
            self.registers[SR] = self.registers[SR] & !0x01 | u8::from(self.terminals.open);
        }
        self.to_open_test = self.to_open_test.saturating_sub(1);
    }

    fn cold_junction(&mut self) {
        if self.registers[CR0] & 0x08 != 0 {
            return;
        }
        let celsius = f64::from(self.terminals.cold_mc) / 1000.0;
        let offset = f64::from(self.registers[CJTO] as i8) / 16.0;
        let reading = code((celsius + offset) * 64.0, -0x2000, 0x1FFF) as i16;
        let [high, low] = (reading << 2).to_be_bytes();
        self.registers[CJTH] = high;
        self.registers[CJTL] = low;
        let bits = [
            (0x80, !(-55.0..=125.0).contains(&celsius)),
            (0x20, high as i8 > self.registers[CJHF] as i8),
            (0x10, (high as i8) < self.registers[CJLF] as i8),
        ];
        for (bit, set) in bits {
            self.registers[SR] =
                if set { self.registers[SR] | bit } else { self.registers[SR] & !bit };
        }
    }

    /// Result of 19 bits. With an open circuit the inputs float to the bias voltage, so it reads 0.
    fn measured(&self) -> i32 {
        let gain = match self.registers[CR1] & 0x0C {
            0x08 => 8.0,
            0x0C => 32.0,
            _ => return 0,
        };
        if self.terminals.open {
            return 0;
        }
        let volts = f64::from(self.terminals.emf_nv) * 1.0e-9;
        code(gain * 1.6 * f64::from(1 << 17) * volts, -0x2_0000, 0x1_FFFF)
    }

    /// Transfers one SPI frame: an address byte, whose top bit selects a write, then consecutive registers.
    pub fn transfer(&mut self, mosi: &[u8], miso: &mut [u8]) {
        if let ChipFault::Silent(level) = self.fault {
            miso.fill(level);
            return;
        }
        miso.fill(0);
        let Some((address, data)) = mosi.split_first() else { return };
        let mut at = usize::from(address & 0x0F);
        for (index, byte) in data.iter().enumerate() {
            if address & 0x80 != 0 {
                self.write(at, *byte);
            } else if let Some(answer) = miso.get_mut(index + 1) {
                *answer = self.registers[at];
                self.new &= !(LTCBH..=LTCBL).contains(&at);
            }
            at = (at + 1) & 0x0F;
        }
    }

    fn write(&mut self, at: usize, byte: u8) {
        if at > CJTL {
            return;
        }
        let was = self.registers[at];
        self.registers[at] = byte;
        if at == CR0 {
            // `FAULTCLR` takes effect at once and reads 0.
            if byte & 0x02 != 0 {
                self.registers[SR] = 0;
                self.registers[CR0] &= !0x02;
            }
            if was & 0xC0 == 0 && byte & 0xC0 != 0 {
                self.ticks_to_first = FIRST_TICKS;
                self.to_open_test = 0;
            }
        }
    }
}
