//! The control core alone, without drivers and wiring.

use std::convert::Infallible;

use saggar_core::Controller;
use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::units::Instant;

use super::Firmware;

/// The bare core.
#[derive(Clone, Debug)]
pub struct BareCore(pub Controller);

impl Firmware for BareCore {
    type Error = Infallible;

    #[inline]
    fn tick(&mut self, now: Instant, inputs: &mut Inputs) -> Result<Outputs, Infallible> {
        Ok(self.0.step(now, inputs))
    }

    #[inline]
    fn core(&self) -> &Controller {
        &self.0
    }

    #[inline]
    fn take_event(&mut self) -> Option<Event> {
        self.0.take_event()
    }
}
