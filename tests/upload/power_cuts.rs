//! A firing that a power cut interrupted: its bookmark in the log, what the link may do, and cuts at every
//! byte of it.

use saggar_core::Cause;
use saggar_core::controller::{Bookmark, StartError};
use saggar_core::events::EventKind;
use saggar_core::programme::{Action, ProgrammeImage};
use saggar_core::sequencer::Ending;
use saggar_device::PressError;
use saggar_device::wire::{Answer, LogEvent, Order, Refusal};

use super::support::{Bed, first_programme, second_programme, settings};
use crate::store::flash::Torn;
use crate::support::{image, ramp, soak, step};

fn interrupted(bed: &Bed) -> Option<Bookmark> {
    bed.device.controller().status().interrupted
}

/// A ramp and a soak near the present temperature.
fn short_programme() -> ProgrammeImage {
    let cool = step(Action::Cool { below_mc: 30_000 });
    image(&[step(ramp(40, 60)), step(soak(900)), cool])
}

/// A device in the soak of [`short_programme`], for so many ticks.
fn in_the_soak(ticks: u32) -> Bed {
    let mut bed = Bed::of(&settings(), Some(&short_programme()));
    bed.fire();
    for _ in 0..6_000 {
        if bed.device.controller().status().step == Some(1) {
            bed.run(ticks);
            return bed;
        }
        bed.tick();
    }
    panic!("no soak");
}

#[test]
fn start_goes_on_after_a_power_cut() {
    let mut bed = in_the_soak(3_500);
    bed.reboot();
    let cut = interrupted(&bed).expect("interrupted");
    assert_eq!(cut.step, 1);
    assert!((200..=300).contains(&cut.gathered_s), "{cut:?}");
    assert_eq!(bed.status().interrupted, Some(cut));
    // Nothing by itself, but the operator is called.
    let mut called = (false, false);
    for _ in 0..1_000 {
        bed.tick();
        assert!(bed.out.heater_cycles == 0 && !bed.out.contactor);
        called = (called.0 | bed.out.lamp, called.1 | bed.out.buzzer);
    }
    assert_eq!(called, (true, true));
    bed.press(|buttons| buttons.start = true);
    assert_eq!(bed.status().step, Some(1));
    assert_eq!(bed.logged(LogEvent::Core(EventKind::FiringResumed(1))), 1);
    bed.run(12_000);
    assert_eq!(bed.status().ended, Some(Ending::Completed));
    bed.reboot();
    assert_eq!(interrupted(&bed), None, "it has ended");
}

/// Whatever ends a firing closes its bookmark.
#[test]
fn a_firing_that_has_ended_is_not_offered() {
    let endings: [fn(&mut Bed); 4] = [
        |bed| bed.press(|buttons| buttons.stop = true),
        |bed| {
            let (mut client, _) = bed.connect();
            let stop = client.order(&Order::Stop);
            bed.send(&stop);
            // The power fails before the tick that obeys it.
        },
        |bed| {
            bed.unplugged = true;
            bed.run(50);
            bed.unplugged = false;
        },
        |bed| {
            bed.reboot();
            assert!(interrupted(bed).is_some());
            bed.press(|buttons| buttons.stop = true);
            assert_eq!(bed.logged(LogEvent::Core(EventKind::FiringDiscarded)), 1);
        },
    ];
    for (index, end) in endings.into_iter().enumerate() {
        let mut bed = in_the_soak(20);
        end(&mut bed);
        for _ in 0..3 {
            bed.reboot();
            assert_eq!(interrupted(&bed), None, "ending {index}");
        }
    }
}

/// A trip has priority, also one that comes after the cut.
#[test]
fn a_pending_trip_has_priority() {
    let mut bed = in_the_soak(20);
    bed.unplugged = true;
    bed.run(50);
    bed.unplugged = false;
    bed.reboot();
    assert_eq!((interrupted(&bed), bed.tripped()), (None, Some(Cause::SensorOpen)));
    bed.press(|buttons| buttons.confirm = true);
    assert_eq!((interrupted(&bed), bed.tripped()), (None, None));
}

#[test]
fn uploads_are_refused_while_an_interrupted_firing_waits() {
    let mut bed = in_the_soak(20);
    bed.reboot();
    let waiting = interrupted(&bed);
    let (mut client, hello) = bed.connect();
    for frame in client.upload(&second_programme(), hello.furnace) {
        let replies = bed.exchange(&frame);
        let answer = client.answer(&replies);
        assert_eq!(answer, Some(Answer::Refused(Refusal::FiringInterrupted)));
        bed.tick();
    }
    // No message discards it either.
    let stop = client.order(&Order::Stop);
    let replies = bed.exchange(&stop);
    assert_eq!(client.answer(&replies), Some(Answer::Stopping));
    bed.run(20);
    assert_eq!(interrupted(&bed), waiting);
    assert_eq!(bed.device.controller().programme(), Some(&short_programme()));
    bed.press(|buttons| buttons.stop = true);
    let begin = client.upload(&second_programme(), hello.furnace).remove(0);
    let replies = bed.exchange(&begin);
    assert_eq!(client.answer(&replies), Some(Answer::Begun));
}

/// The display says why the first press did nothing.
#[test]
fn a_deep_fall_asks_twice_at_the_device() {
    let mut bed = Bed::new();
    bed.fire();
    bed.celsius = 20.0;
    while bed.celsius < 300.0 {
        bed.tick();
    }
    bed.run(3_000);
    bed.celsius = 30.0;
    bed.reboot();
    bed.press(|buttons| buttons.start = true);
    assert_eq!(
        bed.device.ignored_press().map(|it| it.error),
        Some(PressError::NotStarted(StartError::AskTwice))
    );
    assert_eq!(bed.status().start_error, Some(StartError::AskTwice));
    bed.press(|buttons| buttons.start = true);
    assert_eq!(bed.device.ignored_press(), None);
    assert_eq!(bed.status().step, Some(0));
}

/// Boots rotate the journal, which must carry the bookmark along.
#[test]
fn restarts_do_not_displace_a_bookmark_from_the_log() {
    let mut bed = in_the_soak(20);
    bed.reboot();
    let waiting = interrupted(&bed).expect("interrupted");
    for round in 0..600 {
        bed = Bed::boot(bed.chip.clone()).unwrap();
        assert_eq!(interrupted(&bed), Some(waiting), "round {round}");
        if round % 2 == 0 {
            // With ticks, in which the journal is rotated early.
            bed.run(2);
        }
    }
    bed.celsius = 40.0;
    bed.run(20);
    bed.press(|buttons| buttons.start = true);
    assert_eq!(bed.status().step, Some(1));
}

/// The power fails at any byte of the boots that carry it along, and of those that repair.
#[test]
fn cuts_at_every_byte_of_many_boots_keep_the_bookmark() {
    let mut bed = in_the_soak(20);
    bed.reboot();
    let waiting = interrupted(&bed).expect("interrupted");
    let mut cuts = 0;
    for round in 0..2_000u64 {
        let fuel = round * 37 % 230;
        bed.chip.0.borrow_mut().revive(fuel);
        bed.chip.0.borrow_mut().torn = Torn::ALL[round as usize % 5];
        // Without power its programme cannot be read either.
        let up = Bed::boot(bed.chip.clone()).expect("comes up");
        assert!(interrupted(&up).is_none_or(|found| found == waiting), "round {round}");
        cuts += u32::from(bed.chip.spent() == fuel);
        bed.chip.0.borrow_mut().revive(u64::MAX);
        let again = Bed::boot(bed.chip.clone()).expect("comes up");
        assert_eq!(interrupted(&again), Some(waiting), "round {round}");
    }
    assert!(cuts > 200, "{cuts}");
}

/// The power fails at every byte that a firing writes: what is offered is where it was, or the step
/// before at the very moment of a change, and nothing once it has ended.
#[test]
fn cuts_at_every_byte_of_a_firing() {
    let steps = [ramp(22, 60), ramp(23, 60), soak(2), ramp(24, 60)].map(step);
    let fire = |chip: super::support::Chip| {
        let mut bed = Bed::boot(chip).ok()?;
        bed.run(20);
        bed.press(|buttons| buttons.confirm = true);
        bed.press(|buttons| buttons.start = true);
        let mut at = bed.device.controller().status().step;
        let mut before = at;
        for _ in 0..3_000 {
            let now = bed.device.controller().status().step;
            if now != at {
                (before, at) = (at, now);
            }
            if bed.chip.spent() >= bed.chip.0.borrow().fuel {
                break;
            }
            if now.is_none() && bed.device.controller().status().ending.is_some() {
                break;
            }
            bed.tick();
        }
        Some((before, at))
    };
    let fresh = super::support::Chip::provisioned(&settings(), Some(&image(&steps)));
    let whole = fresh.twin();
    whole.0.borrow_mut().revive(u64::MAX);
    assert_eq!(fire(whole.clone()), Some((Some(3), None)), "completed");
    let all = whole.spent();
    let mut offered = 0;
    for fuel in 0..all {
        let chip = fresh.twin();
        chip.0.borrow_mut().revive(fuel);
        chip.0.borrow_mut().torn = Torn::ALL[fuel as usize % 5];
        let reached = fire(chip.clone());
        chip.0.borrow_mut().revive(u64::MAX);
        let found = interrupted(&Bed::boot(chip).expect("comes up")).map(|cut| cut.step);
        let Some((before, at)) = reached else { continue };
        assert!(
            found.is_none() || found == at || found == before,
            "cut at {fuel}: {found:?} of {before:?}, {at:?}"
        );
        offered += u32::from(found.is_some());
    }
    println!("{all} cuts, {offered} of them with a firing to go on with");
    assert!(offered > 50, "{offered}");
}

/// A full journal drops bookmarks, never a trip; and an old bookmark does not outlive its step.
#[test]
fn a_full_journal_drops_bookmarks_and_keeps_the_trip() {
    let steps: Vec<_> = (0..60).map(|index| step(ramp(22 + index, 60))).collect();
    let mut bed = Bed::of(&settings(), Some(&image(&steps)));
    for _ in 0..150 {
        bed.reboot();
    }
    bed.fire();
    let mut closed = false;
    while bed.device.controller().status().step.is_some_and(|step| step < 58) {
        bed.tick();
    }
    closed |= bed.logged(LogEvent::FiringPosition { step: 255, gathered_s: 0 }) == 1;
    assert!(closed, "the log says that no more follow");
    let later = Bed::boot(bed.chip.twin()).expect("comes up");
    assert_eq!(interrupted(&later), None, "no bookmark of a step long past");
    bed.unplugged = true;
    while bed.tripped().is_none() {
        bed.tick();
    }
    bed.unplugged = false;
    bed.reboot();
    assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
}

/// What the programme in flash is not confirmed for is not offered.
#[test]
fn another_programme_ends_it() {
    let mut bed = in_the_soak(20);
    let fresh = super::support::Chip::provisioned(&settings(), Some(&first_programme()));
    let other = Bed::boot(fresh).expect("comes up");
    assert_eq!(interrupted(&other), None);
    bed.reboot();
    assert!(interrupted(&bed).is_some());
}
