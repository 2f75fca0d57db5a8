//! Property tests of the host tool with arbitrary schedules.

mod schedule;
