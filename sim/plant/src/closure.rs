//! The lift or door: it moves at a constant speed and has a contact at each end.

use saggar_core::TICK_S;
use saggar_core::io::ClosureContacts;

/// A lift or door at a position between shut (0) and open (1).
#[derive(Clone, Debug)]
pub struct ClosureMechanism {
    position: f64,
    per_tick: f64,
}

impl ClosureMechanism {
    /// A closure at a position, 0 to 1, that travels from end to end in `travel_s` seconds.
    pub fn new(travel_s: f64, position: f64) -> Self {
        let ticks = (travel_s / f64::from(TICK_S)).max(1.0);
        Self { position: position.clamp(0.0, 1.0), per_tick: 1.0 / ticks }
    }

    /// Moves for one tick towards open or shut; returns the position, 0 to 1.
    pub fn step(&mut self, open: bool) -> f64 {
        let to =
            if open { self.position + self.per_tick } else { self.position - self.per_tick };
        self.position = to.clamp(0.0, 1.0);
        self.position
    }

    /// The contacts at its ends.
    pub fn contacts(&self) -> ClosureContacts {
        ClosureContacts { shut: self.position <= 0.0, open: self.position >= 1.0 }
    }
}
