//! A recording in place of firmware: what a device was told and answered, tick by tick, with the
//! desk's core beside it. The furnace in front of it moves as the recorded outputs say.

use saggar_core::Controller;
use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::units::Instant;
use saggar_device::wire::Tick;

use super::Firmware;
use crate::twin::{Differs, Twin};

/// A recording that plays.
#[derive(Clone, Debug)]
pub struct Recorded<I> {
    ticks: I,
    twin: Twin,
}

/// Why a recording plays no further.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RecordedError {
    /// It has no more ticks.
    #[error("the recording is over")]
    Over,
    /// The desk's core answers something else.
    #[error(transparent)]
    Differs(#[from] Differs),
}

impl<I: Iterator<Item = Tick>> Recorded<I> {
    /// These ticks, of a device whose core was in this state before the first.
    pub const fn new(core: Controller, ticks: I) -> Self {
        Self { ticks, twin: Twin::new(core) }
    }

    /// Ticks in which the desk's core answered what was recorded.
    pub const fn compared(&self) -> u64 {
        self.twin.ticks()
    }
}

impl<I: Iterator<Item = Tick>> Firmware for Recorded<I> {
    type Error = RecordedError;

    fn tick(&mut self, _: Instant, inputs: &mut Inputs) -> Result<Outputs, RecordedError> {
        let tick = self.ticks.next().ok_or(RecordedError::Over)?;
        self.twin.follow(&tick)?;
        *inputs = tick.inputs();
        Ok(tick.outputs())
    }

    fn core(&self) -> &Controller {
        &self.twin.core
    }

    fn take_event(&mut self) -> Option<Event> {
        self.twin.core.take_event()
    }
}
