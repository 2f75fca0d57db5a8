//! Uploads over a link that loses, doubles and alters frames.

use std::time::Duration;

use saggar_client::link::{LinkError, OrderError};
use saggar_device::wire::seal::{DeviceKey, KEY_BYTES};
use saggar_device::wire::{Answer, Refusal};

use crate::simulated::{Dice, Impairment, Simulated, key};

/// Uploads over this number of links. Returns how many uploads succeeded, and how many orders were
/// resent. The device must have the complete programme or none.
fn upload_many(impairment: Impairment, links: u64) -> (u64, u32) {
    let programme: Vec<u8> = (0..1024u32).map(|i| (i * 7 % 256) as u8).collect();
    let (mut uploaded, mut resent) = (0, 0);
    for seed in 1..=links {
        let mut link = Simulated::new(Duration::from_millis(2), impairment, seed * 0x9e37_79b9);
        match link.upload(&programme, &key()) {
            Ok(answer) => {
                assert!(matches!(answer, Answer::Committed { .. }));
                assert_eq!(link.fake.programme, programme, "seed {seed}");
                assert_eq!(link.fake.commits, 1, "a repeated order has no effect");
                (uploaded, resent) = (uploaded + 1, resent + link.resent_orders);
            }
            // If each hello is doubled, the error is the same as for a wrong key.
            Err(OrderError {
                cause: LinkError::NoAnswer { .. } | LinkError::Refused(Refusal::WrongSeal),
                ..
            }) => {
                let whole = link.fake.programme == programme;
                assert!(whole || link.fake.programme.is_empty(), "seed {seed}: incomplete");
            }
            Err(other) => panic!("seed {seed}: {other:?}"),
        }
    }
    (uploaded, resent)
}

#[test]
fn uploads_succeed_on_a_slightly_noisy_link() {
    for impairment in [
        Impairment { lose: 20, ..Impairment::default() },
        Impairment { double: 10, ..Impairment::default() },
        Impairment { alter: 20, ..Impairment::default() },
        Impairment { drop_byte: 20, ..Impairment::default() },
        Impairment { lose: 50, double: 10, alter: 50, drop_byte: 50 },
    ] {
        let (uploaded, resent) = upload_many(impairment, 300);
        println!("{impairment:?}: {uploaded} of 300, {resent} orders resent");
        // Three tries each fail together with 1 in 8000 where one frame of 20 is harmed each
        // way; an upload has some fifteen such chances.
        assert!(uploaded >= 290, "{impairment:?}: {uploaded}");
        assert!(
            impairment.lose == 0 || resent > 0,
            "nothing was lost, so the test shows nothing"
        );
    }
}

#[test]
fn a_very_noisy_link_is_reported() {
    let impairment = Impairment { lose: 2, alter: 3, ..Impairment::default() };
    let (uploaded, _) = upload_many(impairment, 100);
    println!("{uploaded} of 100");
    assert!(uploaded < 100, "the link is too good for this test");
}

#[test]
fn a_wrong_key_is_reported_and_changes_nothing() {
    let mut link = Simulated::new(Duration::from_millis(1), Impairment::default(), 1);
    let other =
        DeviceKey::new(std::array::from_fn::<u8, KEY_BYTES, _>(|i| 200 - i as u8)).unwrap();
    let error = link.upload(&[1; 500], &other).unwrap_err();
    assert_eq!(error.cause, LinkError::Refused(Refusal::WrongSeal));
    assert!(!error.last_order_sent);
    assert!(link.fake.programme.is_empty());
}

/// Random bytes instead of replies: nothing panics, and the transaction times out.
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
