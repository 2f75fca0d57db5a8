//! Lift or door.

use embedded_hal::digital::OutputPin;
use saggar_core::io::ClosureContacts;

/// Direction in which the lift moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// To the fully open end.
    Open,
    /// To the shut end.
    Shut,
}

/// The drive of the closure.
#[derive(Debug)]
pub enum ClosureActuator<O> {
    /// A motor with an output for each direction; both high would be a short circuit.
    Lift(Lift<O>),
    /// A lamp that asks a person to open the door.
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

    /// Stops the motor; both outputs are tried.
    ///
    /// # Errors
    /// The error of the first pin that failed.
    pub fn stop(&mut self) -> Result<(), O::Error> {
        self.moving = None;
        let open = self.to_open.set_low();
        let shut = self.to_shut.set_low();
        open.and(shut)
    }

    fn run(&mut self, direction: Direction) -> Result<(), O::Error> {
        // A tick at rest before reversing, so that a slow relay cannot bridge both outputs.
        if self.moving.is_some_and(|moving| moving != direction) {
            return self.stop();
        }
        let (on, off) = match direction {
            Direction::Open => (&mut self.to_open, &mut self.to_shut),
            Direction::Shut => (&mut self.to_shut, &mut self.to_open),
        };
        let done = off.set_low().and_then(|()| on.set_high());
        if done.is_ok() {
            self.moving = Some(direction);
        } else {
            // May fail too; the first error is reported.
            let _ = self.stop();
        }
        done
    }
}

impl<O: OutputPin> ClosureActuator<O> {
    /// Moves the closure as the core asks; once a tick. A lift stops at its end, and where the contacts
    /// are unreadable (`None`) or both closed.
    ///
    /// # Errors
    /// The pin's error; a lift is then stopped, if possible.
    pub fn drive(
        &mut self,
        open: bool,
        contacts: Option<ClosureContacts>,
    ) -> Result<(), O::Error> {
        match self {
            Self::Door(lamp) => crate::contacts::set(lamp, open),
            Self::Lift(lift) => match (open, contacts) {
                (true, Some(ClosureContacts { open: false, .. })) => lift.run(Direction::Open),
                (false, Some(ClosureContacts { shut: false, .. })) => lift.run(Direction::Shut),
                (true | false, Some(_) | None) => lift.stop(),
            },
        }
    }

    /// Stops the lift, or switches the door's lamp off.
    ///
    /// # Errors
    /// The first pin's error; all pins are tried.
    pub fn stop(&mut self) -> Result<(), O::Error> {
        match self {
            Self::Door(lamp) => lamp.set_low(),
            Self::Lift(lift) => lift.stop(),
        }
    }
}
