//! Watches a bench from outside: the true furnace, the outputs and what the display shows. What must
//! always hold is checked in every tick, temperatures once a second, whatever the core believes.
//!
//! * `statement`: the invariants, what each says, and which test shows one that cannot be seen from here.
//! * `asked`: the highest temperature that the programme has asked for so far.
//! * `checks`: the checks of one tick; `watched_tick`: what they keep for the next one.

#![allow(clippy::neg_cmp_op_on_partial_ord, reason = "a NaN must break an invariant")]

mod asked;
mod checks;
mod statement;
mod watched_tick;

use saggar_core::events::{Event, EventKind};
use saggar_core::furnace::Furnace;
use saggar_core::interlock::Cause;
use saggar_core::programme::ProgrammeImage;

use super::{Observer, TickRecord};
use crate::trace::Row;
use crate::world::World;

use asked::AskedTemperature;
pub use statement::{Evidence, Invariant};
use watched_tick::WatchedTick;

/// How far the muffle may be above anything that was asked for so far (K), or less if the furnace's data
/// allow less.
pub const ABOVE_ASKED_MAX_K: f64 = 25.0;

/// True pressure from which a chamber counts as full of air (Pa).
pub const AIR_FROM_PA: f64 = 90_000.0;

/// An invariant that did not hold.
#[derive(Clone, Debug, PartialEq)]
pub struct InvariantViolation {
    /// Which.
    pub invariant: Invariant,
    /// When (s since the start button).
    pub at_s: f64,
    /// What was seen.
    pub what: String,
}

impl std::fmt::Display for InvariantViolation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "I{} at {:.1} s: {}", self.invariant.number(), self.at_s, self.what)
    }
}

/// What the watch has measured so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Maximum of the muffle above what was asked for so far (K), and when (s).
    pub above_asked_k: (f64, f64),
    /// Hottest muffle (°C).
    pub muffle_c: f64,
    /// Hottest muffle while the vent was commanded open (°C).
    pub vented_c: f64,
    /// The first trip and its time (s since the start button).
    pub trip: Option<(Cause, f64)>,
}

/// The watch of one bench.
#[derive(Clone, Debug)]
pub struct InvariantWatch {
    /// Allowed excess of the muffle (K).
    excess_max_k: f64,
    furnace_max_c: f64,
    vent_below_c: f64,
    asked: AskedTemperature,
    previous: WatchedTick,
    measured: Measured,
    /// Trips that the events have told.
    trips_told: u32,
    violations: Vec<InvariantViolation>,
}

impl InvariantWatch {
    /// A watch on a bench with this furnace and programme.
    pub fn new(furnace: &Furnace, programme: &ProgrammeImage) -> Self {
        let limits = &furnace.limits;
        Self {
            excess_max_k: f64::from(limits.overshoot_max_k).min(ABOVE_ASKED_MAX_K),
            furnace_max_c: f64::from(limits.furnace_max.get()),
            vent_below_c: f64::from(limits.vent_below.get()),
            asked: AskedTemperature::new(furnace, programme),
            previous: WatchedTick::default(),
            measured: Measured {
                above_asked_k: (f64::NEG_INFINITY, 0.0),
                muffle_c: f64::NEG_INFINITY,
                vented_c: f64::NEG_INFINITY,
                trip: None,
            },
            trips_told: 0,
            violations: Vec::new(),
        }
    }

    /// The first violation of each invariant, in the order in which they came.
    pub fn violations(&self) -> &[InvariantViolation] {
        &self.violations
    }

    /// What was measured.
    pub const fn measured(&self) -> &Measured {
        &self.measured
    }

    /// The highest temperature that was asked for so far (°C).
    pub const fn asked_c(&self) -> f64 {
        self.asked.so_far_c()
    }

    /// The memory of the core was lost in a power cut, and it boots again.
    pub fn power_was_cut(&mut self) {
        self.previous.power_was_cut();
    }

    /// Records a violation, unless this invariant has one already.
    fn violated(&mut self, invariant: Invariant, at_s: f64, what: impl FnOnce() -> String) {
        if self.violations.iter().all(|earlier| earlier.invariant != invariant) {
            self.violations.push(InvariantViolation { invariant, at_s, what: what() });
        }
    }

    /// The muffle against what was asked, the furnace's limit and the limit of the vent.
    fn check_chamber(&mut self, at_s: f64, muffle_c: f64, vent: bool) {
        let above_k = muffle_c - self.asked.so_far_c();
        if above_k > self.measured.above_asked_k.0 {
            self.measured.above_asked_k = (above_k, at_s);
        }
        self.measured.muffle_c = self.measured.muffle_c.max(muffle_c);
        if vent {
            self.measured.vented_c = self.measured.vented_c.max(muffle_c);
        }
        let (max_k, max_c) = (self.excess_max_k, self.furnace_max_c);
        if !(above_k <= max_k) {
            self.violated(Invariant::ChamberBound, at_s, || {
                format!("muffle {above_k:.1} K above what was asked, {max_k:.0} K allowed")
            });
        }
        if !(muffle_c <= max_c + ABOVE_ASKED_MAX_K) {
            self.violated(Invariant::ChamberBound, at_s, || {
                format!("muffle {muffle_c:.0} °C, the furnace's limit is {max_c:.0} °C")
            });
        }
        let vent_max_c = self.vent_below_c + ABOVE_ASKED_MAX_K;
        if vent && !(muffle_c <= vent_max_c) {
            self.violated(Invariant::ValveOrder, at_s, || {
                format!("air into a muffle at {muffle_c:.0} °C, {vent_max_c:.0} °C allowed")
            });
        }
    }
}

impl Observer for InvariantWatch {
    fn tick(&mut self, record: &TickRecord<'_>) {
        self.check_tick(record);
    }

    fn event(&mut self, event: &Event) {
        if let EventKind::Tripped(cause) = event.kind {
            self.trips_told += 1;
            let at_s = event.at.millis() as f64 / 1000.0;
            self.measured.trip.get_or_insert((cause, at_s));
        }
    }

    fn row(&mut self, row: &Row, _energy_j: f64, world: &World) {
        let muffle_c = world.modelled().muffle_c;
        // Air that is in already does no more harm.
        let lets_in = world.drive().pressure_pa < AIR_FROM_PA;
        self.check_chamber(row.at_s, muffle_c, row.measured.outputs.vent_valve && lets_in);
        self.check_trips_told(row.at_s);
    }
}
