//! Orders that come late, twice, not at all, or in another order.

use saggar_core::programme::ProgrammeImage;
use saggar_device::wire::{Answer, Order, Refusal};

use super::desk::{Desk, refusals};
use super::support::{Bed, Dice, first_programme, second_programme};

fn ready() -> (Bed, Desk, Vec<Vec<u8>>, ProgrammeImage) {
    let mut bed = Bed::new();
    let (mut desk, hello) = bed.desk();
    let image = second_programme();
    let frames = desk.upload(&image, hello.furnace);
    (bed, desk, frames, image)
}

/// The line loses, doubles and swaps; a desk that sends again from what is expected comes through,
/// and no piece is taken twice.
#[test]
fn go_back_n_comes_through_any_line() {
    let mut dice = Dice(0x5eed);
    let mut sent = 0;
    for _ in 0..200 {
        let (mut bed, desk, frames, image) = ready();
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
                let heard = bed.exchange(frame);
                for (sequence, answer) in desk.answers(&heard) {
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
fn the_last_order_said_again_is_answered_again_and_does_nothing() {
    let (mut bed, desk, frames, _) = ready();
    for (index, frame) in frames.iter().enumerate() {
        let heard = bed.exchange(frame);
        let first = desk.answers(&heard);
        assert_eq!(first.len(), 1);
        let (flash, spent) = (bed.chip.bytes(), bed.chip.spent());
        for _ in 0..3 {
            let heard = bed.exchange(frame);
            assert_eq!(desk.answers(&heard), first, "order {index}");
            bed.tick();
        }
        assert!(bed.chip.bytes() == flash && bed.chip.spent() == spent);
    }
}

/// No old order acts again, wherever in the session it comes.
#[test]
fn an_old_order_never_acts() {
    let (mut bed, mut desk, mut frames, image) = ready();
    frames.push(desk.order(&Order::Stop));
    for now in 0..frames.len() {
        bed.send(&frames[now]);
        bed.hear();
        bed.tick();
        let spent = bed.chip.spent();
        let last = desk.next;
        for old in &frames[..=now] {
            let heard = bed.exchange(old);
            assert!(desk.answers(&heard).iter().all(|(of, _)| *of < last));
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
fn a_gap_is_told_and_nothing_is_done() {
    let (mut bed, desk, frames, _) = ready();
    bed.send(&frames[0]);
    bed.hear();
    let spent = bed.chip.spent();
    for late in &frames[2..] {
        let heard = bed.exchange(late);
        assert_eq!(desk.answer(&heard), Some(Answer::Expected { sequence: 1 }));
    }
    assert_eq!(bed.chip.spent(), spent);
}

/// A stop does not wait for what was lost before it, and what was lost stays so.
#[test]
fn a_stop_waits_for_nothing() {
    let (mut bed, mut desk, frames, _) = ready();
    bed.fire();
    bed.send(&frames[0]);
    bed.hear();
    let stop = desk.order(&Order::Stop);
    let heard = bed.exchange(&stop);
    assert_eq!(desk.answers(&heard), [(desk.next - 1, Answer::Stopping)]);
    bed.tick();
    assert!(bed.device.controller().status().step.is_none());
    let spent = bed.chip.spent();
    for lost in &frames {
        let heard = bed.exchange(lost);
        assert_eq!(desk.answer(&heard), Some(Answer::Stopping), "the last answer again");
    }
    assert_eq!(bed.chip.spent(), spent);
    bed.fire();
    for _ in 0..3 {
        bed.exchange(&stop);
        bed.tick();
    }
    assert!(bed.device.controller().status().step.is_some(), "once");
}

/// Also as the first order of a session.
#[test]
fn a_stop_may_be_the_first() {
    let mut bed = Bed::new();
    bed.fire();
    let (desk, _) = bed.desk();
    let heard = bed.exchange(&desk.order_at(5, &Order::Stop));
    assert_eq!(desk.answers(&heard), [(5, Answer::Stopping)]);
    bed.tick();
    assert!(bed.device.controller().status().step.is_none());
}

/// What one session began another does not go on with, even if its first order got lost.
#[test]
fn a_new_session_begins_anew() {
    let (mut bed, _, frames, image) = ready();
    for frame in &frames[..frames.len() - 1] {
        bed.send(frame);
    }
    let (desk, _) = bed.desk();
    let commit = Order::Commit { digest: image.digest() };
    let heard = bed.exchange(&desk.order_at(1, &commit));
    assert_eq!(desk.answer(&heard), Some(Answer::Expected { sequence: 0 }));
    let heard = bed.exchange(&desk.order_at(0, &commit));
    assert_eq!(desk.answer(&heard), Some(Answer::Refused(Refusal::OutOfOrder)));
    let heard = bed.exchange(frames.last().unwrap());
    assert_eq!(refusals(&heard), [Refusal::WrongSeal], "the old session is over");
    assert_eq!(bed.device.controller().programme(), Some(&first_programme()));
}

#[test]
fn a_commit_happens_once() {
    let (mut bed, mut desk, frames, image) = ready();
    for frame in &frames {
        bed.send(frame);
    }
    let spent = bed.chip.spent();
    let twice = desk.order(&Order::Commit { digest: image.digest() });
    let heard = bed.exchange(&twice);
    assert_eq!(desk.answer(&heard), Some(Answer::Refused(Refusal::OutOfOrder)));
    assert_eq!(bed.chip.spent(), spent);
}
