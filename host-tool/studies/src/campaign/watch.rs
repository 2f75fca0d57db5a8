//! The observers of a case: the invariants, and the time for which a fault could be seen.

use saggar_bench::World;
use saggar_bench::observer::invariants::InvariantWatch;
use saggar_bench::observer::{Observer, TickRecord};
use saggar_bench::trace::Row;
use saggar_core::TICK_S;
use saggar_core::events::Event;

use super::expectation::Exposure;

/// Watches one firing.
#[derive(Clone, Debug)]
pub(super) struct CaseWatch {
    /// What must always hold.
    pub invariants: InvariantWatch,
    /// When the fault can be seen; `None` before it is known.
    exposure: Option<Exposure>,
    /// It has tripped: what comes after the trip was accepted is no reaction.
    tripped: bool,
    /// Whether a firing ran when the fault struck.
    struck_in_firing: Option<bool>,
    /// Ticks with the fault in which it could be seen, up to the trip.
    exposed_ticks: u64,
    /// Ticks with the fault, up to the trip.
    faulty_ticks: u64,
    /// The events, in time since the start button.
    pub events: Vec<Event>,
}

impl CaseWatch {
    /// A watch that counts no exposure yet.
    pub(super) const fn new(invariants: InvariantWatch) -> Self {
        Self {
            invariants,
            exposure: None,
            tripped: false,
            struck_in_firing: None,
            exposed_ticks: 0,
            faulty_ticks: 0,
            events: Vec::new(),
        }
    }

    /// From now on, counts the ticks in which a fault with this exposure could be seen.
    pub(super) const fn count(&mut self, exposure: Exposure) {
        self.exposure = Some(exposure);
    }

    /// Time for which the fault could be seen, up to the trip (s).
    pub(super) fn exposed_s(&self) -> f64 {
        self.exposed_ticks as f64 * f64::from(TICK_S)
    }

    /// Time for which the fault was there, up to the trip (s).
    pub(super) fn faulty_s(&self) -> f64 {
        self.faulty_ticks as f64 * f64::from(TICK_S)
    }
}

impl Observer for CaseWatch {
    fn tick(&mut self, record: &TickRecord<'_>) {
        self.invariants.tick(record);
        self.tripped |= record.core.status().trip.is_some();
        if let Some(exposure) = self.exposure
            && !self.tripped
            && record.world.active_faults().next().is_some()
        {
            self.faulty_ticks += 1;
            let firing = record.core.is_firing();
            let struck_in_firing = *self.struck_in_firing.get_or_insert(firing);
            let over = exposure == Exposure::FiringAtStrike && !struck_in_firing;
            self.exposed_ticks += u64::from(!over && exposure.counts(record));
        }
    }

    fn event(&mut self, event: &Event) {
        self.invariants.event(event);
        self.events.push(*event);
    }

    fn row(&mut self, row: &Row, energy_j: f64, world: &World) {
        self.invariants.row(row, energy_j, world);
    }
}
