//! A reference core on the host: with the same inputs it must give the same outputs as the device,
//! bit for bit.

use saggar_core::Controller;
use saggar_core::io::Outputs;
use saggar_core::units::Instant;
use saggar_device::wire::Tick;

/// The first tick in which two cores gave different outputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "tick {tick} at {at_ms} ms: the board answered {device:?}, the reference core {reference:?}"
)]
pub struct MismatchError {
    /// Number of the tick.
    pub tick: u32,
    /// Its time (ms).
    pub at_ms: u64,
    /// Outputs of the reference core.
    pub reference: Outputs,
    /// Outputs of the device.
    pub device: Outputs,
}

/// The reference core and the number of ticks compared.
#[derive(Clone, Debug)]
pub struct ReferenceCore {
    /// The core.
    pub core: Controller,
    ticks: u64,
}

impl ReferenceCore {
    /// A reference core in the same state as the device's.
    pub const fn new(core: Controller) -> Self {
        Self { core, ticks: 0 }
    }

    /// Steps the reference core with the inputs of a device tick and compares the outputs.
    ///
    /// # Errors
    /// The outputs differ.
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
