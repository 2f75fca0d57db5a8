//! Floods of greetings and wrong seals: the holder of the key is obeyed all the same.

use saggar_device::link::{BYTES_PER_TICK, LOCK_OUT_MS, WRONG_SEALS_MAX};
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{Answer, Order, PROTOCOL, Refusal};

use super::client::{Client, refusals};
use super::raw;
use super::seals::two;
use super::support::{Bed, KEY, OTHER_KEY, second_programme};

/// Frames of a flood per tick: 46 greetings fill a link of 115,200 bit/s.
const FRAMES: usize = 46;

/// What is sent between two frames of the key's holder.
#[derive(Clone, Copy, Debug)]
enum Flood {
    Greetings,
    WrongSeals,
    Both,
}

const FLOODS: [Flood; 3] = [Flood::Greetings, Flood::WrongSeals, Flood::Both];

/// Sends a tick's worth of the flood, then runs the tick. The replies are not read.
fn flood(bed: &mut Bed, kind: Flood, draw: &mut u8) {
    let mut stranger = Client::new(DeviceKey::new(OTHER_KEY).expect("a key"));
    let mut sent = 0;
    for frame in 0..FRAMES {
        *draw = draw.wrapping_add(1).max(1);
        let greets = match kind {
            Flood::Greetings => true,
            Flood::WrongSeals => false,
            Flood::Both => frame % 2 == 0,
        };
        let greeting = stranger.hello(*draw);
        let frame = if greets {
            greeting
        } else {
            // An order of an unknown session.
            raw::framed(&[&[PROTOCOL, 2][..], &[0; 4], &[3], &[*draw; 16]].concat())
        };
        sent += frame.len();
        bed.exchange(&frame);
    }
    assert!(sent < usize::from(BYTES_PER_TICK), "{sent} bytes leave the owner no room");
    bed.tick();
}

/// The holder of the key greets, gets the reply a tick later, and sends each frame in a tick of its
/// own, behind the flood. The first order follows directly on a repeated greeting.
fn through(bed: &mut Bed, kind: Flood, orders: &[Order<'_>]) -> Vec<Answer> {
    let mut draw = 1;
    flood(bed, kind, &mut draw);
    let mut client = Client::new(DeviceKey::new(KEY).expect("a key"));
    let greeting = client.hello(0);
    let replies = bed.exchange(&greeting);
    client.accept_greeting(&replies);
    let mut answers = Vec::new();
    for (index, order) in orders.iter().enumerate() {
        flood(bed, kind, &mut draw);
        let mut frames = if index == 0 { greeting.clone() } else { Vec::new() };
        frames.extend(client.order(order));
        let replies = bed.exchange(&frames);
        answers.extend(client.answer(&replies));
    }
    answers
}

#[test]
fn stop_is_obeyed_during_every_flood() {
    for kind in FLOODS {
        let mut bed = Bed::new();
        bed.fire();
        assert_eq!(through(&mut bed, kind, &[Order::Stop]), [Answer::Stopping], "{kind:?}");
        bed.tick();
        assert!(bed.device.controller().status().step.is_none(), "{kind:?}");
    }
}

#[test]
fn upload_succeeds_during_every_flood() {
    let image = second_programme();
    let (bytes, digest) = (image.bytes(), image.digest());
    for kind in FLOODS {
        let mut bed = Bed::new();
        let furnace = bed.furnace();
        let length = u16::try_from(bytes.len()).unwrap();
        let mut orders = vec![Order::Begin { bytes: length, digest, furnace }];
        let pieces = (0u16..).step_by(240).zip(bytes.chunks(240));
        orders.extend(pieces.map(|(offset, data)| Order::Chunk { offset, data }));
        orders.push(Order::Commit { digest });
        let answers = through(&mut bed, kind, &orders);
        assert_eq!(answers.last(), Some(&Answer::Committed { digest }), "{kind:?}");
        assert_eq!(bed.device.controller().programme(), Some(&image), "{kind:?}");
    }
}

/// A client that does not greet again, with other greetings between its greeting and its order.
#[test]
fn few_greetings_do_not_displace_an_offer() {
    for strangers in 0..=2 {
        let mut bed = Bed::new();
        let (mut client, _) = bed.connect();
        for draw in 1..=strangers {
            let greeting = Client::new(DeviceKey::new(OTHER_KEY).expect("a key")).hello(draw);
            bed.exchange(&greeting);
        }
        let stop = client.order(&Order::Stop);
        let replies = bed.exchange(&stop);
        assert_eq!(client.answer(&replies), Some(Answer::Stopping), "{strangers} strangers");
    }
}

/// Until an order was taken in it.
#[test]
fn repeated_greeting_gives_the_same_session() {
    let mut bed = Bed::new();
    let mut client = Client::new(DeviceKey::new(KEY).expect("a key"));
    let greeting = client.hello(5);
    let replies = bed.exchange(&greeting);
    let first = client.accept_greeting(&replies);
    let replies = bed.exchange(&greeting);
    assert_eq!(client.accept_greeting(&replies).nonce, first.nonce);
    let stop = client.order(&Order::Stop);
    let replies = bed.exchange(&stop);
    assert_eq!(client.answer(&replies), Some(Answer::Stopping));
    let replies = bed.exchange(&greeting);
    let mut again = client.clone();
    assert_ne!(
        again.accept_greeting(&replies).nonce,
        first.nonce,
        "a used number is never told again"
    );
    // The order of the first session does not act a second time.
    bed.tick();
    bed.fire();
    bed.exchange(&stop);
    bed.tick();
    assert!(bed.device.controller().status().step.is_some(), "an old stop");
}

#[test]
fn right_seal_is_obeyed_during_a_lock_out() {
    let mut bed = Bed::new();
    let (mut right, mut wrong, furnace) = two(&mut bed);
    let image = second_programme();
    for frame in right.upload(&image, furnace) {
        let mut said = Vec::new();
        for _ in 0..2 * WRONG_SEALS_MAX {
            let guess = wrong.order(&Order::Stop);
            said.extend(refusals(&bed.exchange(&guess)));
        }
        let locked = |why: &Refusal| matches!(why, Refusal::LockedOut(_));
        assert!(said.iter().any(locked), "{said:?}");
        let replies = bed.exchange(&frame);
        assert!(!matches!(right.answer(&replies), None | Some(Answer::Refused(_))));
        bed.millis += LOCK_OUT_MS / 20;
        bed.tick();
    }
    assert_eq!(bed.device.controller().programme(), Some(&image));
}
