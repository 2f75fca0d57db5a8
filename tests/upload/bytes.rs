//! Bytes that are no order: cut short, endless, slow, too many, for somebody else, or nonsense.

use proptest::prelude::*;
use saggar_core::checksum::CRC;
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{Answer, FrameKind, Order, Query, Refusal, decode_frame};

use super::desk::{Desk, ask, frame, refusals};
use super::raw;
use super::support::{Bed, Dice, KEY, second_programme};

/// A frame cut anywhere is noise, and the next one is not lost with it.
#[test]
fn truncated_frames_are_noise() {
    let mut bed = Bed::new();
    let (mut desk, hello) = bed.desk();
    let frames = desk.upload(&second_programme(), hello.furnace);
    let spent = bed.chip.spent();
    for cut in 1..frames[1].len() - 1 {
        let mut line = frames[1][..cut].to_vec();
        line.push(0);
        let heard = bed.exchange(&line);
        assert!(heard.is_empty(), "{cut}: {:?}", refusals(&heard));
        bed.tick();
    }
    assert_eq!(bed.chip.spent(), spent);
    assert_eq!(bed.status().bad_frames as usize, frames[1].len() - 2);
    let heard = bed.exchange(&frames[0]);
    assert_eq!(desk.answer(&heard), Some(Answer::Begun));
}

#[test]
fn an_endless_frame_ends_nothing() {
    let mut bed = Bed::new();
    for _ in 0..1000 {
        bed.send(&[0x55; 1152]);
        assert!(bed.hear().is_empty());
        bed.tick();
    }
    // One zero clears the line.
    let mut line = vec![0];
    line.extend(ask(&Query::Status));
    assert_eq!(bed.exchange(&line).len(), 1);
}

/// Two seconds of silence in a frame, or in a flood, and what comes is a new one.
#[test]
fn silence_clears_the_line() {
    for before in [&[0x55; 3][..], &[0x55; 400], &[0x55; 9000]] {
        for (ticks, heard) in [(19, 0), (21, 1)] {
            let mut bed = Bed::new();
            bed.send(before);
            bed.run(ticks);
            assert_eq!(bed.exchange(&ask(&Query::Status)).len(), heard, "after {ticks} ticks");
        }
    }
    // A byte every two seconds and a bit is never a frame.
    let mut bed = Bed::new();
    for byte in ask(&Query::Status) {
        bed.run(21);
        assert!(bed.exchange(&[byte]).is_empty());
    }
}

/// More than the budget of a tick is dropped, and where frames end is still known.
#[test]
fn a_flood_costs_the_frames_of_its_tick() {
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

/// Ten times what the line can carry, for 1,000 ticks of a firing: not one output differs.
#[test]
fn a_flood_changes_no_output() {
    let mut dice = Dice(77);
    let (mut calm, mut flooded) = (Bed::new(), Bed::new());
    calm.fire();
    flooded.fire();
    let (mut desk, hello) = flooded.desk();
    let upload = desk.upload(&second_programme(), hello.furnace);
    let stranger = Desk::new(DeviceKey::new(KEY).unwrap());
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
        flooded.hear();
        assert_eq!(flooded.tick(), calm.tick(), "tick {tick}");
        assert_eq!(flooded.device.tick(), calm.device.tick());
    }
    assert!(calm.out.heater_cycles != 0 && flooded.tripped().is_none());
}

#[test]
fn another_version_or_message_is_refused() {
    let mut bed = Bed::new();
    let (mut desk, _) = bed.desk();
    for version in (0..=255).filter(|version| *version != 1) {
        bed.run(u32::from(version % 50 == 0));
        let mut body = raw::body(&desk.order_at(0, &Order::Stop));
        body[0] = version;
        let heard = bed.exchange(&raw::framed(&body));
        assert_eq!(refusals(&heard), [Refusal::OtherProtocol(1)]);
    }
    for kind in (0..=255).filter(|kind| !(1..=4).contains(kind)) {
        bed.run(u32::from(kind % 50 == 0));
        let heard = bed.exchange(&raw::framed(&[1, kind, 0, 0]));
        assert_eq!(refusals(&heard), [Refusal::Unreadable], "kind {kind}");
    }
    for question in 6..=127 {
        // A budget of bytes a tick.
        bed.run(u32::from(question % 50 == 0));
        let heard = bed.exchange(&raw::framed(&[1, 1, question, 0, 0]));
        assert_eq!(refusals(&heard), [Refusal::Unreadable], "question {question}");
    }
    // One byte more than a message has is another message.
    let mut longer = raw::body(&ask(&Query::Status));
    longer.push(0);
    assert_eq!(refusals(&bed.exchange(&raw::framed(&longer))), [Refusal::Unreadable]);
    // Well sealed and no order.
    let seal = desk.seal.clone();
    for what in [4u8, 100, 255] {
        let heard =
            bed.exchange(&frame(FrameKind::Order, seal.as_ref().map(|s| (0, s)), &what));
        assert_eq!(refusals(&heard), [Refusal::Unreadable]);
    }
    // What a device says is nothing to a device.
    for kind in [FrameKind::Notice, FrameKind::Answer] {
        let heard = bed.exchange(&frame(kind, seal.as_ref().map(|s| (0, s)), &Order::Stop));
        assert!(heard.is_empty());
    }
    let heard = bed.exchange(&desk.order(&Order::Stop));
    assert_eq!(desk.answer(&heard), Some(Answer::Stopping), "the line still works");
}

/// Orders for a device of another name, from whoever holds the same key.
#[test]
fn orders_for_another_device_are_refused() {
    let mut bed = Bed::new();
    let mut desk = Desk::new(DeviceKey::new(KEY).unwrap());
    let greeting = desk.hello(7);
    let heard = bed.exchange(&greeting);
    let hello = desk.meet(&heard);
    desk.seal = Some(desk.key.session_key(b"furnace2", &hello.nonce, &[7; 16]));
    let heard = bed.exchange(&desk.order(&Order::Stop));
    assert_eq!(refusals(&heard), [Refusal::WrongSeal]);
}

#[test]
fn wrong_lengths_are_refused() {
    let mut bed = Bed::new();
    let (mut desk, hello) = bed.desk();
    let image = second_programme();
    let (digest, furnace) = (image.digest(), hello.furnace);
    let mut refused = |bed: &mut Bed, order: &Order<'_>| {
        let heard = bed.exchange(&desk.order(order));
        match desk.answer(&heard) {
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
    // The last piece too is no longer than a piece.
    let begin = Order::Begin { bytes: 241, digest, furnace };
    assert_eq!(refused(&mut bed, &begin), None);
    assert_eq!(refused(&mut bed, &Order::Chunk { offset: 0, data: &[0; 241] }), out);
}

/// Bytes of any kind, some in frames that reach the seal or the message.
fn any_bytes() -> impl Strategy<Value = Vec<u8>> {
    let wild = prop::collection::vec(any::<u8>(), 0..600);
    let head = (1u8..6, prop::collection::vec(any::<u8>(), 0..300));
    let framed = head.prop_map(|(kind, mut rest)| {
        rest.splice(0..0, [1, kind]);
        raw::framed(&rest)
    });
    let question =
        (0u8..7, prop::collection::vec(any::<u8>(), 0..20)).prop_map(|(ask, mut rest)| {
            rest.splice(0..0, [1, 1, ask]);
            raw::framed(&rest)
        });
    prop_oneof![wild, framed, question]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Whatever arrives without a seal: no panic, no change.
    #[test]
    fn any_bytes_are_borne(pieces in prop::collection::vec(any_bytes(), 1..12)) {
        let mut bed = Bed::new();
        bed.desk();
        let before = bed.chip.spent();
        for piece in &pieces {
            bed.send(piece);
            for frame in bed.hear() {
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
    let bodies = (1..=255).map(|fill| [vec![1, 1], vec![fill; 248]].concat());
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
