//! The store: a power cut at any byte, any flipped bit, any failing call, any content of the
//! flash. Each campaign runs on the sound store and, smaller, on stores with bugs planted.

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
use subject::{Sound, Tally};

#[test]
fn cuts_in_an_upload() {
    let mut tally = cuts::campaign::<Sound>(Grain { bytes: 256, first: 1, second: 16 });
    tally.add(cuts::campaign::<Sound>(Grain { bytes: 1024, first: 16, second: 64 }));
    tally.must_be_clean("power cuts, thinned out");
    assert!(tally.cases > 60_000, "{}", tally.cases);
}

/// Takes a while; `.ci/run` runs it.
#[test]
#[ignore = "the whole campaign: a million cases and more"]
fn full_cuts_in_an_upload() {
    let mut tally = cuts::campaign::<Sound>(Grain { bytes: 256, first: 1, second: 1 });
    tally.add(cuts::campaign::<Sound>(Grain { bytes: 1024, first: 4, second: 8 }));
    tally.must_be_clean("power cuts, every byte");
    assert!(tally.cases >= 1_000_000, "{}", tally.cases);
}

#[test]
fn flipped_bits() {
    flips::campaign::<Sound>(1000).must_be_clean("flipped bits");
}

/// Takes a while; `.ci/run` runs it.
#[test]
#[ignore = "a million bursts"]
fn full_flipped_bits() {
    let tally: Tally = flips::campaign::<Sound>(1_000_000);
    tally.must_be_clean("flipped bits, pairs and bursts");
    assert!(tally.cases >= 1_000_000, "{}", tally.cases);
}

#[test]
fn cuts_in_the_journal() {
    journal::campaign::<Sound>(1, 101).must_be_clean("cuts in the journal");
}

/// Takes a while; `.ci/run` runs it.
#[test]
#[ignore = "second cuts at every byte"]
fn full_cuts_in_the_journal() {
    journal::campaign::<Sound>(2, 7).must_be_clean("cuts in the journal, many second ones");
}

#[test]
fn decayed_journal() {
    journal::decay::<Sound>().must_be_clean("decayed lines");
}

#[test]
fn cuts_in_the_settings() {
    settings::campaign::<Sound>(1).must_be_clean("cuts in the settings");
}

#[test]
fn failing_calls() {
    failures::campaign::<Sound>().must_be_clean("failing calls");
}

#[test]
fn slots_wear_evenly() {
    wear::campaign::<Sound>(2000).must_be_clean("uploads");
}
