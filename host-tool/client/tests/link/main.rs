//! Transactions over a simulated link: bytes take time and get lost, doubled or altered. No test
//! sleeps; time is simulated too.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

mod closing;
mod cuts;
mod fake;
mod greedy;
mod noise;
mod share;
mod simulated;
mod updates;
mod watching;
