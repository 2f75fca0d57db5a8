//! Orders that are delayed, repeated, lost or reordered.

use saggar_core::programme::ProgrammeImage;
use saggar_device::wire::{Answer, Order, Refusal};

use super::client::{Client, refusals};
use super::support::{Bed, Dice, first_programme, second_programme};

fn ready() -> (Bed, Client, Vec<Vec<u8>>, ProgrammeImage) {
    let mut bed = Bed::new();
    let (mut client, hello) = bed.connect();
    let image = second_programme();
    let frames = client.upload(&image, hello.furnace);
    (bed, client, frames, image)
}

/// The link loses, repeats and swaps frames. A client that resends from the expected order succeeds,
/// and no chunk is taken twice.
#[test]
fn go_back_n_succeeds_on_a_lossy_link() {
    let mut dice = Dice(0x5eed);
    let mut sent = 0;
    for _ in 0..200 {
        let (mut bed, client, frames, image) = ready();
        let mut next = 0usize;
        let mut rounds = 0;
        while next < frames.len() {
            rounds += 1;
            assert!(rounds < 500, "the line never comes through");
            let window = &frames[next..frames.len().min(next + 8)];
            let mut line: Vec<&Vec<u8>> = window.iter().filter(|_| dice.below(4) > 0).collect();
            for at in 1..line.len() {
                if dice.below(5) == 0 {
                    line.swap(at - 1, at);
                }
            }
            if let Some(again) = line.first().filter(|_| dice.below(3) == 0).copied() {
                line.push(again);
            }
            for frame in line {
                sent += 1;
                let replies = bed.exchange(frame);
                for (sequence, answer) in client.answers(&replies) {
                    match answer {
                        Answer::Expected { sequence } => next = sequence as usize,
                        Answer::Refused(why) => panic!("{why:?}"),
                        Answer::Begun
                        | Answer::Staged { .. }
                        | Answer::Committed { .. }
                        | Answer::Stopping
                        | Answer::Drawn { .. }
                        | Answer::Agreed => next = sequence as usize + 1,
                    }
                }
            }
            bed.tick();
        }
        assert_eq!(bed.device.controller().programme(), Some(&image));
    }
    println!("{sent} frames over a bad line");
}

#[test]
fn repeated_last_order_is_answered_again_without_effect() {
    let (mut bed, client, frames, _) = ready();
    for (index, frame) in frames.iter().enumerate() {
        let replies = bed.exchange(frame);
        let first = client.answers(&replies);
        assert_eq!(first.len(), 1);
        let (flash, spent) = (bed.chip.bytes(), bed.chip.spent());
        for _ in 0..3 {
            let replies = bed.exchange(frame);
            assert_eq!(client.answers(&replies), first, "order {index}");
            bed.tick();
        }
        assert!(bed.chip.bytes() == flash && bed.chip.spent() == spent);
    }
}

#[test]
fn earlier_orders_never_act_again() {
    let (mut bed, mut client, mut frames, image) = ready();
    frames.push(client.order(&Order::Stop));
    for now in 0..frames.len() {
        bed.send(&frames[now]);
        bed.replies();
        bed.tick();
        let spent = bed.chip.spent();
        let last = client.next;
        for old in &frames[..=now] {
            let replies = bed.exchange(old);
            assert!(client.answers(&replies).iter().all(|(of, _)| *of < last));
        }
        assert_eq!(bed.chip.spent(), spent, "after order {now}");
    }
    bed.fire();
    for old in &frames {
        bed.exchange(old);
        bed.tick();
    }
    assert!(bed.device.controller().status().step.is_some(), "an old stop ends nothing");
    assert_eq!(bed.device.controller().programme(), Some(&image));
}

#[test]
fn gap_is_reported_and_the_order_has_no_effect() {
    let (mut bed, client, frames, _) = ready();
    bed.send(&frames[0]);
    bed.replies();
    let spent = bed.chip.spent();
    for late in &frames[2..] {
        let replies = bed.exchange(late);
        assert_eq!(client.answer(&replies), Some(Answer::Expected { sequence: 1 }));
    }
    assert_eq!(bed.chip.spent(), spent);
}

/// The orders that were lost before it stay lost.
#[test]
fn stop_is_obeyed_in_spite_of_a_gap() {
    let (mut bed, mut client, frames, _) = ready();
    bed.fire();
    bed.send(&frames[0]);
    bed.replies();
    let stop = client.order(&Order::Stop);
    let replies = bed.exchange(&stop);
    assert_eq!(client.answers(&replies), [(client.next - 1, Answer::Stopping)]);
    bed.tick();
    assert!(bed.device.controller().status().step.is_none());
    let spent = bed.chip.spent();
    for lost in &frames {
        let replies = bed.exchange(lost);
        assert_eq!(client.answer(&replies), Some(Answer::Stopping), "the last answer again");
    }
    assert_eq!(bed.chip.spent(), spent);
    bed.fire();
    for _ in 0..3 {
        bed.exchange(&stop);
        bed.tick();
    }
    assert!(bed.device.controller().status().step.is_some(), "once");
}

#[test]
fn stop_may_be_the_first_order_of_a_session() {
    let mut bed = Bed::new();
    bed.fire();
    let (client, _) = bed.connect();
    let replies = bed.exchange(&client.order_at(5, &Order::Stop));
    assert_eq!(client.answers(&replies), [(5, Answer::Stopping)]);
    bed.tick();
    assert!(bed.device.controller().status().step.is_none());
}

/// Even if the first order of the new session is lost.
#[test]
fn new_session_aborts_the_upload_of_the_old_one() {
    let (mut bed, _, frames, image) = ready();
    for frame in &frames[..frames.len() - 1] {
        bed.send(frame);
    }
    let (client, _) = bed.connect();
    let commit = Order::Commit { digest: image.digest() };
    let replies = bed.exchange(&client.order_at(1, &commit));
    assert_eq!(client.answer(&replies), Some(Answer::Expected { sequence: 0 }));
    let replies = bed.exchange(&client.order_at(0, &commit));
    assert_eq!(client.answer(&replies), Some(Answer::Refused(Refusal::OutOfOrder)));
    let replies = bed.exchange(frames.last().unwrap());
    assert_eq!(refusals(&replies), [Refusal::WrongSeal], "the old session is over");
    assert_eq!(bed.device.controller().programme(), Some(&first_programme()));
}

#[test]
fn repeated_commit_commits_once() {
    let (mut bed, mut client, frames, image) = ready();
    for frame in &frames {
        bed.send(frame);
    }
    let spent = bed.chip.spent();
    let twice = client.order(&Order::Commit { digest: image.digest() });
    let replies = bed.exchange(&twice);
    assert_eq!(client.answer(&replies), Some(Answer::Refused(Refusal::OutOfOrder)));
    assert_eq!(bed.chip.spent(), spent);
}
