//! The control core alone, without drivers and wiring.

use std::convert::Infallible;

use saggar_core::Controller;
use saggar_core::controller::Bookmark;
use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::units::Instant;
use saggar_plant::faults::{MemoryArea, MemoryFault};

use super::Firmware;

/// The bare core, with the bookmark that a device would keep for it.
#[derive(Clone, Debug)]
pub struct BareCore {
    core: Controller,
    bookmark: Option<Bookmark>,
}

impl BareCore {
    /// This core.
    pub const fn new(core: Controller) -> Self {
        Self { core, bookmark: None }
    }

    /// The core, to change what a flipped bit would change.
    pub const fn core_mut(&mut self) -> &mut Controller {
        &mut self.core
    }

    /// Loses the core's memory in a power cut, and boots: the programme is loaded again, and a latched trip
    /// or the last bookmark comes back as from a device's log.
    pub fn reboot(&mut self) {
        let mut fresh = Controller::new(self.core.furnace().clone());
        if let Some(image) = self.core.programme() {
            // Cannot fail: the same furnace has accepted it before.
            let _ = fresh.load(image.bytes(), &image.digest());
        }
        if let Some(cause) = self.core.status().trip {
            fresh.restore_trip(cause);
        }
        if let Some(bookmark) = self.bookmark {
            fresh.offer_bookmark(bookmark);
        }
        self.core = fresh;
    }
}

impl Firmware for BareCore {
    type Error = Infallible;

    const CAN_FLIP_MEMORY: bool = true;

    fn flip_memory(&mut self, fault: MemoryFault) {
        flip_memory(&mut self.core, fault);
    }

    #[inline]
    fn tick(&mut self, now: Instant, inputs: &mut Inputs) -> Result<Outputs, Infallible> {
        let outputs = self.core.step(now, inputs);
        if let Some(bookmark) = self.core.bookmark() {
            self.bookmark = Some(bookmark);
        } else if self.bookmark.is_some() && !self.core.is_firing() {
            self.bookmark = self.core.status().interrupted;
        }
        Ok(outputs)
    }

    #[inline]
    fn core(&self) -> &Controller {
        &self.core
    }

    #[inline]
    fn take_event(&mut self) -> Option<Event> {
        self.core.take_event()
    }
}

/// Flips a bit of the memory of a core.
pub(super) fn flip_memory(core: &mut Controller, fault: MemoryFault) {
    let flip = |value: f32| f32::from_bits(value.to_bits() ^ (1 << (fault.bit % 32)));
    match fault.area {
        MemoryArea::Furnace => core.corrupt_furnace(|furnace| {
            let overshoot_k = &mut furnace.limits.overshoot_max_k;
            *overshoot_k = flip(*overshoot_k);
        }),
        MemoryArea::LoadedTable => {
            core.corrupt_furnace(|furnace| {
                for point in &mut furnace.heater.feed_forward {
                    point.hold_w = flip(point.hold_w);
                }
            });
            core.renew_furnace_guard();
        }
        MemoryArea::Programme => core.corrupt_programme(fault.bit),
        MemoryArea::HighestSetpoint => {
            core.corrupt_setpoint_max(|celsius| *celsius = flip(*celsius));
        }
        MemoryArea::Setpoint => core.corrupt_firing(|firing| {
            if let Some(setpoint) = firing.setpoint {
                setpoint.celsius = flip(setpoint.celsius);
            }
        }),
        MemoryArea::Step => {
            core.corrupt_firing(|firing| *firing.next_offset ^= 1 << (fault.bit % 16));
        }
    }
}
