//! Time-outs of sessions and offers.

use saggar_device::link::SESSION_TIMEOUT_MS;
use saggar_device::wire::{Answer, Order, Refusal};

use super::client::refusals;
use super::support::{Bed, first_programme, second_programme};

/// Ticks until a session times out.
const LEASE: u32 = (SESSION_TIMEOUT_MS / 100) as u32;

/// Frames delayed on the link are worthless after that.
#[test]
fn offer_expires() {
    for (ticks, taken) in [(LEASE - 1, true), (LEASE + 1, false)] {
        let mut bed = Bed::new();
        let (mut client, _) = bed.connect();
        let held = client.order(&Order::Stop);
        bed.run(ticks);
        let replies = bed.exchange(&held);
        assert_eq!(client.answer(&replies) == Some(Answer::Stopping), taken);
        assert_eq!(refusals(&replies) == [Refusal::NoSession], !taken);
    }
}

#[test]
fn repeated_orders_do_not_keep_a_session_open() {
    let mut bed = Bed::new();
    let (mut client, hello) = bed.connect();
    let image = second_programme();
    let frames = client.upload(&image, hello.furnace);
    let (held, sent) = frames.split_last().unwrap();
    for frame in sent {
        bed.send(frame);
    }
    bed.replies();
    for _ in 0..=LEASE / 100 {
        bed.run(100);
        bed.exchange(&sent[0]);
        bed.exchange(&client.order_at(99, &Order::Commit { digest: image.digest() }));
    }
    bed.run(2);
    let replies = bed.exchange(held);
    assert_eq!(client.answers(&replies), []);
    assert_eq!(refusals(&replies), [Refusal::NoSession]);
    assert_eq!(bed.device.controller().programme(), Some(&first_programme()));
}

#[test]
fn new_orders_keep_a_session_open() {
    let mut bed = Bed::new();
    let (mut client, hello) = bed.connect();
    let image = second_programme();
    for frame in client.upload(&image, hello.furnace) {
        bed.run(LEASE - 1);
        let replies = bed.exchange(&frame);
        assert!(!matches!(client.answer(&replies), None | Some(Answer::Refused(_))));
    }
    assert_eq!(bed.device.controller().programme(), Some(&image));
}

/// Nor does a greeting ever get a nonce with which a session was opened.
#[test]
fn greetings_do_not_disturb_an_open_session() {
    let mut bed = Bed::new();
    let (mut client, hello) = bed.connect();
    let image = second_programme();
    for frame in client.upload(&image, hello.furnace) {
        let replies = bed.exchange(&frame);
        assert!(!matches!(client.answer(&replies), None | Some(Answer::Refused(_))));
        for _ in 0..20 {
            let mut stranger = client.clone();
            let greeting = stranger.hello(9);
            let replies = bed.exchange(&greeting);
            assert_ne!(
                stranger.accept_greeting(&replies).nonce,
                hello.nonce,
                "a number came twice"
            );
            bed.tick();
        }
    }
    assert_eq!(bed.device.controller().programme(), Some(&image));
}
