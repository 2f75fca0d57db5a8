//! How long a session lives, and an offer of one.

use saggar_device::link::SESSION_TIMEOUT_MS;
use saggar_device::wire::{Answer, Order, Refusal};

use super::desk::refusals;
use super::support::{Bed, first_programme, second_programme};

/// Ticks in which a session lives.
const LEASE: u32 = (SESSION_TIMEOUT_MS / 100) as u32;

/// Somebody who holds frames back on the line cannot use them for long.
#[test]
fn an_offer_grows_old() {
    for (ticks, taken) in [(LEASE - 1, true), (LEASE + 1, false)] {
        let mut bed = Bed::new();
        let (mut desk, _) = bed.desk();
        let held = desk.order(&Order::Stop);
        bed.run(ticks);
        let heard = bed.exchange(&held);
        assert_eq!(desk.answer(&heard) == Some(Answer::Stopping), taken);
        assert_eq!(refusals(&heard) == [Refusal::NoSession], !taken);
    }
}

/// An old order that is said again and again keeps no session open.
#[test]
fn a_session_is_not_kept_open_by_old_orders() {
    let mut bed = Bed::new();
    let (mut desk, hello) = bed.desk();
    let image = second_programme();
    let frames = desk.upload(&image, hello.furnace);
    let (held, sent) = frames.split_last().unwrap();
    for frame in sent {
        bed.send(frame);
    }
    bed.hear();
    for _ in 0..=LEASE / 100 {
        bed.run(100);
        bed.exchange(&sent[0]);
        bed.exchange(&desk.order_at(99, &Order::Commit { digest: image.digest() }));
    }
    bed.run(2);
    let heard = bed.exchange(held);
    assert_eq!(desk.answers(&heard), []);
    assert_eq!(refusals(&heard), [Refusal::NoSession]);
    assert_eq!(bed.device.controller().programme(), Some(&first_programme()));
}

/// Orders do keep it open, however long it takes.
#[test]
fn a_session_lives_as_long_as_it_is_used() {
    let mut bed = Bed::new();
    let (mut desk, hello) = bed.desk();
    let image = second_programme();
    for frame in desk.upload(&image, hello.furnace) {
        bed.run(LEASE - 1);
        let heard = bed.exchange(&frame);
        assert!(!matches!(desk.answer(&heard), None | Some(Answer::Refused(_))));
    }
    assert_eq!(bed.device.controller().programme(), Some(&image));
}

/// A stranger's greeting, in any number, disturbs no session that is in use, and none is told a
/// number with which a session was opened.
#[test]
fn greetings_disturb_nobody() {
    let mut bed = Bed::new();
    let (mut desk, hello) = bed.desk();
    let image = second_programme();
    for frame in desk.upload(&image, hello.furnace) {
        let heard = bed.exchange(&frame);
        assert!(!matches!(desk.answer(&heard), None | Some(Answer::Refused(_))));
        for _ in 0..20 {
            let mut stranger = desk.clone();
            let greeting = stranger.hello(9);
            let heard = bed.exchange(&greeting);
            assert_ne!(stranger.meet(&heard).nonce, hello.nonce, "a number came twice");
            bed.tick();
        }
    }
    assert_eq!(bed.device.controller().programme(), Some(&image));
}
