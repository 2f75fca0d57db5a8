//! Quantities as people say them: temperatures in the scale of the reader, times, shares, and
//! numbers beside their limits. Everything that says a quantity says it through here.

mod number;
mod scale;
mod time;

pub use number::{
    confidence, distinct, energy, lower_limit, one_decimal, percent, upper_limit,
    with_nonbreaking_units, without_zero_decimal,
};
pub use scale::Scale;
pub use time::{
    at_minute, at_second, clock, clock_with_seconds, duration, duration_at_least,
    duration_at_most, hours_and_minutes, padded_duration,
};
