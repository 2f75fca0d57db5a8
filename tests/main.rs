//! What the parts must do together: one binary, so that the parts are linked once.

/// The report page in a real browser; skipped with a word where there is none.
mod browser;
/// The drivers against models of their chips that were written from the data sheets.
mod drivers;
/// Whole firings: a schedule file, the real core, the chamber, the verdict.
mod firings;
/// One test a cause: what is spoilt, what trips, by when, and what it takes to go on.
mod interlocks;
/// Heat needs a permit that is granted on proof: searched with arbitrary facts and inputs.
mod permit;
/// The host tool: no schedule, however odd, makes it panic or point outside the text.
mod props;
/// Outside checks: published tables and closed forms against the real code.
mod published;
/// Programmes, their bytes, and the way through them: searched with arbitrary ones.
mod sequencer_props;
/// A snapshot of the core goes on as what it was taken of, bit for bit.
mod snapshot;
/// Programmes, journal and settings in flash: cuts, flipped bits, failing calls, planted bugs.
mod store;
/// The furnace on the bench that the others use.
mod support;
/// What the tree itself must look like.
mod tidy;
/// The line: whoever may sit at its other end, with the key and without.
mod upload;
