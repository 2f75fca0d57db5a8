//! Plays a recording in place of firmware: the recorded inputs and outputs of a device, tick by tick,
//! with a reference core beside it. The recorded outputs drive the furnace.

use saggar_core::Controller;
use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::units::Instant;
use saggar_device::wire::Tick;

use super::Firmware;
use crate::reference_core::{MismatchError, ReferenceCore};

/// The playback of a recording.
#[derive(Clone, Debug)]
pub struct Playback<I> {
    ticks: I,
    twin: ReferenceCore,
    /// Number of the last tick.
    last: Option<u32>,
    /// How far the bench's clock is behind the device's (ms).
    behind_ms: Option<u64>,
}

/// Why the playback stops.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PlaybackError {
    /// It begins during a firing: the state of furnace and piece at that time is not known.
    #[error("the recording begins in the middle of a firing")]
    Firing,
    /// Ticks are missing after this one.
    #[error("ticks are missing after tick {0}")]
    Gap(u32),
    /// It has no more ticks.
    #[error("the recording has ended")]
    Over,
    /// The reference core gives other outputs.
    #[error(transparent)]
    Differs(#[from] MismatchError),
}

impl<I: Iterator<Item = Tick>> Playback<I> {
    /// Plays these ticks of a device whose core was in this state before the first.
    ///
    /// # Errors
    /// A firing runs already.
    pub fn new(core: Controller, ticks: I) -> Result<Self, PlaybackError> {
        if core.is_firing() {
            return Err(PlaybackError::Firing);
        }
        Ok(Self { ticks, twin: ReferenceCore::new(core), last: None, behind_ms: None })
    }

    /// Ticks in which the reference core gave the recorded outputs.
    pub const fn compared(&self) -> u64 {
        self.twin.ticks_compared()
    }
}

impl<I: Iterator<Item = Tick>> Firmware for Playback<I> {
    type Error = PlaybackError;

    fn tick(&mut self, now: Instant, inputs: &mut Inputs) -> Result<Outputs, PlaybackError> {
        let tick = self.ticks.next().ok_or(PlaybackError::Over)?;
        if let Some(last) = self.last.replace(tick.number)
            && tick.number != last.wrapping_add(1)
        {
            return Err(PlaybackError::Gap(last));
        }
        self.behind_ms.get_or_insert(tick.at_ms.saturating_sub(now.millis()));
        self.twin.compare(&tick)?;
        *inputs = tick.inputs();
        Ok(tick.outputs())
    }

    fn core(&self) -> &Controller {
        &self.twin.core
    }

    fn take_event(&mut self) -> Option<Event> {
        let mut event = self.twin.core.take_event()?;
        let behind_ms = self.behind_ms.unwrap_or(0);
        event.at = Instant::from_millis(event.at.millis().saturating_sub(behind_ms));
        Some(event)
    }
}
