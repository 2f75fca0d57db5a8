//! Buses and pins of the board for `embedded-hal`, all through the window.

use core::cell::Cell;
use core::convert::Infallible;

use embedded_hal::digital::{self, InputPin, OutputPin};
use embedded_hal::i2c::{self, I2c, SevenBitAddress};
use embedded_hal::spi::{self, SpiDevice};
use saggar_lockstep::{
    BusTransfer, HALF_CYCLE_COUNT, HALF_CYCLES, Input, NoResponseError, Output, PINS_IN,
    PINS_OUT, Part, REPLY, REPLY_NUMBER, REQUEST, REQUEST_NUMBER, SCRIPT, SCRIPT_LEN,
    SCRIPT_MAX, SCRIPT_USED, TRANSFER_BYTES, TRANSFER_BYTES_MAX,
};

use crate::window;

/// State that all parts of the board share.
pub struct WindowWires {
    inputs: Cell<u32>,
    outputs: Cell<u32>,
    /// The next transfer of the script.
    next: Cell<u32>,
    asked: Cell<u32>,
    half_cycles: Cell<(u32, u32)>,
}

impl WindowWires {
    /// All pins low.
    pub const fn new() -> Self {
        Self {
            inputs: Cell::new(0),
            outputs: Cell::new(0),
            next: Cell::new(0),
            asked: Cell::new(0),
            half_cycles: Cell::new((0, 0)),
        }
    }

    /// Begins a tick: reads the input pins.
    pub fn begin(&self) {
        self.inputs.set(window::read(PINS_IN));
        self.next.set(0);
        self.half_cycles.set((0, 0));
    }

    /// Records the heater's pin for a half-cycle of the mains.
    pub fn half_cycle(&self) {
        let (bits, count) = self.half_cycles.get();
        let on = u32::from(self.outputs.get() & Output::Heater.bit() != 0);
        self.half_cycles.set((bits | on.wrapping_shl(count), count.wrapping_add(1)));
    }

    /// Ends a tick: publishes the pins.
    pub fn end(&self) {
        let (bits, count) = self.half_cycles.get();
        window::write(HALF_CYCLES, bits);
        window::write(HALF_CYCLE_COUNT, count);
        window::write(PINS_OUT, self.outputs.get());
        window::write(SCRIPT_USED, self.next.get());
    }

    /// Transfers bytes to and from a part. If the script predicted this transfer, its answer is there
    /// already.
    fn exchange(&self, part: Part, out: &[u8], wanted: usize) -> Option<BusTransfer> {
        let question = BusTransfer::request(part, out, wanted)?;
        let next = self.next.get();
        self.next.set(next.wrapping_add(1));
        let foreseen = (next as usize) < SCRIPT_MAX && next < window::read(SCRIPT_LEN);
        if foreseen {
            let entry = BusTransfer(window::words(
                SCRIPT.wrapping_add((next as usize).wrapping_mul(TRANSFER_BYTES)),
            ));
            if entry.has_same_request(&question) {
                self.inputs.set(entry.pins());
                return Some(entry).filter(BusTransfer::is_answered);
            }
        }
        let number = self.asked.get().wrapping_add(1);
        self.asked.set(number);
        window::set_words(REQUEST, &question.0);
        window::write(SCRIPT_USED, next);
        window::publish(REQUEST_NUMBER, number);
        while window::read(REPLY_NUMBER) != number {}
        let answer = BusTransfer(window::words(REPLY));
        self.inputs.set(answer.pins());
        Some(answer).filter(BusTransfer::is_answered)
    }
}

/// A bus with one part, or the slow bus with two.
pub struct WindowBus<'a> {
    /// The part on the bus.
    pub part: Part,
    /// The board's wires.
    pub wires: &'a WindowWires,
}

impl spi::ErrorType for WindowBus<'_> {
    type Error = NoResponseError;
}

impl i2c::ErrorType for WindowBus<'_> {
    type Error = NoResponseError;
}

impl SpiDevice for WindowBus<'_> {
    /// All operations under one chip select, as one transfer.
    fn transaction(
        &mut self,
        operations: &mut [spi::Operation<'_, u8>],
    ) -> Result<(), NoResponseError> {
        let mut out = [0u8; TRANSFER_BYTES_MAX];
        let mut length = 0usize;
        for operation in operations.iter() {
            let (sent, bytes): (&[u8], usize) = match operation {
                spi::Operation::Read(room) => (&[], room.len()),
                spi::Operation::Write(sent) => (sent, sent.len()),
                spi::Operation::Transfer(room, sent) => (sent, room.len().max(sent.len())),
                spi::Operation::TransferInPlace(room) => (room, room.len()),
                spi::Operation::DelayNs(_) => (&[], 0),
            };
            let to = length.checked_add(bytes).ok_or(NoResponseError)?;
            let place = out.get_mut(length..to).ok_or(NoResponseError)?;
            for (place, byte) in place.iter_mut().zip(sent) {
                *place = *byte;
            }
            length = to;
        }
        let sent = out.get(..length).ok_or(NoResponseError)?;
        let answer = self.wires.exchange(self.part, sent, length).ok_or(NoResponseError)?;
        let mut back = [0u8; TRANSFER_BYTES_MAX];
        answer.copy_reply(&mut back);
        let mut back = back.iter();
        for operation in operations.iter_mut() {
            let (room, bytes): (&mut [u8], usize) = match operation {
                spi::Operation::Read(room) => (room, 0),
                spi::Operation::Write(sent) => (&mut [], sent.len()),
                spi::Operation::Transfer(room, sent) => {
                    let more = sent.len().saturating_sub(room.len());
                    (room, more)
                }
                spi::Operation::TransferInPlace(room) => (room, 0),
                spi::Operation::DelayNs(_) => (&mut [], 0),
            };
            for (place, byte) in room.iter_mut().zip(back.by_ref()) {
                *place = *byte;
            }
            for _ in back.by_ref().take(bytes) {}
        }
        Ok(())
    }
}

impl I2c<SevenBitAddress> for WindowBus<'_> {
    /// A write, a read, or a read after a write, which is all that the parts here need.
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [i2c::Operation<'_>],
    ) -> Result<(), NoResponseError> {
        let mut out = [0u8; TRANSFER_BYTES_MAX];
        let (sent, room): (&[u8], &mut [u8]) = match operations {
            [i2c::Operation::Write(sent)] => (sent, &mut []),
            [i2c::Operation::Read(room)] => (&[], room),
            [i2c::Operation::Write(sent), i2c::Operation::Read(room)] => (sent, room),
            _ => return Err(NoResponseError),
        };
        let length = sent.len().checked_add(1).ok_or(NoResponseError)?;
        let line = core::iter::once(&address).chain(sent);
        for (place, byte) in out.get_mut(..length).ok_or(NoResponseError)?.iter_mut().zip(line)
        {
            *place = *byte;
        }
        let sent = out.get(..length).ok_or(NoResponseError)?;
        let answer = self.wires.exchange(self.part, sent, room.len()).ok_or(NoResponseError)?;
        answer.copy_reply(room);
        Ok(())
    }
}

/// An input pin.
pub struct WindowInput<'a>(pub Input, pub &'a WindowWires);

/// An output pin.
pub struct WindowOutput<'a>(pub Output, pub &'a WindowWires);

impl digital::ErrorType for WindowInput<'_> {
    type Error = Infallible;
}

impl digital::ErrorType for WindowOutput<'_> {
    type Error = Infallible;
}

impl InputPin for WindowInput<'_> {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.1.inputs.get() & self.0.bit() != 0)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

impl OutputPin for WindowOutput<'_> {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.1.outputs.set(self.1.outputs.get() & !self.0.bit());
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.1.outputs.set(self.1.outputs.get() | self.0.bit());
        Ok(())
    }
}
