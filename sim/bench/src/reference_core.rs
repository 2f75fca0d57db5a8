//! A core of the desk's own beside another one: told the same, it must answer the same, bit for bit.

use saggar_core::Controller;
use saggar_core::io::Outputs;
use saggar_core::units::Instant;
use saggar_device::wire::Tick;

/// The first tick in which two cores do not agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "tick {tick} at {at_ms} ms: the board answered {device:?}, the reference core {reference:?}"
)]
pub struct MismatchError {
    /// Number of the tick.
    pub tick: u32,
    /// Its time (ms).
    pub at_ms: u64,
    /// What the desk's core answers.
    pub reference: Outputs,
    /// What the other one answered.
    pub device: Outputs,
}

/// The desk's core, and how often it agreed.
#[derive(Clone, Debug)]
pub struct ReferenceCore {
    /// The core.
    pub core: Controller,
    ticks: u64,
}

impl ReferenceCore {
    /// A core in the state of the other one.
    pub const fn new(core: Controller) -> Self {
        Self { core, ticks: 0 }
    }

    /// One tick of the other, compared.
    ///
    /// # Errors
    /// They do not agree.
    pub fn compare(&mut self, tick: &Tick) -> Result<(), MismatchError> {
        let here = self.core.step(Instant::from_millis(tick.at_ms), &tick.inputs());
        self.ticks += 1;
        let there = tick.outputs();
        if here == there {
            return Ok(());
        }
        Err(MismatchError {
            tick: tick.number,
            at_ms: tick.at_ms,
            reference: here,
            device: there,
        })
    }

    /// Ticks that were compared.
    pub const fn ticks_compared(&self) -> u64 {
        self.ticks
    }
}
