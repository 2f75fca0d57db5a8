//! Formats quantities for people: temperatures in the reader's scale, times, shares, and numbers
//! beside their limits. All output of quantities goes through this module.

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
