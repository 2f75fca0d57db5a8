//! The ADS1220 (Texas Instruments): 24 bits, four registers, six commands.
//!
//! Commands, register map and data-ready: Texas Instruments SBAS683B (ADS1120-Q1, the 16-bit
//! variant with the same map). Register 2, and that a new result is shifted out without a read
//! command: value from memory. Left out: external references (they read full scale here), current
//! sources, the data-ready function of DOUT, inputs other than AIN0 and AIN1, faster rates.

use std::collections::VecDeque;

use super::{ChipFault, Terminals, code};

const REFERENCE_V: f64 = 2.048;
const LOWEST: i32 = -0x80_0000;
const HIGHEST: i32 = 0x7F_FFFF;

/// The bits below the 14 of a temperature are undefined and not zero, as a user showed in the maker's
/// forum.
const TEMPERATURE_JUNK: i32 = 0x1B6;

/// A modelled ADS1220.
#[derive(Clone, Debug, Default)]
pub struct Ads1220Model {
    registers: [u8; 4],
    result: i32,
    new: bool,
    converting: bool,
    terminals: Terminals,
    fault: ChipFault,
}

impl Ads1220Model {
    /// Sets the state of the terminals and the chip's fault. The board's bias resistors pull an open
    /// circuit to full scale.
    pub fn set(&mut self, terminals: Terminals, fault: ChipFault) {
        self.terminals = terminals;
        self.fault = fault;
    }

    /// Power-on reset; inputs stay.
    pub fn reset(&mut self) {
        let Self { terminals, fault, .. } = *self;
        *self = Self { terminals, fault, ..Self::default() };
    }

    /// The data-ready pin; low when there is a new result.
    pub fn data_ready_low(&self) -> bool {
        self.new
    }

    /// Advances by one conversion.
    pub fn tick(&mut self) {
        if !self.converting || self.fault != ChipFault::None {
            return;
        }
        let continuous = self.registers[1] & 0x04 != 0;
        self.converting = continuous;
        self.result = self.measured();
        self.new = true;
    }

    fn measured(&self) -> i32 {
        let [inputs, mode, reference, _] = self.registers;
        if mode & 0x02 != 0 {
            let steps = code(f64::from(self.terminals.cold_mc) / 31.25, -0x2000, 0x1FFF);
            return steps << 10 | TEMPERATURE_JUNK;
        }
        if self.terminals.open || reference & 0xC0 != 0 {
            return HIGHEST;
        }
        let sign = match inputs >> 4 {
            0b0000 => 1.0,
            0b0110 => -1.0,
            _ => return 0,
        };
        let gain = f64::from(1 << (inputs >> 1 & 0x07));
        let volts = sign * f64::from(self.terminals.emf_nv) * 1.0e-9;
        code(volts * gain / REFERENCE_V * f64::from(1 << 23), LOWEST, HIGHEST)
    }

    /// Transfers one SPI frame: chip select stays low from its first byte to its last.
    pub fn transfer(&mut self, mosi: &[u8], miso: &mut [u8]) {
        if let ChipFault::Silent(level) = self.fault {
            miso.fill(level);
            return;
        }
        let mut out = VecDeque::new();
        if self.new {
            out.extend(self.result_bytes());
        }
        // The first clock edge takes the data-ready pin high.
        self.new &= mosi.is_empty();
        // Data bytes left of the current command, and the register that the next one is written to.
        let mut data_left = 0;
        let mut writing = None;
        for (index, byte) in mosi.iter().enumerate() {
            if let Some(answer) = miso.get_mut(index) {
                *answer = out.pop_front().unwrap_or(0);
            }
            if data_left > 0 {
                data_left -= 1;
                if let Some(at) = writing {
                    self.registers[at & 3] = *byte;
                    writing = Some(at + 1);
                }
                continue;
            }
            writing = None;
            let at = usize::from(byte >> 2 & 3);
            let count = usize::from(byte & 3) + 1;
            match byte >> 4 {
                0x0 => self.command(*byte),
                0x1 => {
                    out = self.result_bytes().into();
                    data_left = 3;
                }
                0x2 => {
                    out = (at..at + count).map(|at| self.registers[at & 3]).collect();
                    data_left = count;
                }
                0x4 => {
                    writing = Some(at);
                    data_left = count;
                }
                _ => {}
            }
        }
    }

    /// A command without data.
    fn command(&mut self, byte: u8) {
        match byte >> 1 {
            0b001 => self.converting = false,
            0b011 => self.reset(),
            0b100 => {
                self.converting = true;
                self.new = false;
            }
            _ => {}
        }
    }

    fn result_bytes(&self) -> [u8; 3] {
        let [_, high, mid, low] = self.result.to_be_bytes();
        [high, mid, low]
    }
}
