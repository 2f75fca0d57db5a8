//! A commit that fails in flash: the device is as the refusal says, now and after the next boot.

use saggar_core::programme::ProgrammeImage;
use saggar_device::wire::{Answer, Refusal};
use saggar_device::{Announcement, ProgrammeStatus};

use super::client::Client;
use super::support::{Bed, first_programme, second_programme};
use crate::store::flash::Failure;

/// What a display shows of the programme.
#[derive(Debug, PartialEq)]
struct Seen {
    core: Option<ProgrammeImage>,
    digest: Option<[u8; 32]>,
    loaded: ProgrammeStatus,
    announcement: Announcement,
}

fn seen(bed: &Bed) -> Seen {
    Seen {
        core: bed.device.controller().programme().cloned(),
        digest: bed.device.programme().copied(),
        loaded: bed.device.programme_status(),
        announcement: bed.device.announcement(),
    }
}

/// A device with all chunks of another programme in flash, the client, and the frame of the commit.
fn ready(confirmed: bool) -> (Bed, Client, Vec<u8>) {
    let mut bed = Bed::new();
    if confirmed {
        bed.press(|buttons| buttons.confirm = true);
    }
    let (mut client, hello) = bed.connect();
    let mut frames = client.upload(&second_programme(), hello.furnace);
    let commit = frames.pop().expect("a commit");
    for frame in frames {
        bed.exchange(&frame);
        bed.tick();
    }
    (bed, client, commit)
}

/// The n-th flash operation of a commit fails; returns whether the commit was refused.
fn case(confirmed: bool, failure: Failure, at: u64) -> bool {
    let case = format!("{failure:?} in call {at}, confirmed: {confirmed}");
    let (mut bed, client, commit) = ready(confirmed);
    let before = seen(&bed);
    let calls = bed.chip.0.borrow().calls;
    bed.chip.0.borrow_mut().fails = Some((calls + at, failure));
    let replies = bed.exchange(&commit);
    let told = client.answer(&replies).expect("an answer");
    let after = seen(&bed);
    bed.chip.0.borrow_mut().fails = None;
    let mut next = Bed::boot(bed.chip.clone()).expect("comes up");
    let next_seen = seen(&next);
    let new = second_programme();
    if told == (Answer::Committed { digest: new.digest() }) {
        assert_eq!(
            (after.core, after.digest),
            (Some(new.clone()), Some(new.digest())),
            "{case}"
        );
        assert!(after.announcement.unconfirmed && next_seen.announcement.unconfirmed, "{case}");
        assert_eq!(next_seen.core, Some(new), "{case}");
        return false;
    }
    assert_eq!(told, Answer::Refused(Refusal::FlashFailed), "{case}");
    assert_eq!(after, before, "{case}: nothing has changed");
    assert_eq!(next_seen.core, Some(first_programme()), "{case}: at the next start");
    // A flash that takes no more writes cannot record that the confirmation still holds.
    let broken = matches!(failure, Failure::Forever | Failure::Last);
    let open = next_seen.announcement.unconfirmed;
    assert!(open != confirmed || open && broken, "{case}: the confirmation");
    let (mut client, hello) = next.connect();
    let frames = client.upload(&new, hello.furnace);
    let replies: Vec<_> = frames.iter().flat_map(|frame| next.exchange(frame)).collect();
    let again = client.answer(&replies);
    assert_eq!(again, Some(Answer::Committed { digest: new.digest() }), "{case}: again");
    true
}

#[test]
fn refused_commit_changes_nothing() {
    let (mut bed, _, commit) = ready(true);
    let first = bed.chip.0.borrow().calls;
    bed.exchange(&commit);
    let calls = bed.chip.0.borrow().calls - first;
    let (mut cases, mut refused) = (0, 0);
    for confirmed in [true, false] {
        for failure in Failure::ALL {
            for at in 0..calls {
                cases += 1;
                refused += u32::from(case(confirmed, failure, at));
            }
        }
    }
    println!("{cases} failing calls, {refused} commits refused");
    assert!(refused > cases / 2 && refused < cases, "{refused} of {cases}");
}
