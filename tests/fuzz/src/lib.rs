//! Fuzz targets. Each takes arbitrary bytes and panics if the code under test violates a guarantee.
//!
//! `.ci/fuzz` runs every target for a minute; `DEVELOPERS.md` says how to run one for longer and
//! what to do with a crash. The tests of this package run the corpus once, without the engine.

mod example;
mod flash;
mod link;
mod memory;
mod programme;
mod schedule;
mod setup;

#[cfg(test)]
mod seeds;
#[cfg(test)]
mod tests;

pub use flash::flash;
pub use link::link;
pub use programme::programme;
pub use schedule::schedule;
