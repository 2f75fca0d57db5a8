//! Tests across the crates, in one binary so that they are linked only once.

/// The report page in a real browser; skipped with a message if none is installed.
mod browser;
/// The drivers against models of their chips, which are written from the data sheets.
mod drivers;
/// Whole firings, from the schedule file through core and chamber to the verdict.
mod firings;
/// One test per trip cause: the fault, the trip, its delay, and how it can be accepted.
mod interlocks;
/// Heat needs a permit from the interlock: property tests with arbitrary facts and inputs.
mod permit;
/// Property tests of the schedule reader: no text makes it panic or report a location outside the text.
mod props;
/// The real code against published tables and closed forms.
mod published;
/// Power cuts: bookmarks, and what a person can do about an interrupted firing.
mod recovery;
/// Property tests of programmes: their encoding, and the sequencer that runs them.
mod sequencer_props;
/// A core restored from a snapshot continues bit for bit like the original.
mod snapshot;
/// Programmes, journal and settings in flash: power cuts, flipped bits, failing calls, planted bugs.
mod store;
/// A bench with a simple furnace, shared by the other modules.
mod support;
/// Rules for the source tree itself.
mod tidy;
/// The device's link: uploads by a client with the key, and attacks without it.
mod upload;
