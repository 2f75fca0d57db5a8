//! The heater's output: burst firing in whole mains cycles.
//!
//! A cycle is two half-cycles, and the pin stays the same for both, so that no direct current is drawn
//! from the mains. A pattern that is used up leaves the pin low: a board that stops ticking stops
//! heating. So does a mains detector that fails: without a crossing between two ticks the pin goes low.

use embedded_hal::digital::OutputPin;

/// The pin of the solid-state relay and the cycles still to come.
#[derive(Debug)]
pub struct BurstHeater<O> {
    pin: O,
    pattern: u8,
    left: u8,
    on: bool,
    second_half: bool,
    crossed: bool,
    /// Crossings since they were last taken.
    crossings: u8,
}

impl<O: OutputPin> BurstHeater<O> {
    /// A relay that conducts when `pin` is high. The pin is not touched yet.
    pub const fn new(pin: O) -> Self {
        Self {
            pin,
            pattern: 0,
            left: 0,
            on: false,
            second_half: false,
            crossed: true,
            crossings: 0,
        }
    }

    /// Loads which of the next `count` cycles conduct, bit 0 first; once a tick. Replaces the rest of the
    /// last pattern, but a cycle that has begun is finished.
    ///
    /// # Errors
    /// The pin's error, if it had to go low because the crossings have stopped.
    pub fn load(&mut self, pattern: u8, count: u8) -> Result<(), O::Error> {
        let lost = self.on && !self.crossed;
        self.crossed = false;
        if lost {
            self.off()?;
        }
        self.pattern = pattern;
        self.left = count.min(8);
        Ok(())
    }

    /// Sets the pin for the half-cycle that begins; to be called at each zero crossing.
    ///
    /// # Errors
    /// The pin's error. The pattern is then dropped and the pin set low, if possible.
    pub fn zero_crossing(&mut self) -> Result<(), O::Error> {
        self.crossed = true;
        self.crossings = self.crossings.saturating_add(1);
        if self.second_half {
            self.second_half = false;
        } else {
            let any = self.left > 0;
            self.on = any && self.pattern & 1 == 1;
            self.second_half = any;
            self.pattern = self.pattern.wrapping_shr(1);
            self.left = self.left.saturating_sub(1);
        }
        let set = if self.on { self.pin.set_high() } else { self.pin.set_low() };
        if set.is_err() {
            // May fail too; the first error is reported.
            let _ = self.off();
        }
        set
    }

    /// The number of zero crossings since the last call, at most 255.
    pub const fn take_crossings(&mut self) -> u8 {
        core::mem::replace(&mut self.crossings, 0)
    }

    /// Sets the pin low at once and drops the pattern.
    ///
    /// # Errors
    /// The pin's error.
    pub fn off(&mut self) -> Result<(), O::Error> {
        self.pattern = 0;
        self.left = 0;
        self.on = false;
        self.second_half = false;
        self.pin.set_low()
    }
}
