//! Wrong seals affect only those who send them.

use saggar_device::link::{LOCK_OUT_MS, WRONG_SEALS_MAX};
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{Answer, Order, Query, Refusal};

use super::client::{Client, ask, refusals};
use super::raw;
use super::support::{Bed, OTHER_KEY, second_programme};

/// A client with the right key, and one with another key that has received the same reply.
pub(super) fn two(bed: &mut Bed) -> (Client, Client, [u8; 32]) {
    let mut right = Client::new(DeviceKey::new(super::support::KEY).expect("a key"));
    let mut wrong = Client::new(DeviceKey::new(OTHER_KEY).expect("a key"));
    let greeting = right.hello(3);
    wrong.hello(3);
    let replies = bed.exchange(&greeting);
    let hello = right.accept_greeting(&replies);
    wrong.accept_greeting(&replies);
    (right, wrong, hello.furnace)
}

#[test]
fn wrong_seals_cause_a_lock_out_and_nothing_else() {
    let mut bed = Bed::new();
    bed.fire();
    let (mut right, mut wrong, furnace) = two(&mut bed);
    let mut said = Vec::new();
    let spent = bed.chip.spent();
    for _ in 0..WRONG_SEALS_MAX {
        let guess = wrong.order(&Order::Stop);
        said.extend(refusals(&bed.exchange(&guess)));
    }
    let seconds = (LOCK_OUT_MS / 1000) as u16;
    assert_eq!(said[..4], [Refusal::WrongSeal; 4]);
    assert_eq!(said[4], Refusal::LockedOut(seconds));
    // Any number of times, for any length of time.
    for _ in 0..30 {
        let guess = wrong.order(&Order::Stop);
        bed.send(&guess);
        let replies = bed.exchange(&ask(&Query::Status));
        assert!(matches!(refusals(&replies)[..], [Refusal::LockedOut(_)]));
        bed.tick();
        assert!(bed.device.controller().status().step.is_some(), "a guess stops nothing");
    }
    assert_eq!(bed.chip.spent(), spent, "nothing is written for it");
    let begin = right.order(&Order::Begin { bytes: 100, digest: [0; 32], furnace });
    let replies = bed.exchange(&begin);
    let refused = Answer::Refused(Refusal::FiringRunning);
    assert_eq!(right.answer(&replies), Some(refused), "a right seal is obeyed");
    let stop = right.order(&Order::Stop);
    let replies = bed.exchange(&stop);
    assert_eq!(right.answer(&replies), Some(Answer::Stopping));
    bed.tick();
    assert!(bed.device.controller().status().step.is_none());
}

#[test]
fn lock_out_ends_by_itself() {
    let mut bed = Bed::new();
    let (_, mut wrong, _) = two(&mut bed);
    let mut guess = |bed: &mut Bed| {
        let guess = wrong.order(&Order::Stop);
        refusals(&bed.exchange(&guess))
    };
    for _ in 0..WRONG_SEALS_MAX {
        guess(&mut bed);
    }
    bed.run((LOCK_OUT_MS / 100) as u32 - 1);
    assert_eq!(guess(&mut bed), [Refusal::LockedOut(1)]);
    bed.run(1);
    assert_eq!(guess(&mut bed), [Refusal::WrongSeal]);
}

/// A right order also resets the count of wrong seals.
#[test]
fn buttons_work_during_a_lock_out() {
    let mut bed = Bed::new();
    let (_, mut wrong, _) = two(&mut bed);
    // Whether they caused a lock-out.
    let guess = |bed: &mut Bed, wrong: &mut Client, times| {
        (0..times).any(|_| {
            let guess = wrong.order(&Order::Stop);
            matches!(refusals(&bed.exchange(&guess))[..], [Refusal::LockedOut(_)])
        })
    };
    assert!(guess(&mut bed, &mut wrong, WRONG_SEALS_MAX));
    bed.fire();
    assert!(guess(&mut bed, &mut wrong, 100));
    bed.press(|buttons| buttons.stop = true);
    assert!(bed.device.controller().status().step.is_none());

    let mut bed = Bed::new();
    let (mut right, mut wrong, _) = two(&mut bed);
    for _ in 0..10 {
        assert!(!guess(&mut bed, &mut wrong, WRONG_SEALS_MAX - 1));
        let stop = right.order(&Order::Stop);
        let replies = bed.exchange(&stop);
        assert_eq!(right.answer(&replies), Some(Answer::Stopping));
    }
}

/// Every bit of a sealed frame, before and after COBS.
#[test]
fn every_flipped_bit_is_refused() {
    let chip = Bed::new().chip;
    // The same boot of the same flash with the same greeting gives the same session.
    let greeted = || {
        let mut bed = Bed::boot(chip.twin()).unwrap();
        let (client, hello) = bed.connect();
        (bed, client, hello)
    };
    let (mut bed, mut client, hello) = greeted();
    let frames = client.upload(&second_programme(), hello.furnace);
    let replies = bed.exchange(&frames[0]);
    assert_eq!(client.answer(&replies), Some(Answer::Begun), "as it is, it is taken");
    let mut cases = 0;
    let mut refused = |bytes: &[u8]| {
        cases += 1;
        let (mut bed, client, _) = greeted();
        let spent = bed.chip.spent();
        let replies = bed.exchange(bytes);
        assert_eq!(client.answers(&replies), [], "{bytes:?}");
        assert_eq!(bed.chip.spent(), spent);
    };
    for frame in [&frames[0], &client.order_at(0, &Order::Stop)] {
        let below = raw::body(frame);
        for bit in 0..8 {
            for at in 0..frame.len() {
                let mut flipped = frame.clone();
                flipped[at] ^= 1 << bit;
                refused(&flipped);
            }
            for at in 0..below.len() {
                let mut flipped = below.clone();
                flipped[at] ^= 1 << bit;
                refused(&raw::framed(&flipped));
            }
        }
    }
    println!("{cases} flipped bits");
    assert!(cases > 1500, "{cases}");
}
