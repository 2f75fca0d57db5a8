//! A bus that fails on request, scripts for the mocks, and a pin that records its levels.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use embedded_hal::digital::{self, InputPin, OutputPin};
use embedded_hal::spi::{self, Operation, SpiDevice};
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock as MockPin, State, Transaction as PinStep};
use embedded_hal_mock::eh1::spi::{Mock, Transaction};

/// A scripted data-ready pin: L is low, H high, anything else an error.
pub(crate) fn levels(levels: &str) -> MockPin {
    let steps: Vec<_> = levels
        .chars()
        .map(|level| match level {
            'L' => PinStep::get(State::Low),
            'H' => PinStep::get(State::High),
            _ => PinStep::get(State::High).with_error(MockError::Io(std::io::ErrorKind::Other)),
        })
        .collect();
    MockPin::new(&steps)
}

/// One SPI transaction: a transfer, or only a write if the answer is empty.
#[derive(Clone)]
pub(crate) struct Frame {
    pub(crate) sent: Vec<u8>,
    pub(crate) answer: Vec<u8>,
}

impl Frame {
    /// The same with bits of one byte of the answer flipped.
    pub(crate) fn with(&self, byte: usize, flip: u8) -> Self {
        let mut new = self.clone();
        new.answer[byte] ^= flip;
        new
    }

    /// The same on a data line stuck at one level.
    pub(crate) fn hanging(&self, level: u8) -> Self {
        Self { sent: self.sent.clone(), answer: vec![level; self.sent.len()] }
    }
}

/// A scripted SPI.
pub(crate) fn bus(frames: &[Frame]) -> Mock<u8> {
    let steps = frames.iter().flat_map(|Frame { sent, answer }| {
        let step = if answer.is_empty() {
            Transaction::write_vec(sent.clone())
        } else {
            Transaction::transfer_in_place(sent.clone(), answer.clone())
        };
        [Transaction::transaction_start(), step, Transaction::transaction_end()]
    });
    Mock::new(&steps.collect::<Vec<_>>())
}

/// An SPI whose n-th transaction fails before it reaches the script.
pub(crate) struct Breaking {
    script: Mock<u8>,
    until: Option<usize>,
}

impl Breaking {
    pub(crate) fn new(script: &Mock<u8>, nth: Option<usize>) -> Self {
        Self { script: script.clone(), until: nth }
    }
}

impl spi::ErrorType for Breaking {
    type Error = spi::ErrorKind;
}

impl SpiDevice for Breaking {
    fn transaction(&mut self, steps: &mut [Operation<'_, u8>]) -> Result<(), spi::ErrorKind> {
        match self.until {
            Some(0) => {
                self.until = None;
                return Err(spi::ErrorKind::Other);
            }
            Some(left) => self.until = Some(left - 1),
            None => {}
        }
        SpiDevice::transaction(&mut self.script, steps)
    }
}

/// A pin that a test can look at, set and break. Clones are the same pin.
#[derive(Clone, Debug, Default)]
pub(crate) struct Pin {
    pub(crate) high: Rc<Cell<bool>>,
    pub(crate) broken: Rc<Cell<bool>>,
    /// Every level that it was set to, or tried to be.
    pub(crate) history: Rc<RefCell<Vec<bool>>>,
}

impl Pin {
    pub(crate) fn new(high: bool) -> Self {
        let new = Self::default();
        new.high.set(high);
        new
    }

    fn go(&self, high: bool) -> Result<(), digital::ErrorKind> {
        self.history.borrow_mut().push(high);
        if self.broken.get() {
            return Err(digital::ErrorKind::Other);
        }
        self.high.set(high);
        Ok(())
    }

    fn level(&self) -> Result<bool, digital::ErrorKind> {
        if self.broken.get() { Err(digital::ErrorKind::Other) } else { Ok(self.high.get()) }
    }
}

impl digital::ErrorType for Pin {
    type Error = digital::ErrorKind;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), digital::ErrorKind> {
        self.go(false)
    }

    fn set_high(&mut self) -> Result<(), digital::ErrorKind> {
        self.go(true)
    }
}

impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, digital::ErrorKind> {
        self.level()
    }

    fn is_low(&mut self) -> Result<bool, digital::ErrorKind> {
        self.level().map(|high| !high)
    }
}
