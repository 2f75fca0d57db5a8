//! The desk's own core beside an emulated board: told the same, it must answer the same, bit for
//! bit.

use saggar_core::Controller;
use saggar_core::events::Event;
use saggar_core::furnace::Furnace;
use saggar_core::programme::IMAGE_BYTES_MAX;
use saggar_core::sequencer::State;
use saggar_core::units::Instant;
use saggar_device::Device;
use saggar_device::store::Store;
use saggar_device::wire::Tick;
use saggar_lockstep::layout;

use super::Error;
use super::memory::Memory;

/// The desk's core.
pub(super) struct Shadow {
    controller: Controller,
    programme: Option<[u8; 32]>,
    events: Vec<Event>,
    ticks: u64,
}

impl Shadow {
    /// A core that comes up as the board's does: with the trip that nobody has accepted.
    pub(super) fn new(furnace: Furnace, flash: Vec<u8>) -> Self {
        let mut controller = Controller::new(furnace);
        let twin = Device::boot(Memory::copy(flash), layout(), || None);
        let cause = twin.ok().and_then(|twin| twin.controller().status().tripped);
        if let Some(cause) = cause {
            controller.retrip(cause);
        }
        Self { controller, programme: None, events: Vec::new(), ticks: 0 }
    }

    /// One tick of the board, compared.
    pub(super) fn follow(&mut self, tick: &Tick) -> Result<(), Error> {
        let now = Instant::from_millis(tick.at_ms);
        let here = self.controller.step(now, &tick.inputs());
        self.events.extend(std::iter::from_fn(|| self.controller.take_event()));
        self.ticks += 1;
        let there = tick.outputs();
        if here == there {
            return Ok(());
        }
        Err(Error::Differs { tick: tick.number, at_ms: tick.at_ms, here, there })
    }

    /// Loads what is the active programme in the board's flash, if it is another than before.
    pub(super) fn reload(&mut self, flash: Vec<u8>) {
        let Ok(mut store) = Store::open(Memory::copy(flash), layout()) else { return };
        let Some(active) = store.active() else { return };
        if self.programme == Some(active.digest) {
            return;
        }
        let mut room = [0; IMAGE_BYTES_MAX];
        let length = store.read_programme(0, &mut room).unwrap_or(0);
        // The board has verified it; if this core does not take it, the next firing shows that.
        let taken = self.controller.load(room.get(..length).unwrap_or(&[]), &active.digest);
        if taken.is_ok() {
            self.programme = Some(active.digest);
        }
    }

    pub(super) const fn controller(&self) -> &Controller {
        &self.controller
    }

    pub(super) fn running(&self) -> bool {
        matches!(self.controller.state(), State::Running(_))
    }

    pub(super) fn events(&mut self) -> Vec<Event> {
        std::mem::take(&mut self.events)
    }

    pub(super) const fn ticks(&self) -> u64 {
        self.ticks
    }
}
