//! The normal use of the link: a programme is uploaded, read back, and waits for the button.

use saggar_device::ProgrammeStatus;
use saggar_device::wire::{Answer, LogEvent, Notice, Order, Query, Refusal, Subscription};

use super::client::{ask, told};
use super::support::{Bed, second_programme, settings};

#[test]
fn uploaded_programme_waits_for_the_start_button() {
    let mut bed = Bed::of(&settings(), None);
    assert_eq!(bed.device.programme_status(), ProgrammeStatus::Missing);
    let (mut client, hello) = bed.connect();
    assert_eq!((hello.programme, hello.furnace), (None, bed.furnace()));
    let image = second_programme();
    assert!(image.bytes().len() > 2 * 240, "several pieces");
    let mut answers = Vec::new();
    for frame in client.upload(&image, hello.furnace) {
        let replies = bed.exchange(&frame);
        answers.extend(client.answers(&replies));
        bed.tick();
    }
    let sequences: Vec<u32> = answers.iter().map(|(sequence, _)| *sequence).collect();
    assert_eq!(sequences, (0..client.next).collect::<Vec<_>>(), "every order has its answer");
    assert_eq!(answers[0].1, Answer::Begun);
    assert_eq!(answers[1].1, Answer::Staged { bytes: 240 });
    assert_eq!(answers.last().unwrap().1, Answer::Committed { digest: image.digest() });

    assert_eq!(read_back(&mut bed), image.bytes());
    assert_eq!(bed.device.programme(), Some(&image.digest()));
    assert_eq!(bed.device.controller().programme(), Some(&image));
    let begin = *image.digest().first_chunk().unwrap();
    assert_eq!(bed.logged(LogEvent::Programme(begin)), 1);

    for _ in 0..100 {
        assert_eq!(bed.tick().heater_cycles, 0, "nothing on the line starts heat");
    }
    bed.fire();
    bed.reboot();
    assert_eq!(bed.device.controller().programme(), Some(&image), "after a power cycle");
    assert_eq!(bed.out.heater_cycles, 0);
}

fn read_back(bed: &mut Bed) -> Vec<u8> {
    let mut bytes = Vec::new();
    loop {
        let offset = bytes.len() as u16;
        let piece = |tell: Notice<'_>| {
            let Notice::Programme(piece) = tell else { return None };
            Some((piece.total, piece.data.to_vec()))
        };
        let replies = bed.exchange(&ask(&Query::Programme { offset }));
        let (of, data) = replies.iter().find_map(|frame| told(frame, piece)).expect("a piece");
        bytes.extend(data);
        if bytes.len() >= usize::from(of) {
            return bytes;
        }
    }
}

/// Without it a recording would be replayed with the old programme.
#[test]
fn commit_sends_a_subscriber_a_new_origin() {
    let mut bed = Bed::of(&settings(), None);
    let origins = |replies: &[Vec<u8>]| -> Vec<_> {
        let origin = |tell: Notice<'_>| {
            if let Notice::Origin(origin) = tell {
                Some((origin.number, origin.programme))
            } else {
                None
            }
        };
        replies.iter().filter_map(|frame| told(frame, origin)).collect()
    };
    let number = |bed: &Bed| bed.device.tick().number;
    let replies =
        bed.exchange(&ask(&Query::Subscribe(Subscription { ticks: true, status: false })));
    assert_eq!(origins(&replies), [(number(&bed), None)]);
    let image = second_programme();
    let (mut client, hello) = bed.connect();
    let mut replies = Vec::new();
    for frame in client.upload(&image, hello.furnace) {
        bed.tick();
        replies.extend(bed.replies());
        replies.extend(bed.exchange(&frame));
    }
    assert_eq!(origins(&replies), [(number(&bed), Some(image.digest()))]);
    // Without a subscription there is no origin.
    bed.exchange(&ask(&Query::Subscribe(Subscription::default())));
    let replies: Vec<_> =
        client.upload(&image, hello.furnace).iter().flat_map(|f| bed.exchange(f)).collect();
    assert_eq!(client.answers(&replies).len(), replies.len());
}

#[test]
fn device_without_a_key_refuses_orders() {
    use saggar_device::DeviceSettings;
    use saggar_device::wire::seal::KEY_BYTES;
    for key in [None, Some([0; KEY_BYTES]), Some([0xFF; KEY_BYTES])] {
        let settings =
            DeviceSettings::new(*b"no key..", key, [1; 16], crate::support::furnace());
        let mut bed = Bed::of(&settings, None);
        let (mut client, hello) = bed.connect();
        assert!(!hello.has_key);
        assert_eq!(hello.nonce, [0; 16]);
        let replies = bed.exchange(&client.order(&Order::Stop));
        assert_eq!(super::client::refusals(&replies), [Refusal::NoKey]);
    }
}

#[test]
fn several_stops_end_the_firing_once() {
    for stops in [1, 2, 50] {
        let mut bed = Bed::new();
        bed.fire();
        let (mut client, _) = bed.connect();
        for _ in 0..stops {
            let frame = client.order(&Order::Stop);
            bed.send(&frame);
        }
        let replies = bed.replies();
        assert_eq!(
            client.answers(&replies),
            [(stops - 1, Answer::Stopping)],
            "the last is told"
        );
        assert!(bed.device.controller().status().step.is_some(), "not before the tick");
        bed.millis += 3000;
        assert_eq!(bed.tick().heater_cycles, 0, "a tick that is late");
        assert!(!bed.out.contactor && bed.device.controller().status().step.is_none());
        assert_eq!(bed.logged(LogEvent::StopRequested), 1);
        bed.run(2);
        bed.press(|buttons| buttons.confirm = true);
        bed.fire();
    }
}
