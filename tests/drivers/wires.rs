//! Wires from the drivers' traits to the chips' registers, which a test can break.

use std::cell::{Cell, RefCell};
use std::convert::Infallible;
use std::rc::Rc;

use embedded_hal::digital::{self, InputPin, OutputPin};
use embedded_hal::i2c::{self, I2c};
use embedded_hal::spi::{self, Operation, SpiDevice};
use saggar_bench::chips::ads1115::Ads1115Model;
use saggar_bench::chips::ads1220::Ads1220Model;
use saggar_bench::chips::max31856::Max31856Model;
use saggar_bench::chips::{ChipFault, Terminals};

/// Addresses of the two slow converters.
pub(super) const GAUGE_AT: u8 = 0x48;
pub(super) const SENSOR_AT: u8 = 0x49;

/// Counts down the transactions of all buses to the one that fails.
type Fuse = Rc<Cell<Option<u32>>>;

fn blows(fuse: &Fuse) -> bool {
    let left = fuse.get();
    fuse.set(left.and_then(|left| left.checked_sub(1)));
    left == Some(0)
}

/// A chip with several wires.
#[derive(Clone, Default)]
pub(super) struct Shared<T> {
    pub(super) chip: Rc<RefCell<T>>,
    /// The level at which the chip's data line is stuck. It still hears what it is told.
    pub(super) stuck: Rc<Cell<Option<u8>>>,
    fuse: Fuse,
}

impl<T> Shared<T> {
    pub(super) fn spi(&self) -> SpiWire<T> {
        let Self { chip, stuck, fuse } = self;
        SpiWire { chip: Rc::clone(chip), stuck: Rc::clone(stuck), fuse: Rc::clone(fuse) }
    }
}

/// The four chips of a board.
#[derive(Clone, Default)]
pub(super) struct Chips {
    pub(super) control: Shared<Ads1220Model>,
    pub(super) limit: Shared<Max31856Model>,
    pub(super) gauge: Rc<RefCell<Ads1115Model>>,
    pub(super) sensor: Rc<RefCell<Ads1115Model>>,
    pub(super) fuse: Fuse,
}

impl Chips {
    pub(super) fn new() -> Self {
        let mut new = Self::default();
        new.control.fuse = Rc::clone(&new.fuse);
        new.limit.fuse = Rc::clone(&new.fuse);
        new
    }

    /// Healthy chips with equal signals on both thermocouples.
    pub(super) fn set(&self, terminals: Terminals) {
        self.control.chip.borrow_mut().set(terminals, ChipFault::None);
        self.limit.chip.borrow_mut().set(terminals, ChipFault::None);
    }

    pub(super) fn tick(&self) {
        self.control.chip.borrow_mut().tick();
        self.limit.chip.borrow_mut().tick();
        self.gauge.borrow_mut().tick();
        self.sensor.borrow_mut().tick();
    }

    pub(super) fn i2c(&self) -> I2cWire {
        I2cWire { chips: self.clone() }
    }
}

/// A chip on an SPI bus.
pub(super) trait OnSpi {
    fn exchange(&mut self, mosi: &[u8], miso: &mut [u8]);
}

impl OnSpi for Ads1220Model {
    fn exchange(&mut self, mosi: &[u8], miso: &mut [u8]) {
        self.transfer(mosi, miso);
    }
}

impl OnSpi for Max31856Model {
    fn exchange(&mut self, mosi: &[u8], miso: &mut [u8]) {
        self.transfer(mosi, miso);
    }
}

pub(super) struct SpiWire<T> {
    chip: Rc<RefCell<T>>,
    stuck: Rc<Cell<Option<u8>>>,
    fuse: Fuse,
}

impl<T> spi::ErrorType for SpiWire<T> {
    type Error = spi::ErrorKind;
}

impl<T: OnSpi> SpiDevice for SpiWire<T> {
    fn transaction(&mut self, steps: &mut [Operation<'_, u8>]) -> Result<(), spi::ErrorKind> {
        if blows(&self.fuse) {
            return Err(spi::ErrorKind::Other);
        }
        let [step] = steps else { panic!("the drivers do one thing a transaction") };
        match step {
            Operation::TransferInPlace(bytes) => {
                let mosi = bytes.to_vec();
                self.chip.borrow_mut().exchange(&mosi, bytes);
                if let Some(level) = self.stuck.get() {
                    bytes.fill(level);
                }
            }
            Operation::Write(bytes) => {
                self.chip.borrow_mut().exchange(bytes, &mut vec![0; bytes.len()]);
            }
            Operation::Read(_) | Operation::Transfer(..) | Operation::DelayNs(_) => {
                panic!("not used by the drivers")
            }
        }
        Ok(())
    }
}

pub(super) struct I2cWire {
    chips: Chips,
}

impl i2c::ErrorType for I2cWire {
    type Error = i2c::ErrorKind;
}

impl I2c for I2cWire {
    fn transaction(
        &mut self,
        address: u8,
        steps: &mut [i2c::Operation<'_>],
    ) -> Result<(), i2c::ErrorKind> {
        if blows(&self.chips.fuse) {
            return Err(i2c::ErrorKind::Bus);
        }
        let mut chip = match address {
            GAUGE_AT => self.chips.gauge.borrow_mut(),
            SENSOR_AT => self.chips.sensor.borrow_mut(),
            other => panic!("nobody at {other:#04x}"),
        };
        for step in steps {
            let done = match step {
                i2c::Operation::Write(bytes) => chip.write(bytes),
                i2c::Operation::Read(bytes) => chip.read(bytes),
            };
            let missing = i2c::NoAcknowledgeSource::Address;
            done.map_err(|_| i2c::ErrorKind::NoAcknowledge(missing))?;
        }
        Ok(())
    }
}

/// A chip's data-ready pin.
pub(super) enum Ready {
    Control(Chips),
    Limit(Chips),
}

/// An input: a data-ready pin, or a level that does not change.
pub(super) enum Input {
    Ready(Ready),
    Level(bool),
}

impl digital::ErrorType for Input {
    type Error = Infallible;
}

impl InputPin for Input {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        self.is_low().map(|low| !low)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(match self {
            Self::Ready(Ready::Control(chips)) => chips.control.chip.borrow().data_ready_low(),
            Self::Ready(Ready::Limit(chips)) => chips.limit.chip.borrow().data_ready_low(),
            Self::Level(high) => !*high,
        })
    }
}

/// An output that is not connected.
pub(super) struct Output;

impl digital::ErrorType for Output {
    type Error = Infallible;
}

impl OutputPin for Output {
    fn set_low(&mut self) -> Result<(), Infallible> {
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}
