//! The firmware in this process: the same device and the same drivers as on a board, on the bench's
//! parts.

use std::cell::RefCell;
use std::convert::Infallible;
use std::rc::Rc;
use std::time::Instant as Clock;

use embedded_hal::digital::{self, InputPin, OutputPin};
use embedded_hal::i2c::{self, I2c};
use embedded_hal::spi::{self, SpiDevice};
use saggar_core::controller::Status;
use saggar_core::events::Event;
use saggar_core::programme::Image;
use saggar_core::sequencer::State;
use saggar_core::units::Instant;
use saggar_device::wire::{DRAWN_BYTES, FRAME_BYTES_MAX};
use saggar_device::{Announcement, BootError, Device};
use saggar_drivers::Board;
use saggar_lockstep::{EXCHANGE_MAX, Exchange, Input, NoAnswer, Output, Part};

use super::Error;
use super::bench::Bench;
use super::brain::Brain;
use super::disk::Disk;
use super::memory::Memory;

/// The bench as the parts share it.
type Shared = Rc<RefCell<Bench>>;

/// Device and board.
pub struct Local {
    device: Device<Memory>,
    /// Where its flash lies, if it is kept.
    disk: Option<Rc<Disk>>,
    board: Board<Bus, Bus, Bus, In, Out>,
    bench: Shared,
    half_cycles: u32,
    events: Vec<Event>,
}

impl Local {
    /// Firmware that comes up from this flash.
    ///
    /// # Errors
    /// It does not come up.
    pub fn boot(flash: Memory) -> Result<Self, Error> {
        let disk = flash.disk();
        let device =
            Device::boot(flash, saggar_lockstep::layout(), drawn).map_err(|why| match why {
                BootError::Flash(_) => Error::Flash,
                BootError::NoSettings => Error::NoSettings,
            })?;
        let bench = Shared::default();
        let furnace = device.controller().furnace();
        let parts = saggar_lockstep::parts(
            furnace,
            |part| Bus(part, Rc::clone(&bench)),
            |pin| In(pin, Rc::clone(&bench)),
            |pin| Out(pin, Rc::clone(&bench)),
        );
        let mut board = Board::new(parts, &saggar_lockstep::settings(furnace));
        board.safe();
        let half_cycles = u32::from(device.controller().cycles_per_tick()) * 2;
        Ok(Self { device, disk, board, bench, half_cycles, events: Vec::new() })
    }

    /// All that the device has to say.
    fn say(&mut self, tx: &mut Vec<u8>) {
        let mut frame = [0; FRAME_BYTES_MAX];
        while let Some(bytes) = self.device.transmit(&mut frame) {
            tx.extend(frame.iter().take(bytes));
        }
    }
}

/// A number from the system. Without one the digits have to do.
fn drawn() -> Option<[u8; DRAWN_BYTES]> {
    let mut number = [0; DRAWN_BYTES];
    getrandom::fill(&mut number).ok().map(|()| number)
}

impl Brain for Local {
    fn tick(&mut self, now_ms: u64, bench: &mut Bench, tx: &mut Vec<u8>) -> Result<(), Error> {
        let now = Instant::from_millis(now_ms);
        std::mem::swap(bench, &mut self.bench.borrow_mut());
        let inputs = self.board.read();
        let events = &mut self.events;
        let outputs = self.device.step(now, &inputs, |event| events.push(*event));
        if let Ok(written) = self.board.write(&outputs) {
            // The bench's pins do not fail.
            let _ = self.board.kick(written);
        }
        for half in 0..self.half_cycles {
            self.board.zero_crossing();
            self.bench.borrow_mut().half_cycle(half);
        }
        std::mem::swap(bench, &mut self.bench.borrow_mut());
        self.say(tx);
        Ok(())
    }

    fn hear(&mut self, now_ms: u64, frame: &[u8], tx: &mut Vec<u8>) -> Result<(), Error> {
        self.device.receive(Instant::from_millis(now_ms), frame);
        self.say(tx);
        Ok(())
    }

    fn keep(&mut self, at_once: bool) -> Result<(), Error> {
        if let Some(disk) = &self.disk {
            disk.keep(at_once, Clock::now()).map_err(Error::Kept)?;
        }
        Ok(())
    }

    fn status(&self) -> Status {
        self.device.controller().status()
    }

    fn state(&self) -> &State {
        self.device.controller().state()
    }

    fn programme(&self) -> Option<&Image> {
        self.device.controller().programme()
    }

    fn announcement(&self) -> Announcement {
        self.device.announcement()
    }

    fn events(&mut self) -> Vec<Event> {
        std::mem::take(&mut self.events)
    }
}

/// A bus of the bench.
struct Bus(Part, Shared);

impl Bus {
    fn exchange(&self, sent: &[u8], back: &mut [u8]) -> Result<(), NoAnswer> {
        let question = Exchange::asking(self.0, sent, back.len()).ok_or(NoAnswer)?;
        let answer = self.1.borrow_mut().exchange(&question);
        answer.fetch(back);
        if answer.answered() { Ok(()) } else { Err(NoAnswer) }
    }
}

impl spi::ErrorType for Bus {
    type Error = NoAnswer;
}

impl i2c::ErrorType for Bus {
    type Error = NoAnswer;
}

impl SpiDevice for Bus {
    /// One operation under one chip select, which is all that the drivers do.
    fn transaction(
        &mut self,
        operations: &mut [spi::Operation<'_, u8>],
    ) -> Result<(), NoAnswer> {
        let mut room = [0; EXCHANGE_MAX];
        match operations {
            [spi::Operation::TransferInPlace(bytes)] => {
                let sent = room.get_mut(..bytes.len()).ok_or(NoAnswer)?;
                sent.copy_from_slice(bytes);
                self.exchange(sent, bytes)
            }
            [spi::Operation::Write(sent)] => {
                self.exchange(sent, room.get_mut(..sent.len()).ok_or(NoAnswer)?)
            }
            _ => Err(NoAnswer),
        }
    }
}

impl I2c for Bus {
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [i2c::Operation<'_>],
    ) -> Result<(), NoAnswer> {
        let (sent, back): (&[u8], &mut [u8]) = match operations {
            [i2c::Operation::Write(sent)] => (sent, &mut []),
            [i2c::Operation::Read(back)] => (&[], back),
            [i2c::Operation::Write(sent), i2c::Operation::Read(back)] => (sent, back),
            _ => return Err(NoAnswer),
        };
        let out: Vec<u8> = std::iter::once(address).chain(sent.iter().copied()).collect();
        self.exchange(&out, back)
    }
}

/// An input pin.
struct In(Input, Shared);

/// An output pin.
struct Out(Output, Shared);

impl digital::ErrorType for In {
    type Error = Infallible;
}

impl digital::ErrorType for Out {
    type Error = Infallible;
}

impl InputPin for In {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.1.borrow().pins() & self.0.bit() != 0)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

impl OutputPin for Out {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.1.borrow_mut().drive(self.0, false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.1.borrow_mut().drive(self.0, true);
        Ok(())
    }
}
