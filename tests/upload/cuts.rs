//! The power fails at any byte of an upload.

use std::collections::BTreeSet;

use saggar_core::Cause;
use saggar_device::wire::Answer;

use super::support::{Bed, Dice, first_programme, second_programme};
use crate::store::flash::Torn;

/// Uploads until the power fails or the upload ends; returns the last answer.
fn upload(bed: &mut Bed) -> Option<Answer> {
    let (mut client, hello) = bed.connect();
    let mut last = None;
    for frame in client.upload(&second_programme(), hello.furnace) {
        let replies = bed.exchange(&frame);
        last = client.answer(&replies).or(last);
        bed.tick();
    }
    last
}

fn campaign(tripped: bool) -> (u32, u32) {
    let (old, new) = (first_programme(), second_programme());
    let mut bed = Bed::new();
    bed.press(|buttons| buttons.confirm = true);
    let mut confirmed = 0;
    if tripped {
        bed.fire();
        bed.unplugged = true;
        bed.run(50);
        assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
    }
    let whole = bed.chip.twin();
    whole.0.borrow_mut().revive(u64::MAX);
    let mut once = Bed::boot(whole.clone()).expect("comes up");
    let committed = Answer::Committed { digest: new.digest() };
    assert_eq!(upload(&mut once), Some(committed));
    let all = whole.spent();
    let (mut cuts, mut news) = (0, 0);
    let mut dice = Dice(41);
    // The last one is a cut right after the upload.
    for fuel in 0..=all {
        let chip = bed.chip.twin();
        chip.0.borrow_mut().revive(fuel);
        chip.0.borrow_mut().torn = Torn::ALL[dice.below(5)];
        chip.0.borrow_mut().seed = dice.roll() | 1;
        let mut nonces = BTreeSet::new();
        let mut told = None;
        if let Ok(mut up) = Bed::boot(chip.clone()) {
            nonces.insert(up.connect().1.nonce);
            if up.connect().1.nonce != [0; 16] {
                told = upload(&mut up);
            }
        }
        let mut boots = 0;
        for _ in 0..3 {
            chip.0.borrow_mut().revive(u64::MAX);
            let mut again = Bed::boot(chip.clone()).expect("comes up");
            let found = again.device.controller().programme();
            assert!(found == Some(&old) || found == Some(&new), "cut at {fuel}: neither");
            if told == Some(committed) {
                assert_eq!(found, Some(&new), "cut at {fuel}: it was told");
            }
            news += u32::from(found == Some(&new));
            let announced = again.device.announcement().unconfirmed;
            assert!(announced || found == Some(&old), "cut at {fuel}: nobody confirmed it");
            confirmed += u32::from(!announced);
            assert_eq!(again.tripped().is_some(), tripped, "cut at {fuel}: the latch");
            let hello = again.connect().1;
            assert!(hello.boot > boots, "cut at {fuel}: {} boots again", hello.boot);
            assert!(nonces.insert(hello.nonce), "cut at {fuel}: a number came twice");
            boots = hello.boot;
        }
        let mut again = Bed::boot(chip.clone()).expect("comes up");
        assert_eq!(upload(&mut again), Some(committed), "cut at {fuel}: no upload any more");
        assert_eq!(chip.0.borrow().abused, None);
        cuts += 1;
    }
    assert!(confirmed > cuts, "the old one stays confirmed in most: {confirmed}");
    (cuts, news / 3)
}

#[test]
fn power_failure_leaves_the_old_programme_or_the_new_one() {
    for tripped in [false, true] {
        let (cuts, news) = campaign(tripped);
        println!("{cuts} cuts, {news} of them left the new programme; tripped: {tripped}");
        // The commit is the last write of an upload.
        assert!(cuts > 600 && news > 0 && news < cuts / 2);
    }
}
