//! Orders altered on the link. Most of them get a right checksum again, so that they reach the check
//! of the seal.

use saggar_device::link::LOCK_OUT_MS;
use saggar_device::wire::{Answer, FrameKind, Order, Query, Refusal};

use super::client::{Client, ask, opened, refusals};
use super::raw;
use super::support::{Bed, Dice, first_programme, second_programme};

/// Result of a campaign.
#[derive(Debug, Default)]
struct Tally {
    frames: u64,
    /// Of those, how many had a right checksum.
    whole: u64,
    /// Of those, how many met an open or offered session and were refused for their seal.
    judged: u64,
    /// Alterations without effect, which were not sent.
    same: u64,
}

/// An altered body of a frame.
fn changed(dice: &mut Dice, frames: &[Vec<u8>]) -> Vec<u8> {
    let mut body = raw::body(&frames[dice.below(frames.len())]);
    let other = raw::body(&frames[dice.below(frames.len())]);
    let at = dice.below(body.len());
    match dice.below(8) {
        0 => body[at] ^= 1 << dice.below(8),
        1 => body[at] = dice.roll() as u8,
        2 => body.truncate(at),
        3 => body.extend((0..1 + dice.below(16)).map(|_| 0xA5)),
        // The end of another frame: its seal, or part of it.
        4 => {
            let from = other.len() - dice.below(other.len().min(20));
            let keep = body.len().saturating_sub(other.len() - from);
            body.truncate(keep);
            body.extend(&other[from..]);
        }
        // The beginning of another frame: its sequence number, or its kind.
        5 => {
            let to = dice.below(7).min(other.len()).min(body.len());
            body[..to].copy_from_slice(&other[..to]);
        }
        6 => {
            let (a, b) = (dice.below(body.len()), dice.below(body.len()));
            body.swap(a, b);
        }
        _ => {
            body[at] ^= 1 << dice.below(8);
            let at = dice.below(body.len());
            body[at] = body[at].wrapping_add(1);
        }
    }
    body
}

/// Frames per session: every fifth costs a lock-out of ten seconds, and a session lasts sixty.
const TO_A_SESSION: u64 = 25;

/// Sealed orders of a session, from the first on.
fn orders(client: &mut Client, furnace: [u8; 32]) -> Vec<Vec<u8>> {
    let mut frames = client.upload(&second_programme(), furnace);
    frames.push(client.order(&Order::Stop));
    frames
}

fn campaign(frames: u64) {
    let mut dice = Dice(0x00c0_ffee);
    let mut tally = Tally::default();
    let mut bed = Bed::new();
    let (mut client, hello) = bed.connect();
    let mut sealed = orders(&mut client, hello.furnace);
    while tally.frames < frames {
        if tally.frames % TO_A_SESSION == 0 {
            // Every other session is open, with its first order taken.
            let (next, hello) = bed.connect();
            client = next;
            sealed = orders(&mut client, hello.furnace);
            if tally.frames % (2 * TO_A_SESSION) == 0 {
                let replies = bed.exchange(&sealed[0]);
                assert_eq!(client.answer(&replies), Some(Answer::Begun));
            }
        }
        let body = changed(&mut dice, &sealed);
        let mut line = raw::framed(&body);
        if dice.below(8) == 0 {
            // On the line besides: noise.
            let at = dice.below(line.len());
            line[at] ^= 1 << dice.below(8);
        }
        tally.frames += 1;
        tally.whole += u64::from(raw::is_whole(&line));
        // The alteration may have had no effect.
        if sealed.contains(&line) {
            tally.same += 1;
            line = vec![0];
        }
        let spent = bed.chip.spent();
        bed.send(&line);
        let replies = bed.replies();
        for said in &replies {
            let answer = opened(said, |body| body.kind == FrameKind::Answer);
            assert!(!answer, "taken for an order: {body:?}");
        }
        let wrong = |why: &Refusal| matches!(why, Refusal::WrongSeal | Refusal::LockedOut(_));
        tally.judged += u64::from(refusals(&replies).iter().any(wrong));
        assert_eq!(bed.chip.spent(), spent, "{body:?}");
        if tally.frames % 5 == 0 {
            bed.millis += LOCK_OUT_MS;
            bed.send(&[0]);
            assert_eq!(bed.tick().heater_cycles, 0);
            assert_eq!(bed.device.controller().programme(), Some(&first_programme()));
        }
    }
    println!("{tally:?}");
    assert!(tally.judged > frames / 2, "{tally:?}: most must reach the seal");
    bed.send(&[0]);
    assert_eq!(bed.exchange(&ask(&Query::Status)).len(), 1, "it still answers");
}

#[test]
fn altered_orders_are_refused() {
    campaign(100_000);
}

/// Takes a while; `.ci/run` runs it.
#[test]
#[ignore = "a million changed frames"]
fn full_campaign_of_altered_orders() {
    campaign(1_000_000);
}
