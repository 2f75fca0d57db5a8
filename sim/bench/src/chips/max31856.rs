//! The MAX31856 (Maxim, now Analog Devices): sixteen registers behind one address byte.
//!
//! Full scale and supply limits: Maxim, MAX31856 datasheet, electrical characteristics. Scale of
//! the voltage mode: that sheet's page 20 as quoted on electronics.stackexchange.com, question
//! 452503. Register addresses and bits: as several published drivers have them. Values after
//! power-on, times, what suspends a conversion and how often an open circuit is looked for: value
//! from memory. Left out: the eight temperature modes (their result stays 0), averaging, the
//! thresholds of the hot end, the fault pin, the filter's effect.

use super::{ChipFault, Terminals, code};

/// After power-on.
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

/// Conversions from one look for an open circuit to the next.
const OPEN_EVERY: u8 = 16;

/// Ticks until the first conversion is done; each later one takes one.
const FIRST_TICKS: u8 = 2;

/// One chip.
#[derive(Clone, Debug)]
pub struct Max31856Model {
    registers: [u8; 16],
    new: bool,
    ticks_to_first: u8,
    to_open_test: u8,
    terminals: Terminals,
    ailment: ChipFault,
}

impl Default for Max31856Model {
    fn default() -> Self {
        Self {
            registers: DEFAULTS,
            new: false,
            ticks_to_first: 0,
            to_open_test: 0,
            terminals: Terminals::default(),
            ailment: ChipFault::None,
        }
    }
}

impl Max31856Model {
    /// What is outside.
    pub fn set(&mut self, terminals: Terminals, ailment: ChipFault) {
        self.terminals = terminals;
        self.ailment = ailment;
    }

    /// As after a loss of supply.
    pub fn reset(&mut self) {
        let Self { terminals, ailment, .. } = *self;
        *self = Self { terminals, ailment, ..Self::default() };
    }

    /// The data-ready pin; low when there is a result that was not read.
    pub fn data_ready_low(&self) -> bool {
        self.new
    }

    /// Time for one conversion passes.
    pub fn tick(&mut self) {
        let cr0 = self.registers[CR0];
        if cr0 & 0xC0 == 0 || self.ailment != ChipFault::None {
            return;
        }
        self.ticks_to_first = self.ticks_to_first.saturating_sub(1);
        if self.ticks_to_first > 0 {
            return;
        }
        // A single conversion clears its own bit.
        self.registers[CR0] &= !0x40;
        if self.terminals.over_under {
            self.registers[SR] |= 0x02;
            return;
        }
        self.look_for_open();
        self.cold_junction();
        let [_, high, mid, low] = (self.measured() << 5).to_be_bytes();
        self.registers[LTCBH..=LTCBL].copy_from_slice(&[high, mid, low]);
        self.new = true;
    }

    /// The comparator mode: bits go with their cause.
    fn look_for_open(&mut self) {
        self.registers[SR] &= !0x02;
        if self.registers[CR0] & 0x30 == 0 {
            self.registers[SR] &= !0x01;
        } else if self.to_open_test == 0 {
            self.to_open_test = OPEN_EVERY;
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
        let told = code((celsius + offset) * 64.0, -0x2000, 0x1FFF) as i16;
        let [high, low] = (told << 2).to_be_bytes();
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

    /// 19 bits. The input of a broken wire floats to its bias: no voltage.
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

    /// One frame of the bus: the address, whose top bit means writing, then registers in order.
    pub fn transfer(&mut self, mosi: &[u8], miso: &mut [u8]) {
        if let ChipFault::Silent(level) = self.ailment {
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
            // Clearing the faults is done at once and its bit reads 0.
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
