//! The n-th flash operation fails, or reports success without effect, for every n; or everything after it
//! fails. And a commit with the wrong digest.

use super::flash::{Failure, Flash};
use super::subject::{Api, Make, Refused, Tally, body, digest, guard, running, two, upload};

const LENGTH: usize = 256;

fn session<S: Make>(flash: &mut Flash, new: &[u8]) -> Result<(), Refused> {
    let mut store = S::open(flash)?;
    upload(&mut store, new)?;
    match running(&mut store) {
        Some(there) if there == new => Ok(()),
        _ => Err(Refused),
    }
}

fn judge<S: Make>(
    flash: &mut Flash,
    [old, new]: [&Vec<u8>; 2],
    failure: Failure,
    told: &Result<(), Refused>,
) -> Option<&'static str> {
    if flash.touched {
        return Some("the active slot was touched");
    }
    if told.is_ok() && !matches!(failure, Failure::Silent | Failure::Last) {
        // No operation may fail unnoticed. But a header that the flash reports as failed, holds, and
        // then fails to erase counts as committed.
        return Some("a failure was not told");
    }
    flash.fails = None;
    flash.abused = None;
    let Ok(mut store) = S::open(flash) else { return Some("does not open") };
    let there = running(&mut store);
    // A read that fails after a successful commit does not undo it.
    match there {
        Some(there) if there == *new && told.is_ok() => None,
        Some(there) if there == *old && told.is_err() => None,
        Some(there) if there == *new => Some("new, and it was said to have failed"),
        Some(_) => Some("old, and it was said to be done"),
        None => Some("no programme"),
    }
}

pub(super) fn campaign<S: Make>() -> Tally {
    let mut tally = Tally::default();
    let (old, new) = (body(7, LENGTH), body(99, LENGTH));
    let Ok(mut start) = two::<S>(&body(3, LENGTH), &old) else {
        tally.case(Some("no upload"), String::new);
        return tally;
    };
    guard(&mut start, &old);
    start.calls = 0;
    let mut whole = start.clone();
    let committed = S::open(&mut whole).and_then(|mut store| upload(&mut store, &new));
    tally.case(committed.err().map(|_| "no upload"), String::new);
    let calls = whole.calls;
    for failure in Failure::ALL {
        for at in 0..calls {
            let mut flash = start.clone();
            flash.fails = Some((at, failure));
            let told = S::open(&mut flash).and_then(|mut store| upload(&mut store, &new));
            // After the last write no write is left to fail.
            if failure == Failure::Forever
                && told.is_ok()
                && writes_nothing_more(&start, &flash)
            {
                continue;
            }
            let wrong = judge::<S>(&mut flash, [&old, &new], failure, &told);
            tally.case(wrong, || format!("{failure:?} in call {at}"));
            let again = session::<S>(&mut flash, &body(201, LENGTH));
            tally.case(again.err().map(|_| "no upload after"), || format!("{failure:?} {at}"));
        }
    }
    wrong_digest::<S>(&start, &old, &new, &mut tally);
    tally
}

/// Whether the failure came after the last write of the upload.
fn writes_nothing_more(start: &Flash, flash: &Flash) -> bool {
    flash.spent > start.spent && flash.bytes != start.bytes && flash.abused.is_none()
}

fn wrong_digest<S: Make>(start: &Flash, old: &[u8], new: &[u8], tally: &mut Tally) {
    for bit in 0..256 {
        let mut flash = start.clone();
        let mut name = digest(new);
        name[bit / 8] ^= 1 << (bit % 8);
        let told = S::open(&mut flash).and_then(|mut store| {
            store.begin(LENGTH as u16)?;
            store.write(0, new)?;
            store.commit(&name)
        });
        tally.case(told.is_ok().then_some("a wrong digest was committed"), || format!("{bit}"));
        let there = S::open(&mut flash).ok().and_then(|mut store| running(&mut store));
        let lost = there.as_deref() != Some(old);
        tally.case(lost.then_some("the old one is lost"), || format!("digest bit {bit}"));
    }
}
