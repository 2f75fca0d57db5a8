//! Every committed programme is announced at the device and cannot be started before it is confirmed.

use std::collections::HashMap;

use saggar_core::programme::{Action, ProgrammeImage};
use saggar_device::wire::{Answer, LogEvent, Order, Refusal, comparison_code, pledge};

use super::client::Client;
use super::support::{
    Bed, CAN_DRAW, DRAWS, first_programme, layout, second_programme, settings,
};
use crate::support::{image, soak, step};

/// Uploads a programme and returns the client.
fn upload(bed: &mut Bed, image: &ProgrammeImage) -> Client {
    let (mut client, hello) = bed.connect();
    for frame in client.upload(image, hello.furnace) {
        let replies = bed.exchange(&frame);
        assert!(
            !matches!(client.answer(&replies), Some(Answer::Refused(_)) | None),
            "{replies:?}"
        );
        bed.tick();
    }
    client
}

fn confirm(bed: &mut Bed) {
    bed.press(|buttons| buttons.confirm = true);
}

/// Presses start and returns whether the firing began.
fn starts(bed: &mut Bed) -> bool {
    bed.press(|buttons| buttons.start = true);
    bed.answer_contact_question();
    bed.device.controller().status().step.is_some()
}

/// Whether lamp and buzzer both went on and off within ten seconds.
fn announces(bed: &mut Bed) -> bool {
    let outs: Vec<_> = (0..100).map(|_| bed.tick()).collect();
    let some = outs.iter().any(|out| out.lamp) && outs.iter().any(|out| out.buzzer);
    let steady = outs.iter().all(|out| out.lamp) || outs.iter().all(|out| out.buzzer);
    some && !steady
}

#[test]
fn every_commit_is_announced_until_it_is_confirmed() {
    let mut bed = Bed::of(&settings(), None);
    assert!(!announces(&mut bed), "without a programme there is nothing to announce");
    let programmes = [first_programme(), second_programme(), second_programme()];
    for (index, image) in (1..).zip(programmes) {
        upload(&mut bed, &image);
        let announcement = bed.device.announcement();
        assert_eq!((announcement.unconfirmed, announcement.commits), (true, index));
        assert!(announces(&mut bed), "lamp and buzzer");
        assert!(!starts(&mut bed), "nobody has confirmed it");
        confirm(&mut bed);
        assert!(!bed.device.announcement().unconfirmed);
        assert!(!announces(&mut bed));
        assert!(starts(&mut bed));
        bed.press(|buttons| buttons.stop = true);
        bed.run(5);
    }
    let tag = *second_programme().digest()[4..].first_chunk().expect("32 bytes");
    assert_eq!(bed.logged(LogEvent::Confirmed(tag)), 2);
}

#[test]
fn confirm_held_since_before_the_commit_does_not_count() {
    let mut bed = Bed::new();
    let (mut client, hello) = bed.connect();
    let mut frames = client.upload(&second_programme(), hello.furnace);
    let commit = frames.pop().unwrap();
    for frame in frames {
        bed.exchange(&frame);
        bed.tick();
    }
    bed.buttons.confirm = true;
    bed.run(3);
    bed.exchange(&commit);
    bed.run(3);
    assert!(bed.device.announcement().unconfirmed);
    bed.buttons.confirm = false;
    bed.run(2);
    assert!(bed.device.announcement().unconfirmed && !starts(&mut bed));
}

#[test]
fn press_that_accepts_a_trip_does_not_confirm_the_programme() {
    let mut bed = Bed::new();
    bed.fire();
    bed.unplugged = true;
    bed.run(40);
    bed.unplugged = false;
    bed.run(5);
    assert!(bed.tripped().is_some());
    upload(&mut bed, &second_programme());
    bed.buttons.confirm = true;
    bed.run(5);
    assert!(bed.tripped().is_none(), "accepted");
    assert!(bed.device.announcement().unconfirmed, "not confirmed");
    bed.buttons.confirm = false;
    bed.run(2);
    assert!(!starts(&mut bed));
    confirm(&mut bed);
    assert!(starts(&mut bed));
}

#[test]
fn confirmation_state_survives_a_power_failure() {
    let mut bed = Bed::new();
    upload(&mut bed, &second_programme());
    bed.reboot();
    assert!(
        bed.device.announcement().unconfirmed && !starts(&mut bed),
        "cut before the confirm"
    );
    confirm(&mut bed);
    bed.reboot();
    assert!(!bed.device.announcement().unconfirmed, "cut after it");
    // Enough boots to rotate the journal more than once.
    for boot in 0..2000 {
        bed = Bed::boot(bed.chip.clone()).expect("comes up");
        assert!(!bed.device.announcement().unconfirmed, "boot {boot}");
    }
    bed.run(20);
    assert!(starts(&mut bed));
}

/// Two programmes whose digests begin with the same eight digits, found by search as an attacker
/// would.
fn programmes_with_equal_first_digits() -> (ProgrammeImage, ProgrammeImage) {
    let mut seen = HashMap::new();
    for rate in 1_000..1_000_000 {
        let ramp = Action::Ramp { to_mc: 900_000, rate_mk_per_min: rate % 30_000 + 1 };
        let this = image(&[step(ramp), step(soak(60 + rate / 30_000))]);
        let begin: [u8; 4] = *this.digest().first_chunk().expect("32 bytes");
        if let Some(other) = seen.insert(begin, this.clone())
            && other != this
        {
            return (other, this);
        }
    }
    panic!("none among a million");
}

#[test]
fn programmes_with_equal_first_digits_have_different_codes() {
    let (one, other) = programmes_with_equal_first_digits();
    assert_eq!(one.digest()[..4], other.digest()[..4]);
    let mut bed = Bed::of(&settings(), Some(&one));
    confirm(&mut bed);
    upload(&mut bed, &other);
    assert!(announces(&mut bed) && !starts(&mut bed));
    let numbers = ([1; 16], [2; 16]);
    let code =
        |image: &ProgrammeImage| comparison_code(&image.digest(), &numbers.0, &numbers.1);
    assert_ne!(code(&one), code(&other));
    assert_ne!(one.digest()[..16], other.digest()[..16], "32 digits");
}

#[test]
fn client_and_device_agree_on_one_code_per_commit() {
    let mut bed = Bed::new();
    let number = *b"a client's draw.";
    let give = |bed: &mut Bed, client: &mut Client, order: Order<'_>| {
        let frame = client.order(&order);
        let replies = bed.exchange(&frame);
        bed.tick();
        client.answer(&replies)
    };
    let hash = pledge(&number);
    let refused = Some(Answer::Refused(Refusal::OutOfOrder));
    let draws = DRAWS.get();
    let (mut early, _) = bed.connect();
    assert_eq!(give(&mut bed, &mut early, Order::Pledge { hash }), refused, "no commit yet");
    assert_eq!(DRAWS.get(), draws, "nothing is drawn before the commit");
    let image = second_programme();
    let mut client = upload(&mut bed, &image);
    assert_eq!(DRAWS.get(), draws, "nor by it: the client's pledge comes first");
    assert_eq!(give(&mut bed, &mut client, Order::Reveal { number }), refused, "not pledged");
    let drawn = give(&mut bed, &mut client, Order::Pledge { hash });
    let Some(Answer::Drawn { number: Some(device) }) = drawn else { panic!("{drawn:?}") };
    assert_eq!(
        give(&mut bed, &mut client, Order::Pledge { hash }),
        refused,
        "one try a commit"
    );
    assert_eq!(bed.device.announcement().code, None);
    assert_eq!(give(&mut bed, &mut client, Order::Reveal { number }), Some(Answer::Agreed));
    let agreed = comparison_code(&image.digest(), &device, &number);
    assert!(agreed < 100_000_000);
    assert_eq!(bed.device.announcement().code, Some(agreed));
    for order in [Order::Pledge { hash }, Order::Reveal { number }] {
        assert_eq!(give(&mut bed, &mut client, order), refused);
    }
    assert_eq!(bed.device.announcement().code, Some(agreed));

    // A number other than the pledged one gives no code, and there is no second try.
    let mut client = upload(&mut bed, &image);
    assert_eq!(bed.device.announcement().code, None, "a new commit, a new code");
    assert!(matches!(
        give(&mut bed, &mut client, Order::Pledge { hash }),
        Some(Answer::Drawn { number: Some(other) }) if other != device
    ));
    let number = [9; 16];
    assert_eq!(give(&mut bed, &mut client, Order::Reveal { number }), refused);
    let number = *b"a client's draw.";
    assert_eq!(give(&mut bed, &mut client, Order::Reveal { number }), refused);
    assert_eq!(bed.device.announcement().code, None);
}

#[test]
fn board_without_random_source_draws_no_number() {
    CAN_DRAW.set(false);
    let mut bed = Bed::new();
    let mut client = upload(&mut bed, &second_programme());
    let frame = client.order(&Order::Pledge { hash: pledge(&[1; 16]) });
    let replies = bed.exchange(&frame);
    assert_eq!(client.answer(&replies), Some(Answer::Drawn { number: None }));
    assert_eq!(bed.device.announcement().code, None);
    CAN_DRAW.set(true);
}

#[test]
fn start_held_since_before_the_confirm_starts_nothing() {
    for held_ticks in [0, 1, 20] {
        let mut bed = Bed::new();
        upload(&mut bed, &second_programme());
        bed.buttons.start = true;
        bed.run(held_ticks);
        bed.buttons.confirm = true;
        bed.run(3);
        bed.buttons.confirm = false;
        bed.run(20);
        assert!(!bed.device.announcement().unconfirmed, "it was confirmed");
        let step = bed.device.controller().status().step;
        assert_eq!(step, None, "a start held for {held_ticks} ticks before");
        bed.buttons.start = false;
        bed.run(2);
        assert!(starts(&mut bed), "a press behind the confirm does");
    }
}

/// The confirmation then holds only until the power fails.
#[test]
fn unreadable_journal_does_not_prove_a_confirmation() {
    let mut bed = Bed::new();
    confirm(&mut bed);
    bed.reboot();
    assert!(!bed.device.announcement().unconfirmed);
    let [first, second] = layout().journal;
    let mut bytes = bed.chip.0.borrow_mut();
    for at in [first, second].map(|region| region.at as usize) {
        bytes.bytes[at..at + first.bytes as usize].fill(0x5A);
    }
    drop(bytes);
    for _ in 0..2 {
        bed.reboot();
        assert!(announces(&mut bed) && !starts(&mut bed));
        confirm(&mut bed);
        assert!(starts(&mut bed));
        bed.press(|buttons| buttons.stop = true);
    }
}
