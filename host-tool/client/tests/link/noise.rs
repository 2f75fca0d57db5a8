//! Uploads over a line that loses, doubles and alters.

use std::time::Duration;

use saggar_client::link::{LinkError, OrderError};
use saggar_device::wire::seal::{DeviceKey, KEY_BYTES};
use saggar_device::wire::{Answer, Refusal};

use crate::simulated::{Dice, Harm, Simulated, key};

/// Uploads over many lines of one kind: how many were completed. Whatever happens, the device
/// has the programme whole or not at all.
fn completed(harm: Harm, lines: u64) -> (u64, u32) {
    let programme: Vec<u8> = (0..1024u32).map(|i| (i * 7 % 256) as u8).collect();
    let (mut done, mut again_all) = (0, 0);
    for seed in 1..=lines {
        let mut line = Simulated::new(Duration::from_millis(2), harm, seed * 0x9e37_79b9);
        match line.upload(&programme, &key()) {
            Ok(answer) => {
                assert!(matches!(answer, Answer::Committed { .. }));
                assert_eq!(line.fake.programme, programme, "seed {seed}");
                assert_eq!(line.fake.commits, 1, "a repeated order has no effect");
                (done, again_all) = (done + 1, again_all + line.again);
            }
            // Greetings that were doubled time after time look like another key: it is reported.
            Err(OrderError {
                cause: LinkError::NoAnswer { .. } | LinkError::Refused(Refusal::WrongSeal),
                ..
            }) => {
                let whole = line.fake.programme == programme;
                assert!(whole || line.fake.programme.is_empty(), "seed {seed}: a half");
            }
            Err(other) => panic!("seed {seed}: {other:?}"),
        }
    }
    (done, again_all)
}

#[test]
fn a_little_noise_is_survived() {
    for harm in [
        Harm { lose: 20, ..Harm::default() },
        Harm { double: 10, ..Harm::default() },
        Harm { alter: 20, ..Harm::default() },
        Harm { drop_byte: 20, ..Harm::default() },
        Harm { lose: 50, double: 10, alter: 50, drop_byte: 50 },
    ] {
        let (done, again) = completed(harm, 300);
        println!("{harm:?}: {done} of 300, {again} frames again");
        // Three tries each fail together with 1 in 8000 where one frame of 20 is harmed each
        // way; an upload has some fifteen such chances.
        assert!(done >= 290, "{harm:?}: {done}");
        assert!(harm.lose == 0 || again > 0, "nothing was lost: the test shows nothing");
    }
}

#[test]
fn a_line_that_is_mostly_noise_is_reported() {
    let harm = Harm { lose: 2, alter: 3, ..Harm::default() };
    let (done, _) = completed(harm, 100);
    println!("{done} of 100");
    assert!(done < 100, "the line is too good for this test");
}

#[test]
fn a_wrong_key_is_reported_and_changes_nothing() {
    let mut line = Simulated::new(Duration::from_millis(1), Harm::default(), 1);
    let other =
        DeviceKey::new(std::array::from_fn::<u8, KEY_BYTES, _>(|i| 200 - i as u8)).unwrap();
    let failed = line.upload(&[1; 500], &other).unwrap_err();
    assert_eq!(failed.cause, LinkError::Refused(Refusal::WrongSeal));
    assert!(!failed.last_order_sent);
    assert!(line.fake.programme.is_empty());
}

/// A device, or whoever sits on the line, sends what it likes: nothing panics, and it is over in
/// time.
#[test]
fn any_bytes_at_all_end_in_a_report() {
    use saggar_client::link::{
        FrameAssembler, LogQuery, QueryTransaction, Timeouts, Transaction as _,
    };
    let mut dice = Dice(77);
    for _ in 0..200 {
        let mut frames = FrameAssembler::default();
        let mut log = QueryTransaction::new(LogQuery::new(0), Timeouts::for_baud(115_200));
        let mut out = [0; saggar_device::wire::FRAME_BYTES_MAX];
        let mut outcome = None;
        for second in 0..10 {
            let now = Duration::from_secs(second * 2);
            while log.transmit(now, &mut out).is_some() {}
            let bytes: Vec<u8> = (0..2000).map(|_| dice.roll() as u8).collect();
            frames.push(&bytes, |frame| {
                if let Ok(body) = saggar_device::wire::decode_frame(frame) {
                    log.receive(now, &body);
                }
            });
            outcome = outcome.or(log.take_result());
        }
        assert_eq!(outcome, Some(Err(LinkError::NoAnswer { broken_frames: 0 })));
    }
}
