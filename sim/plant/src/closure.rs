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

    /// Moves for one tick towards open or shut, or stays without a command (`None`); returns the
    /// position, 0 to 1. Somebody holds it open by `held_open`, 0 to 1: it opens at least so far, at the
    /// same speed, whatever the command. The pressure in the chamber does not hinder him.
    pub fn step(&mut self, open: Option<bool>, held_open: f64) -> f64 {
        let open = if self.position < held_open { Some(true) } else { open };
        let to = match open {
            None => self.position,
            Some(true) => self.position + self.per_tick,
            Some(false) => (self.position - self.per_tick).max(held_open),
        };
        self.position = to.clamp(0.0, 1.0);
        self.position
    }

    /// The contacts at its ends.
    pub fn contacts(&self) -> ClosureContacts {
        ClosureContacts { shut: self.position <= 0.0, open: self.position >= 1.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::ClosureMechanism;

    #[test]
    fn a_closure_held_open_reaches_neither_contact() {
        let mut closure = ClosureMechanism::new(20.0, 0.0);
        for _ in 0..100 {
            closure.step(Some(false), 1.0 / 3.0);
        }
        let contacts = closure.contacts();
        assert!(!contacts.shut && !contacts.open);
        let position = closure.step(Some(false), 1.0 / 3.0);
        assert!((position - 1.0 / 3.0).abs() < 0.01, "{position}");
        for _ in 0..200 {
            closure.step(Some(true), 1.0 / 3.0);
        }
        assert!(closure.contacts().open, "it still opens as far as it is commanded");
    }

    #[test]
    fn a_closure_without_a_command_stays() {
        let mut closure = ClosureMechanism::new(20.0, 0.0);
        let half = (0..100).map(|_| closure.step(Some(true), 0.0)).last();
        assert_eq!(Some(closure.step(None, 0.0)), half);
    }
}
