//! Power failures during an upload: at every byte and step, under every model of the byte concerned,
//! and again during the repair and the upload after it.

use super::flash::{Flash, Torn};
use super::subject::{Api, Make, Tally, body, guard, running, two, upload};

/// How thorough: size of the programme, and distances (bytes) between first and between second failures.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grain {
    pub(super) bytes: usize,
    pub(super) first: usize,
    pub(super) second: usize,
}

/// The programmes of one campaign.
struct Images {
    old: Vec<u8>,
    new: Vec<u8>,
}

/// One boot: opens the store and uploads the new programme.
fn session<S: Make>(flash: &mut Flash, new: &[u8]) -> bool {
    S::open(flash).and_then(|mut store| upload(&mut store, new)).is_ok()
}

/// What is wrong after a power failure. `done`: the upload had reported success.
fn judge<S: Make>(flash: &mut Flash, images: &Images, done: bool) -> Option<&'static str> {
    if flash.touched {
        return Some("the active slot was touched");
    }
    if flash.abused.is_some() {
        return flash.abused;
    }
    flash.revive(u64::MAX);
    let Ok(mut store) = S::open(flash) else { return Some("does not open") };
    match running(&mut store) {
        Some(there) if there == images.new => {}
        Some(there) if there == images.old && !done => {}
        Some(_) => return Some("another programme"),
        None => return Some("no programme"),
    }
    store.damaged().then_some("a cut was taken for damage")
}

/// All power failures.
pub(super) fn campaign<S: Make>(grain: Grain) -> Tally {
    let mut tally = Tally::default();
    let images = Images { old: body(7, grain.bytes), new: body(99, grain.bytes) };
    let Ok(start) = two::<S>(&body(3, grain.bytes), &images.old) else {
        tally.case(Some("no first upload"), || format!("{grain:?}"));
        return tally;
    };
    let mut whole = start.clone();
    if !session::<S>(&mut whole, &images.new) {
        tally.case(Some("no upload"), || format!("{grain:?}"));
        return tally;
    }
    let length = whole.spent;
    for torn in Torn::ALL {
        for cut in (0..length).step_by(grain.first) {
            let mut flash = start.clone();
            flash.torn = torn;
            flash.seed = cut * 64 + 1;
            guard(&mut flash, &images.old);
            flash.revive(cut);
            let done = session::<S>(&mut flash, &images.new);
            let id = || format!("{grain:?} {torn:?} first cut {cut}");
            let mut after = flash.clone();
            tally.case(judge::<S>(&mut after, &images, done), id);
            tally.case(mended::<S>(&mut after, &images), id);
            tally.add(second::<S>(&flash, &images, grain, &id()));
        }
    }
    tally
}

/// After the repair both slots are blank or valid, and another upload succeeds.
fn mended<S: Make>(flash: &mut Flash, images: &Images) -> Option<&'static str> {
    let Ok(mut store) = S::open(flash) else { return Some("does not open again") };
    if !store.settled() {
        return Some("not repaired");
    }
    let again = body(200, images.new.len());
    if upload(&mut store, &again).is_err() {
        return Some("no upload after the repair");
    }
    (running(&mut store) != Some(again)).then_some("not the programme after the repair")
}

/// The second power failure, after a first one.
fn second<S: Make>(cut_once: &Flash, images: &Images, grain: Grain, first: &str) -> Tally {
    let mut tally = Tally::default();
    let mut base = cut_once.clone();
    base.revive(u64::MAX);
    // What the second boot must leave alone depends on how far the first one came.
    let mut look = base.clone();
    let there = S::open(&mut look).ok().and_then(|mut store| running(&mut store));
    guard(&mut base, &there.unwrap_or_else(|| images.old.clone()));
    base.touched = false;
    let mut whole = base.clone();
    if !session::<S>(&mut whole, &images.new) {
        tally.case(Some("no second upload"), || first.to_owned());
        return tally;
    }
    for cut in (0..whole.spent).step_by(grain.second) {
        let mut flash = base.clone();
        flash.seed ^= cut << 20;
        flash.revive(cut);
        let done = session::<S>(&mut flash, &images.new);
        tally.case(judge::<S>(&mut flash, images, done), || format!("{first}, second {cut}"));
    }
    tally
}
