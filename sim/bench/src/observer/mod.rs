//! Observers of a bench: a trace that keeps every row, a recorder that keeps only summary figures, both,
//! neither, or a user's own observer that sees the true state of the plant.

mod agreement;
pub mod invariants;
mod ramps;
mod soaks;
mod summary;

use saggar_core::Controller;
use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};

use crate::trace::{Row, Trace};
use crate::world::World;

pub use agreement::AgreementRecorder;
pub use summary::SummaryRecorder;

/// The record of one tick.
#[derive(Clone, Copy)]
pub struct TickRecord<'a> {
    /// Inputs of the firmware.
    pub inputs: &'a Inputs,
    /// Its outputs, which act on the furnace in the next tick.
    pub outputs: &'a Outputs,
    /// The furnace and the piece. The chamber inputs are those of this tick, temperatures and piece
    /// those of the last whole second.
    pub world: &'a World,
    /// The core, for what its display shows and for the programme and furnace data that it was given.
    pub core: &'a Controller,
}

/// Observes one firing. Ticks are reported from power-up on; rows once a second from the start of the
/// firing to the end of its tail, each after the events since the previous row. Events outside a firing
/// are not reported. An observer cannot end a run; the callback of [`Bench::run`](crate::Bench::run) can.
///
/// ```
/// use saggar_bench::observer::{Observer, TickRecord};
///
/// /// Number of ticks with heat.
/// #[derive(Default)]
/// struct HeatedTicks(u64);
///
/// impl Observer for HeatedTicks {
///     fn tick(&mut self, record: &TickRecord<'_>) {
///         self.0 += u64::from(record.outputs.heater_cycles != 0);
///     }
/// }
/// ```
pub trait Observer {
    /// Called for every tick from power-up on.
    #[inline]
    fn tick(&mut self, _record: &TickRecord<'_>) {}

    /// Called for every event, in time since the start button, before the next row.
    fn event(&mut self, _event: &Event) {}

    /// Called for every second of the firing, with the energy from the mains in that second (J).
    fn row(&mut self, _row: &Row, _energy_j: f64, _world: &World) {}
}

impl Observer for () {}

impl<A: Observer, B: Observer> Observer for (A, B) {
    #[inline]
    fn tick(&mut self, record: &TickRecord<'_>) {
        self.0.tick(record);
        self.1.tick(record);
    }

    fn event(&mut self, event: &Event) {
        self.0.event(event);
        self.1.event(event);
    }

    fn row(&mut self, row: &Row, energy_j: f64, world: &World) {
        self.0.row(row, energy_j, world);
        self.1.row(row, energy_j, world);
    }
}

impl Observer for Trace {
    fn event(&mut self, event: &Event) {
        self.events.push(*event);
    }

    fn row(&mut self, row: &Row, energy_j: f64, _: &World) {
        self.rows.push(*row);
        self.energy_j += energy_j;
    }
}
