//! The store against power failures at any byte, flipped bits, failing flash operations, and any content
//! of the flash. Each campaign runs on the real store and, smaller, on copies with planted bugs.

/// The list of planted bugs; the build reads it too.
mod bugs;
mod cuts;
mod failures;
pub(crate) mod flash;
mod flips;
mod images;
mod journal;
mod planted;
mod rules;
mod settings;
mod subject;
mod wear;

use cuts::Grain;
use subject::{RealStore, Tally};

#[test]
fn power_failures_during_an_upload() {
    let mut tally = cuts::campaign::<RealStore>(Grain { bytes: 256, first: 1, second: 16 });
    tally.add(cuts::campaign::<RealStore>(Grain { bytes: 1024, first: 16, second: 64 }));
    tally.must_be_clean("power cuts, thinned out");
    assert!(tally.cases > 60_000, "{}", tally.cases);
}

/// Takes long; `.ci/run` runs it.
#[test]
#[ignore = "the whole campaign: a million cases and more"]
fn full_power_failures_during_an_upload() {
    let mut tally = cuts::campaign::<RealStore>(Grain { bytes: 256, first: 1, second: 1 });
    tally.add(cuts::campaign::<RealStore>(Grain { bytes: 1024, first: 4, second: 8 }));
    tally.must_be_clean("power cuts, every byte");
    assert!(tally.cases >= 1_000_000, "{}", tally.cases);
}

#[test]
fn flipped_bits() {
    flips::campaign::<RealStore>(1000).must_be_clean("flipped bits");
}

/// Takes long; `.ci/run` runs it.
#[test]
#[ignore = "a million bursts"]
fn full_flipped_bits() {
    let tally: Tally = flips::campaign::<RealStore>(1_000_000);
    tally.must_be_clean("flipped bits, pairs and bursts");
    assert!(tally.cases >= 1_000_000, "{}", tally.cases);
}

#[test]
fn power_failures_in_the_journal() {
    journal::campaign::<RealStore>(1, 101).must_be_clean("cuts in the journal");
}

/// Takes long; `.ci/run` runs it.
#[test]
#[ignore = "second cuts at every byte"]
fn full_power_failures_in_the_journal() {
    journal::campaign::<RealStore>(2, 7).must_be_clean("cuts in the journal, many second ones");
}

#[test]
fn decayed_records_of_the_journal() {
    journal::decay::<RealStore>().must_be_clean("decayed lines");
}

#[test]
fn power_failures_in_the_settings() {
    settings::campaign::<RealStore>(1).must_be_clean("cuts in the settings");
}

#[test]
fn failing_flash_operations() {
    failures::campaign::<RealStore>().must_be_clean("failing calls");
}

#[test]
fn slots_wear_evenly() {
    wear::campaign::<RealStore>(2000).must_be_clean("uploads");
}
