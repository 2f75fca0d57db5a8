//! The I²C bus of the slow converters, on two open-drain pins by software: every wait has an end.
//!
//! The HAL's own bus waits for ever on a data line that is held low, and a pinched cable of the
//! pressure gauge must not stop the control of the heat. At about 100 kHz the four exchanges of a
//! tick take about 2 ms.

use core::convert::Infallible;

use embedded_hal::digital::{InputPin, OutputPin};
use embedded_hal::i2c::{
    self, ErrorKind, I2c, NoAcknowledgeSource, Operation, SevenBitAddress,
};

/// A quarter of a bit (processor cycles): 1.25 µs at 168 MHz, or up to twice that by what the delay
/// promises. The parts bear 400 kHz.
const QUARTER_BIT_CYCLES: u32 = 210;

/// Quarters for which a part may hold the clock.
const STRETCH_MAX_QUARTERS: u32 = 40;

/// Clock and data, both open-drain with pull-up resistors.
pub struct SlowBus<C, D> {
    scl: C,
    sda: D,
}

/// Why an exchange came to nothing.
#[derive(Clone, Copy, Debug)]
pub enum BusError {
    /// A line is held low.
    LineHeldLow,
    /// Nobody answers, or not to this.
    NoAnswer(NoAcknowledgeSource),
}

impl i2c::Error for BusError {
    fn kind(&self) -> ErrorKind {
        match self {
            Self::LineHeldLow => ErrorKind::Bus,
            Self::NoAnswer(what) => ErrorKind::NoAcknowledge(*what),
        }
    }
}

fn quarter_bit() {
    cortex_m::asm::delay(QUARTER_BIT_CYCLES);
}

/// A pin of the processor cannot fail.
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
    /// A bus at rest: both pins high.
    pub fn new(mut scl: C, mut sda: D) -> Self {
        infallible(sda.set_high());
        infallible(scl.set_high());
        Self { scl, sda }
    }

    /// Lets the clock go up, and waits for a part that holds it.
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

    /// One bit: what is sent, and what the line showed.
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

    /// Leaves the bus at rest, if the parts let it: a part that was cut off within a byte is
    /// clocked on until it lets go of the data.
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
        // A clock that is held is found again by the next start.
        let _ = self.clock_up();
        infallible(self.sda.set_high());
        quarter_bit();
    }

    fn send(&mut self, byte: u8, what: NoAcknowledgeSource) -> Result<(), BusError> {
        for place in (0..8).rev() {
            self.bit(byte & 1u8.wrapping_shl(place) != 0)?;
        }
        if self.bit(true)? { Err(BusError::NoAnswer(what)) } else { Ok(()) }
    }

    fn fetch(&mut self, last: bool) -> Result<u8, BusError> {
        let mut byte = 0u8;
        for _ in 0..8 {
            byte = byte.wrapping_shl(1) | u8::from(self.bit(true)?);
        }
        self.bit(last)?;
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
                Operation::Read(room) => {
                    self.send(address | 1, NoAcknowledgeSource::Address)?;
                    let mut room = room.iter_mut();
                    while let Some(byte) = room.next() {
                        *byte = self.fetch(room.len() == 0)?;
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
    /// Each operation begins with its own start; two writes in a row, which the trait would join
    /// to one, no part here asks for.
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [Operation<'_>],
    ) -> Result<(), BusError> {
        let done = self.exchange(address, operations);
        self.stop();
        done
    }
}
