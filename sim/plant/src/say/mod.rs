//! Quantities as people say them: temperatures in the scale of the reader, times, shares, and
//! numbers beside their limits. Everything that says a quantity says it through here.

mod number;
mod scale;
mod time;

pub use number::{apart, at_least, at_most, bound, energy, percent, sure, tidy, trimmed};
pub use scale::Scale;
pub use time::{
    at_minute, at_second, clock, clock_to_the_second, duration, duration_at_least,
    duration_at_most, hours_and_minutes, length,
};
