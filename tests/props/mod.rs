//! The host tool searched with arbitrary schedules.

mod schedule;
