//! What watches a bench: a trace that keeps every row, a summary that keeps none, both, nothing, or a
//! judge from outside who sees the truth of the plant.

mod soaks;
mod summary;

use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};

use crate::trace::{Row, Trace};
use crate::world::World;

pub use summary::SummaryRecorder;

/// One tick, as it was.
#[derive(Clone, Copy)]
pub struct TickRecord<'a> {
    /// What the firmware was told.
    pub inputs: &'a Inputs,
    /// What it answered; it moves the furnace in the next tick.
    pub outputs: &'a Outputs,
    /// The furnace and the piece. What moved the chamber is that of this tick, temperatures and piece
    /// are those of the last whole second.
    pub world: &'a World,
}

/// Something that watches one firing. Ticks come from power-up on; seconds from the start of the firing
/// on, to the end of its tail, and with each of them, just before it, the events since the last one.
/// What happened while nothing was fired is told to nobody. It cannot end a run: what asks between the
/// ticks ([`Bench::run`](crate::Bench::run)) can.
///
/// ```
/// use saggar_bench::observer::{Observer, Ticked};
///
/// /// How many ticks heated.
/// #[derive(Default)]
/// struct Heated(u64);
///
/// impl Observer for Heated {
///     fn tick(&mut self, ticked: &Ticked<'_>) {
///         self.0 += u64::from(ticked.outputs.heater_cycles != 0);
///     }
/// }
/// ```
pub trait Observer {
    /// Every tick, from power-up on.
    #[inline]
    fn tick(&mut self, _ticked: &TickRecord<'_>) {}

    /// What happened, in time since the start button; told with the next row.
    fn event(&mut self, _event: &Event) {}

    /// A second of the firing has passed, in which the mains gave so much energy (J).
    fn row(&mut self, _row: &Row, _energy_j: f64, _world: &World) {}
}

impl Observer for () {}

impl<A: Observer, B: Observer> Observer for (A, B) {
    #[inline]
    fn tick(&mut self, ticked: &TickRecord<'_>) {
        self.0.tick(ticked);
        self.1.tick(ticked);
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
