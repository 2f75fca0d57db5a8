//! The ADS1115 (Texas Instruments): four registers of 16 bits behind a pointer, on I²C.
//!
//! Register map and fields: Texas Instruments SBAS444E; pointer and conversion register: SBAS563
//! (ADS1115-Q1). That the top bit of the configuration reads 0 in continuous mode: value from
//! memory. Left out: the comparator, inputs other than AIN0, rates slower than a tick.

use super::{ChipFault, code};

const CONVERSION: usize = 0;
const CONFIG: usize = 1;

/// Registers after power-on: conversion, configuration, low and high threshold.
const DEFAULTS: [u16; 4] = [0x0000, 0x8583, 0x8000, 0x7FFF];

/// The chip did not acknowledge its address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NackError;

/// A modelled ADS1115.
#[derive(Clone, Debug)]
pub struct Ads1115Model {
    registers: [u16; 4],
    pointer: usize,
    single_shot: bool,
    input_mv: f64,
    fault: ChipFault,
}

impl Default for Ads1115Model {
    fn default() -> Self {
        Self {
            registers: DEFAULTS,
            pointer: 0,
            single_shot: false,
            input_mv: 0.0,
            fault: ChipFault::None,
        }
    }
}

impl Ads1115Model {
    /// Sets the voltage of AIN0 (mV) and the fault; AIN1 is grounded.
    pub fn set(&mut self, input_mv: f64, fault: ChipFault) {
        self.input_mv = input_mv;
        self.fault = fault;
    }

    /// Power-on reset; inputs stay.
    pub fn reset(&mut self) {
        *self = Self { input_mv: self.input_mv, fault: self.fault, ..Self::default() };
    }

    fn continuous(&self) -> bool {
        self.registers[CONFIG] & 0x0100 == 0
    }

    /// Advances by one conversion.
    pub fn tick(&mut self) {
        if self.fault == ChipFault::None && (self.continuous() || self.single_shot) {
            self.single_shot = false;
            self.registers[CONVERSION] = self.measured() as u16;
        }
    }

    fn measured(&self) -> i16 {
        let setting = self.registers[CONFIG];
        let input_mv = match setting >> 12 & 7 {
            0b000 | 0b001 | 0b100 => self.input_mv,
            _ => 0.0,
        };
        let full_scale_mv = match setting >> 9 & 7 {
            0b000 => 6144.0,
            0b001 => 4096.0,
            0b010 => 2048.0,
            0b011 => 1024.0,
            0b100 => 512.0,
            _ => 256.0,
        };
        code(input_mv / full_scale_mv * 32768.0, -0x8000, 0x7FFF) as i16
    }

    /// Writes to the chip: the register pointer, optionally followed by a value of two bytes for that
    /// register.
    ///
    /// # Errors
    /// The chip does not respond.
    pub fn write(&mut self, bytes: &[u8]) -> Result<(), NackError> {
        self.check_acknowledged()?;
        let Some((pointer, data)) = bytes.split_first() else { return Ok(()) };
        self.pointer = usize::from(pointer & 3);
        if let [high, low] = data
            && self.pointer != CONVERSION
        {
            let value = u16::from_be_bytes([*high, *low]);
            self.registers[self.pointer] = value;
            if self.pointer == CONFIG {
                self.single_shot = value & 0x8000 != 0;
            }
        }
        Ok(())
    }

    /// Reads the register that the pointer selects.
    ///
    /// # Errors
    /// The chip does not respond.
    pub fn read(&mut self, bytes: &mut [u8]) -> Result<(), NackError> {
        self.check_acknowledged()?;
        let mut value = self.registers[self.pointer];
        if self.pointer == CONFIG {
            let busy = self.single_shot || self.continuous();
            value = value & 0x7FFF | if busy { 0 } else { 0x8000 };
        }
        for (byte, part) in bytes.iter_mut().zip(value.to_be_bytes().into_iter().cycle()) {
            *byte = part;
        }
        Ok(())
    }

    /// A write, then a read after a repeated start.
    ///
    /// # Errors
    /// The chip does not respond.
    pub fn write_read(&mut self, sent: &[u8], bytes: &mut [u8]) -> Result<(), NackError> {
        self.write(sent)?;
        self.read(bytes)
    }

    fn check_acknowledged(&self) -> Result<(), NackError> {
        match self.fault {
            ChipFault::Silent(_) => Err(NackError),
            ChipFault::None | ChipFault::OscillatorStopped => Ok(()),
        }
    }
}
