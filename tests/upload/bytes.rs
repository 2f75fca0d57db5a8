//! Bytes that are no valid order: truncated, endless, slow, too many, for another device, or random.

use proptest::prelude::*;
use saggar_core::checksum::CRC;
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{Answer, FrameKind, Order, PROTOCOL, Query, Refusal, decode_frame};

use super::client::{Client, ask, frame, refusals};
use super::raw;
use super::support::{Bed, Dice, KEY, second_programme};

/// A frame truncated anywhere is damaged, and the next one is not lost with it.
#[test]
fn truncated_frames_are_counted_as_damaged() {
    let mut bed = Bed::new();
    let (mut client, hello) = bed.connect();
    let frames = client.upload(&second_programme(), hello.furnace);
    let spent = bed.chip.spent();
    for cut in 1..frames[1].len() - 1 {
        let mut line = frames[1][..cut].to_vec();
        line.push(0);
        let replies = bed.exchange(&line);
        assert!(replies.is_empty(), "{cut}: {:?}", refusals(&replies));
        bed.tick();
    }
    assert_eq!(bed.chip.spent(), spent);
    assert_eq!(bed.status().bad_frames as usize, frames[1].len() - 2);
    let replies = bed.exchange(&frames[0]);
    assert_eq!(client.answer(&replies), Some(Answer::Begun));
}

#[test]
fn endless_frame_is_discarded() {
    let mut bed = Bed::new();
    for _ in 0..1000 {
        bed.send(&[0x55; 1152]);
        assert!(bed.replies().is_empty());
        bed.tick();
    }
    // One zero clears the link.
    let mut line = vec![0];
    line.extend(ask(&Query::Status));
    assert_eq!(bed.exchange(&line).len(), 1);
}

/// After two seconds of silence the next byte begins a new frame.
#[test]
fn two_seconds_of_silence_discard_a_partial_frame() {
    for before in [&[0x55; 3][..], &[0x55; 400], &[0x55; 9000]] {
        for (ticks, replies) in [(19, 0), (21, 1)] {
            let mut bed = Bed::new();
            bed.send(before);
            bed.run(ticks);
            assert_eq!(
                bed.exchange(&ask(&Query::Status)).len(),
                replies,
                "after {ticks} ticks"
            );
        }
    }
    // A byte every 2.1 seconds never makes a frame.
    let mut bed = Bed::new();
    for byte in ask(&Query::Status) {
        bed.run(21);
        assert!(bed.exchange(&[byte]).is_empty());
    }
}

/// Bytes beyond a tick's budget are dropped, but frame ends are still tracked.
#[test]
fn bytes_beyond_the_budget_cost_only_the_frames_of_their_tick() {
    let mut bed = Bed::new();
    let status = ask(&Query::Status);
    bed.send(&vec![0; 4096]);
    assert!(bed.exchange(&status).is_empty(), "beyond the budget");
    bed.tick();
    assert_eq!(bed.exchange(&status).len(), 1, "the next tick's is whole");
    bed.tick();
    bed.send(&vec![0; 4096]);
    bed.send(&status[..2]);
    bed.tick();
    assert!(bed.exchange(&status[2..]).is_empty(), "half of it was dropped");
    assert_eq!(bed.exchange(&status).len(), 1);
}

/// Ten times what the link can carry, for 1,000 ticks of a firing: no output differs.
#[test]
fn flood_of_bytes_changes_no_output() {
    let mut dice = Dice(77);
    let (mut calm, mut flooded) = (Bed::new(), Bed::new());
    calm.fire();
    flooded.fire();
    let (mut client, hello) = flooded.connect();
    let upload = client.upload(&second_programme(), hello.furnace);
    let stranger = Client::new(DeviceKey::new(KEY).unwrap());
    let mut heated = false;
    let greeting = stranger.clone().hello(1);
    for tick in 0..1000 {
        let mut sent = 0;
        while sent < 11_520 {
            let piece = match dice.below(6) {
                0 => greeting.clone(),
                1 => ask(&Query::Log { from: 0 }),
                2 => upload[dice.below(upload.len())].clone(),
                3 => raw::framed(
                    &(0..dice.below(280)).map(|_| dice.roll() as u8).collect::<Vec<_>>(),
                ),
                4 => vec![0; 50],
                _ => (0..300).map(|_| dice.roll() as u8).collect(),
            };
            flooded.send(&piece);
            sent += piece.len();
        }
        flooded.replies();
        assert_eq!(flooded.tick(), calm.tick(), "tick {tick}");
        assert_eq!(flooded.device.tick(), calm.device.tick());
        heated |= calm.out.heater_cycles != 0;
    }
    assert!(heated && flooded.tripped().is_none());
}

#[test]
fn unknown_version_and_message_are_refused() {
    let mut bed = Bed::new();
    let (mut client, _) = bed.connect();
    for version in (0..=255).filter(|version| *version != PROTOCOL) {
        bed.run(u32::from(version % 50 == 0));
        let mut body = raw::body(&client.order_at(0, &Order::Stop));
        body[0] = version;
        let replies = bed.exchange(&raw::framed(&body));
        assert_eq!(refusals(&replies), [Refusal::OtherProtocol(PROTOCOL)]);
    }
    for kind in (0..=255).filter(|kind| !(1..=4).contains(kind)) {
        bed.run(u32::from(kind % 50 == 0));
        let replies = bed.exchange(&raw::framed(&[PROTOCOL, kind, 0, 0]));
        assert_eq!(refusals(&replies), [Refusal::Unreadable], "kind {kind}");
    }
    for question in 6..=127 {
        // A tick restores the byte budget.
        bed.run(u32::from(question % 50 == 0));
        let replies = bed.exchange(&raw::framed(&[PROTOCOL, 1, question, 0, 0]));
        assert_eq!(refusals(&replies), [Refusal::Unreadable], "question {question}");
    }
    // A message with one byte too many.
    let mut longer = raw::body(&ask(&Query::Status));
    longer.push(0);
    assert_eq!(refusals(&bed.exchange(&raw::framed(&longer))), [Refusal::Unreadable]);
    // Rightly sealed, but not an order.
    let seal = client.seal.clone();
    for what in [4u8, 100, 255] {
        let replies =
            bed.exchange(&frame(FrameKind::Order, seal.as_ref().map(|s| (0, s)), &what));
        assert_eq!(refusals(&replies), [Refusal::Unreadable]);
    }
    // A device ignores frames of a device.
    for kind in [FrameKind::Notice, FrameKind::Answer] {
        let replies = bed.exchange(&frame(kind, seal.as_ref().map(|s| (0, s)), &Order::Stop));
        assert!(replies.is_empty());
    }
    let replies = bed.exchange(&client.order(&Order::Stop));
    assert_eq!(client.answer(&replies), Some(Answer::Stopping), "the link still works");
}

/// With the same key.
#[test]
fn orders_sealed_for_another_device_id_are_refused() {
    let mut bed = Bed::new();
    let mut client = Client::new(DeviceKey::new(KEY).unwrap());
    let greeting = client.hello(7);
    let replies = bed.exchange(&greeting);
    let hello = client.accept_greeting(&replies);
    client.seal = Some(client.key.session_key(b"furnace2", &hello.nonce, &[7; 16]));
    let replies = bed.exchange(&client.order(&Order::Stop));
    assert_eq!(refusals(&replies), [Refusal::WrongSeal]);
}

#[test]
fn chunks_of_wrong_length_are_refused() {
    let mut bed = Bed::new();
    let (mut client, hello) = bed.connect();
    let image = second_programme();
    let (digest, furnace) = (image.digest(), hello.furnace);
    let mut refused = |bed: &mut Bed, order: &Order<'_>| {
        let replies = bed.exchange(&client.order(order));
        match client.answer(&replies) {
            Some(Answer::Refused(why)) => Some(why),
            Some(Answer::Begun | Answer::Staged { .. }) => None,
            other => panic!("{order:?}: {other:?}"),
        }
    };
    for bytes in [0, 1025, 1026, u16::MAX] {
        let begin = Order::Begin { bytes, digest, furnace };
        assert_eq!(refused(&mut bed, &begin), Some(Refusal::BadSize(1024)));
    }
    let begin = Order::Begin { bytes: 500, digest, furnace: [1; 32] };
    assert_eq!(refused(&mut bed, &begin), Some(Refusal::OtherFurnace));
    let out = Some(Refusal::OutOfOrder);
    assert_eq!(refused(&mut bed, &Order::Chunk { offset: 0, data: &[0; 240] }), out, "begin!");
    let begin = Order::Begin { bytes: 500, digest, furnace };
    assert_eq!(refused(&mut bed, &begin), None);
    for (offset, length) in [(0, 0), (0, 16), (0, 239), (0, 241), (240, 240), (65_535, 240)] {
        let data = &[0; 241][..length];
        assert_eq!(refused(&mut bed, &Order::Chunk { offset, data }), out, "{offset} {length}");
    }
    assert_eq!(refused(&mut bed, &Order::Chunk { offset: 0, data: &[0; 240] }), None);
    assert_eq!(refused(&mut bed, &Order::Commit { digest }), out, "not all there");
    // The last chunk too must not exceed a chunk.
    let begin = Order::Begin { bytes: 241, digest, furnace };
    assert_eq!(refused(&mut bed, &begin), None);
    assert_eq!(refused(&mut bed, &Order::Chunk { offset: 0, data: &[0; 241] }), out);
}

/// Arbitrary bytes, some in frames that reach the seal or the message.
fn any_bytes() -> impl Strategy<Value = Vec<u8>> {
    let wild = prop::collection::vec(any::<u8>(), 0..600);
    let head = (1u8..6, prop::collection::vec(any::<u8>(), 0..300));
    let framed = head.prop_map(|(kind, mut rest)| {
        rest.splice(0..0, [PROTOCOL, kind]);
        raw::framed(&rest)
    });
    let question =
        (0u8..7, prop::collection::vec(any::<u8>(), 0..20)).prop_map(|(ask, mut rest)| {
            rest.splice(0..0, [PROTOCOL, 1, ask]);
            raw::framed(&rest)
        });
    prop_oneof![wild, framed, question]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Without a seal: no panic, no change.
    #[test]
    fn arbitrary_bytes_change_nothing(pieces in prop::collection::vec(any_bytes(), 1..12)) {
        let mut bed = Bed::new();
        bed.connect();
        let before = bed.chip.spent();
        for piece in &pieces {
            bed.send(piece);
            for frame in bed.replies() {
                prop_assert_eq!(frame.last(), Some(&0));
            }
            prop_assert_eq!(bed.tick().heater_cycles, 0);
        }
        prop_assert_eq!(bed.chip.spent(), before);
    }
}

/// Encoders differ in whether an empty run follows a last one of 254 bytes.
#[test]
fn a_full_last_run_may_be_followed_by_an_empty_one() {
    let bodies = (1..=255).map(|fill| [vec![PROTOCOL, 1], vec![fill; 248]].concat());
    let with_sum = |body: Vec<u8>| [&body[..], &CRC.checksum(&body).to_le_bytes()].concat();
    let whole = bodies.map(with_sum).find(|whole| !whole.contains(&0)).expect("no zero");
    assert_eq!(whole.len(), 254);
    let short = [&[255], &whole[..]].concat();
    let long = [&short[..], &[1]].concat();
    for mut coded in [short, long] {
        let body = decode_frame(&mut coded).expect("whole");
        assert_eq!((body.kind, body.rest.len()), (FrameKind::Query, 248));
    }
}
