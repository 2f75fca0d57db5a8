//! The firmware in this process: the same device and drivers as on a board, on modelled chips.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::convert::Infallible;
use std::rc::Rc;

use embedded_hal::digital::{self, InputPin, OutputPin};
use embedded_hal::i2c::{self, I2c};
use embedded_hal::spi::{self, SpiDevice};
use saggar_core::Controller;
use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::units::Instant;
use saggar_device::wire::{FRAME_BYTES_MAX, RANDOM_BYTES};
use saggar_device::{Announcement, BootError, Device, IgnoredPress};
use saggar_drivers::Board;
use saggar_lockstep::{BusTransfer, Input, NoResponseError, Output, Part, TRANSFER_BYTES_MAX};
use saggar_plant::faults::{FlashArea, MemoryFault};

use super::wiring::Wiring;
use super::{Firmware, LinkedFirmware, core};
use crate::BenchError;
use crate::flash::SimulatedFlash;

/// The wiring, shared by all buses and pins.
type SharedWiring = Rc<RefCell<Wiring>>;

/// A device on a board of modelled chips.
pub struct SimulatedBoard {
    device: Device<SimulatedFlash>,
    board: WiredBoard,
    wires: SharedWiring,
    /// Zero crossings of the mains in a tick.
    nominal_crossings: u32,
    events: VecDeque<Event>,
    /// The device's flash, which outlives it.
    flash: SimulatedFlash,
}

type WiredBoard = Board<WiredBus, WiredBus, WiredBus, WiredInput, WiredOutput>;

impl SimulatedBoard {
    /// Boots the firmware from this flash.
    ///
    /// # Errors
    /// The flash cannot be used, or holds no settings.
    pub fn boot(flash: SimulatedFlash) -> Result<Self, BenchError> {
        Self::boot_on(flash, SharedWiring::default())
    }

    fn boot_on(flash: SimulatedFlash, wires: SharedWiring) -> Result<Self, BenchError> {
        let chip = flash.same_chip();
        let device = Device::boot(chip, saggar_lockstep::flash_layout(), random_number)
            .map_err(|why| match why {
                BootError::Flash(_) => BenchError::Flash,
                BootError::NoSettings => BenchError::NoSettings,
                BootError::OtherSettings(version) => BenchError::OtherSettings(version),
            })?;
        let furnace = device.controller().furnace();
        let parts = saggar_lockstep::board_parts(
            furnace,
            |part| WiredBus(part, Rc::clone(&wires)),
            |pin| WiredInput(pin, Rc::clone(&wires)),
            |pin| WiredOutput(pin, Rc::clone(&wires)),
        );
        let mut board = Board::new(parts, &saggar_lockstep::board_settings(furnace));
        board.safe();
        let nominal_crossings = u32::from(device.controller().cycles_per_tick()) * 2;
        Ok(Self { device, board, wires, nominal_crossings, events: VecDeque::new(), flash })
    }
}

/// A random number from the operating system. `None` leaves the device with its counters alone.
fn random_number() -> Option<[u8; RANDOM_BYTES]> {
    let mut number = [0; RANDOM_BYTES];
    getrandom::fill(&mut number).ok().map(|()| number)
}

impl Firmware for SimulatedBoard {
    type Error = BenchError;

    const CAN_FLIP_MEMORY: bool = true;

    fn flip_memory(&mut self, fault: MemoryFault) {
        core::flip_memory(self.device.controller_mut(), fault);
    }

    fn tick(&mut self, now: Instant, inputs: &mut Inputs) -> Result<Outputs, BenchError> {
        self.wires.borrow_mut().set_inputs(inputs);
        *inputs = self.board.read();
        let events = &mut self.events;
        let outputs = self.device.step(now, inputs, |event| events.push_back(*event));
        if let Ok(written) = self.board.write(&outputs) {
            // The error is ignored: the modelled pins never fail.
            let _ = self.board.kick(written);
        }
        let crossings = self.wires.borrow().mains_crossings().map(u32::from);
        for half in 0..crossings.unwrap_or(self.nominal_crossings) {
            self.board.zero_crossing();
            self.wires.borrow_mut().half_cycle(half);
        }
        Ok(self.wires.borrow_mut().end_tick())
    }

    fn core(&self) -> &Controller {
        self.device.controller()
    }

    fn take_event(&mut self) -> Option<Event> {
        self.events.pop_front()
    }

    fn announcement(&self) -> Announcement {
        self.device.announcement()
    }

    fn ignored_press(&self) -> Option<IgnoredPress> {
        self.device.ignored_press()
    }
}

impl LinkedFirmware for SimulatedBoard {
    fn drain_output(&mut self, output: &mut Vec<u8>) {
        let mut frame = [0; FRAME_BYTES_MAX];
        while let Some(bytes) = self.device.transmit(&mut frame) {
            output.extend(frame.iter().take(bytes));
        }
    }

    fn receive(
        &mut self,
        now: Instant,
        frame: &[u8],
        output: &mut Vec<u8>,
    ) -> Result<(), BenchError> {
        self.device.receive(now, frame);
        self.drain_output(output);
        Ok(())
    }

    /// Nothing to do: the firmware writes straight to this flash.
    fn sync_flash(&mut self) -> Result<(), BenchError> {
        Ok(())
    }

    const CAN_REBOOT: bool = true;

    /// The drive of the lift or door stays as it was.
    fn reboot(&mut self) -> Result<(), BenchError> {
        let wires = self.wires.borrow().switched_off();
        *self = Self::boot_on(self.flash.same_chip(), Rc::new(RefCell::new(wires)))?;
        Ok(())
    }

    fn flip_flash(&mut self, area: FlashArea) -> Result<bool, BenchError> {
        self.flash.flip_bit(area).map_err(|_| BenchError::Flash)
    }
}

/// The bus of one chip.
struct WiredBus(Part, SharedWiring);

impl WiredBus {
    fn exchange(&self, sent: &[u8], reply: &mut [u8]) -> Result<(), NoResponseError> {
        let request = BusTransfer::request(self.0, sent, reply.len()).ok_or(NoResponseError)?;
        let replied = self.1.borrow_mut().exchange(&request);
        replied.copy_reply(reply);
        if replied.is_answered() { Ok(()) } else { Err(NoResponseError) }
    }
}

impl spi::ErrorType for WiredBus {
    type Error = NoResponseError;
}

impl i2c::ErrorType for WiredBus {
    type Error = NoResponseError;
}

impl SpiDevice for WiredBus {
    /// Supports the drivers' transactions only: a single operation under one chip select.
    fn transaction(
        &mut self,
        operations: &mut [spi::Operation<'_, u8>],
    ) -> Result<(), NoResponseError> {
        let mut buffer = [0; TRANSFER_BYTES_MAX];
        match operations {
            [spi::Operation::TransferInPlace(bytes)] => {
                let sent = buffer.get_mut(..bytes.len()).ok_or(NoResponseError)?;
                sent.copy_from_slice(bytes);
                self.exchange(sent, bytes)
            }
            [spi::Operation::Write(sent)] => {
                self.exchange(sent, buffer.get_mut(..sent.len()).ok_or(NoResponseError)?)
            }
            _ => Err(NoResponseError),
        }
    }
}

impl I2c for WiredBus {
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [i2c::Operation<'_>],
    ) -> Result<(), NoResponseError> {
        let (sent, reply): (&[u8], &mut [u8]) = match operations {
            [i2c::Operation::Write(sent)] => (sent, &mut []),
            [i2c::Operation::Read(reply)] => (&[], reply),
            [i2c::Operation::Write(sent), i2c::Operation::Read(reply)] => (sent, reply),
            _ => return Err(NoResponseError),
        };
        let out: Vec<u8> = std::iter::once(address).chain(sent.iter().copied()).collect();
        self.exchange(&out, reply)
    }
}

/// An input pin.
struct WiredInput(Input, SharedWiring);

/// An output pin.
struct WiredOutput(Output, SharedWiring);

impl digital::ErrorType for WiredInput {
    type Error = Infallible;
}

impl digital::ErrorType for WiredOutput {
    type Error = Infallible;
}

impl InputPin for WiredInput {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.1.borrow().pins() & self.0.bit() != 0)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

impl OutputPin for WiredOutput {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.1.borrow_mut().drive(self.0, false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.1.borrow_mut().drive(self.0, true);
        Ok(())
    }
}
