//! Exchanges over a simulated line: bytes take their time, get lost, doubled and altered, and no
//! test sleeps.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

mod closing;
mod cuts;
mod fake;
mod greedy;
mod noise;
mod share;
mod simulated;
mod telling;
mod watching;
