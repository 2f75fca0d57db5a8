//! The I²C bus of the slow converters, bit-banged on two open-drain pins: every wait has a limit.
//!
//! The HAL's own bus waits for ever on a data line that is held low, and a pinched cable of the pressure
//! gauge must not stop the control of the heat. At about 100 kHz the four transactions of a tick take
//! about 2 ms.

use core::convert::Infallible;

use embedded_hal::digital::{InputPin, OutputPin};
use embedded_hal::i2c::{
    self, ErrorKind, I2c, NoAcknowledgeSource, Operation, SevenBitAddress,
};

/// A quarter of a bit (processor cycles): 1.25 µs at 168 MHz, or up to twice that, since the delay may
/// be longer. The parts tolerate 400 kHz.
const QUARTER_BIT_CYCLES: u32 = 210;

/// Quarters of a bit for which a part may stretch the clock.
const STRETCH_MAX_QUARTERS: u32 = 40;

/// Clock and data, both open-drain with pull-up resistors.
pub struct SlowBus<C, D> {
    scl: C,
    sda: D,
}

/// Why a transaction failed.
#[derive(Clone, Copy, Debug)]
pub enum BusError {
    /// A line is held low.
    LineHeldLow,
    /// No acknowledge of the address or of a byte.
    NoAnswer(NoAcknowledgeSource),
}

impl i2c::Error for BusError {
    fn kind(&self) -> ErrorKind {
        match self {
            Self::LineHeldLow => ErrorKind::Bus,
            Self::NoAnswer(source) => ErrorKind::NoAcknowledge(*source),
        }
    }
}

fn quarter_bit() {
    cortex_m::asm::delay(QUARTER_BIT_CYCLES);
}

/// Unwraps an operation on a processor pin, which cannot fail.
fn infallible<T>(done: Result<T, Infallible>) -> T {
    match done {
        Ok(value) => value,
        Err(never) => match never {},
    }
}

impl<C, D> SlowBus<C, D>
where
    C: InputPin<Error = Infallible> + OutputPin<Error = Infallible>,
    D: InputPin<Error = Infallible> + OutputPin<Error = Infallible>,
{
    /// An idle bus: both pins high.
    pub fn new(mut scl: C, mut sda: D) -> Self {
        infallible(sda.set_high());
        infallible(scl.set_high());
        Self { scl, sda }
    }

    /// Releases the clock and waits for a part that stretches it.
    fn clock_up(&mut self) -> Result<(), BusError> {
        infallible(self.scl.set_high());
        for _ in 0..STRETCH_MAX_QUARTERS {
            quarter_bit();
            if infallible(self.scl.is_high()) {
                return Ok(());
            }
        }
        Err(BusError::LineHeldLow)
    }

    /// Transfers one bit: sends it and returns the level of the data line.
    fn bit(&mut self, high: bool) -> Result<bool, BusError> {
        if high {
            infallible(self.sda.set_high())
        } else {
            infallible(self.sda.set_low())
        }
        quarter_bit();
        self.clock_up()?;
        let seen = infallible(self.sda.is_high());
        quarter_bit();
        infallible(self.scl.set_low());
        quarter_bit();
        Ok(seen)
    }

    fn start(&mut self) -> Result<(), BusError> {
        infallible(self.sda.set_high());
        quarter_bit();
        self.clock_up()?;
        if infallible(self.sda.is_low()) {
            return Err(BusError::LineHeldLow);
        }
        infallible(self.sda.set_low());
        quarter_bit();
        infallible(self.scl.set_low());
        quarter_bit();
        Ok(())
    }

    /// Returns the bus to idle: a part that was interrupted within a byte is clocked until it releases
    /// the data line.
    fn stop(&mut self) {
        infallible(self.sda.set_high());
        quarter_bit();
        for _ in 0..9 {
            if infallible(self.sda.is_high()) || self.bit(true).is_err() {
                break;
            }
        }
        infallible(self.sda.set_low());
        quarter_bit();
        // A clock that is still held is detected by the next start.
        let _ = self.clock_up();
        infallible(self.sda.set_high());
        quarter_bit();
    }

    fn send(&mut self, byte: u8, source: NoAcknowledgeSource) -> Result<(), BusError> {
        for bit in (0..8).rev() {
            self.bit(byte & 1u8.wrapping_shl(bit) != 0)?;
        }
        if self.bit(true)? { Err(BusError::NoAnswer(source)) } else { Ok(()) }
    }

    /// Receives a byte; `nack` after the last one tells the part to stop.
    fn receive(&mut self, nack: bool) -> Result<u8, BusError> {
        let mut byte = 0u8;
        for _ in 0..8 {
            byte = byte.wrapping_shl(1) | u8::from(self.bit(true)?);
        }
        self.bit(nack)?;
        Ok(byte)
    }

    fn exchange(
        &mut self,
        address: u8,
        operations: &mut [Operation<'_>],
    ) -> Result<(), BusError> {
        let address = address.wrapping_shl(1);
        for operation in operations {
            self.start()?;
            match operation {
                Operation::Write(bytes) => {
                    self.send(address, NoAcknowledgeSource::Address)?;
                    for byte in *bytes {
                        self.send(*byte, NoAcknowledgeSource::Data)?;
                    }
                }
                Operation::Read(buffer) => {
                    self.send(address | 1, NoAcknowledgeSource::Address)?;
                    let mut rest = buffer.iter_mut();
                    while let Some(byte) = rest.next() {
                        *byte = self.receive(rest.len() == 0)?;
                    }
                }
            }
        }
        Ok(())
    }
}

impl<C, D> i2c::ErrorType for SlowBus<C, D> {
    type Error = BusError;
}

impl<C, D> I2c<SevenBitAddress> for SlowBus<C, D>
where
    C: InputPin<Error = Infallible> + OutputPin<Error = Infallible>,
    D: InputPin<Error = Infallible> + OutputPin<Error = Infallible>,
{
    /// Each operation begins with its own start. The trait would join two consecutive writes, which no
    /// driver here uses.
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [Operation<'_>],
    ) -> Result<(), BusError> {
        let result = self.exchange(address, operations);
        self.stop();
        result
    }
}
