//! Lift or door.

use embedded_hal::digital::OutputPin;
use saggar_core::io::ClosureContacts;

/// Which way the lift goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// To the fully open end.
    Open,
    /// To the shut end.
    Shut,
}

/// What opens the chamber.
#[derive(Debug)]
pub enum ClosureDrive<O> {
    /// A motor with an output for each way; both high would be a short circuit.
    Lift(Lift<O>),
    /// A door that a person opens; the lamp asks for it.
    Door(O),
}

/// The two outputs of a lift's motor.
#[derive(Debug)]
pub struct Lift<O> {
    to_open: O,
    to_shut: O,
    moving: Option<Direction>,
}

impl<O: OutputPin> Lift<O> {
    /// A motor at rest.
    pub const fn new(to_open: O, to_shut: O) -> Self {
        Self { to_open, to_shut, moving: None }
    }

    /// Both outputs low; both are tried.
    ///
    /// # Errors
    /// The first pin's.
    pub fn stop(&mut self) -> Result<(), O::Error> {
        self.moving = None;
        let open = self.to_open.set_low();
        let shut = self.to_shut.set_low();
        open.and(shut)
    }

    fn go(&mut self, way: Direction) -> Result<(), O::Error> {
        // A tick of rest between the two ways, so that a slow relay cannot bridge them.
        if self.moving.is_some_and(|moving| moving != way) {
            return self.stop();
        }
        let (on, off) = match way {
            Direction::Open => (&mut self.to_open, &mut self.to_shut),
            Direction::Shut => (&mut self.to_shut, &mut self.to_open),
        };
        let done = off.set_low().and_then(|()| on.set_high());
        if done.is_ok() {
            self.moving = Some(way);
        } else {
            // May fail too; the first error is the one that is told.
            let _ = self.stop();
        }
        done
    }
}

impl<O: OutputPin> ClosureDrive<O> {
    /// Once a tick: where the core wants it and what its contacts say. A lift stops at its end,
    /// and where the contacts say nothing (`None`) or both ends at once.
    ///
    /// # Errors
    /// A pin's; a lift is stopped then, if it can be.
    pub fn drive(
        &mut self,
        open: bool,
        contacts: Option<ClosureContacts>,
    ) -> Result<(), O::Error> {
        match self {
            Self::Door(lamp) => crate::contacts::set(lamp, open),
            Self::Lift(lift) => match (open, contacts) {
                (true, Some(ClosureContacts { open: false, .. })) => lift.go(Direction::Open),
                (false, Some(ClosureContacts { shut: false, .. })) => lift.go(Direction::Shut),
                (true | false, Some(_) | None) => lift.stop(),
            },
        }
    }

    /// Nothing moves, no lamp.
    ///
    /// # Errors
    /// A pin's; all are tried.
    pub fn stop(&mut self) -> Result<(), O::Error> {
        match self {
            Self::Door(lamp) => lamp.set_low(),
            Self::Lift(lift) => lift.stop(),
        }
    }
}
