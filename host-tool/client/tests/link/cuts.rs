//! Uploads and stops over a line that is cut: whatever is said of them is what is so.

use std::time::Duration;

use saggar_client::link::{
    Client, LinkError, ReadBack, Timeouts, UnansweredOrder, UploadOutcome,
};
use saggar_device::wire::Refusal;

use crate::simulated::{Cut, Harm, Simulated, key};

const OLD: [u8; 300] = [5; 300];

fn line(cut: Cut) -> Simulated {
    let mut line = Simulated::new(Duration::from_millis(2), Harm::default(), 11);
    line.fake.programme = OLD.to_vec();
    line.cut = cut;
    line
}

/// Uploads over a line, with the reading back.
fn upload(
    line: &mut Simulated,
    programme: &[u8],
) -> Result<(UploadOutcome, ReadBack), LinkError> {
    let mut desk = Client::with_link(line, Timeouts::for_baud(115_200))?;
    let furnace = desk.hello.furnace;
    let arrived = desk.upload(programme, furnace, &key())?;
    Ok((arrived, desk.read_back()?))
}

/// What becomes of a line that is cut.
fn kinds() -> Vec<Cut> {
    let bits = |bits: u32| Cut {
        after: 0,
        silently: bits & 1 != 0,
        late: (bits & 2 != 0).then_some(1),
        reboots: bits & 4 != 0,
        for_good: bits & 8 != 0,
    };
    (0..16).map(bits).collect()
}

#[test]
fn a_cut_at_any_frame_is_reported_truly() {
    let programme: Vec<u8> = (0..1000u32).map(|i| (i * 7 % 251) as u8).collect();
    let mut whole = line(Cut::default());
    assert_eq!(
        upload(&mut whole, &programme),
        Ok((UploadOutcome::Acknowledged, ReadBack::Bytes(programme.clone())))
    );
    let frames = whole.sent;
    let (mut asked_again, mut not_arrived, mut not_known) = (0, 0, 0);
    for kind in kinds() {
        for after in 1..=frames {
            let cut = Cut { after, ..kind };
            let mut line = line(cut);
            let said = upload(&mut line, &programme);
            let new = line.fake.programme == programme;
            assert!(new || line.fake.programme == OLD, "{cut:?}: neither");
            match &said {
                Ok((arrived, back)) => {
                    assert!(new, "{cut:?}: {said:?}");
                    asked_again += u32::from(*arrived != UploadOutcome::Acknowledged);
                    let failed = matches!(back, ReadBack::Unavailable(_));
                    assert!(!failed || cut.for_good, "{cut:?}: {said:?}");
                }
                Err(LinkError::OutcomeUnknown(deed, _)) => {
                    assert!(
                        cut.for_good && *deed == UnansweredOrder::Upload,
                        "{cut:?}: {said:?}"
                    );
                    not_known += 1;
                }
                Err(failed) => {
                    assert!(!new, "{cut:?}: {said:?}");
                    not_arrived += u32::from(matches!(failed, LinkError::NotActivated(_)));
                    // What it says holds, whatever the line still brings.
                    line.deliver_late();
                    assert_eq!(line.fake.programme, OLD, "{cut:?}: {said:?}");
                }
            }
        }
    }
    println!(
        "{frames} frames, 16 kinds of cuts: {asked_again} asked again and there, {not_arrived} \
         asked again and not there, {not_known} not known"
    );
    assert!(asked_again > 0 && not_arrived > 0 && not_known > 0);
}

/// Without the order that does nothing, an order that the line held back would make the programme
/// the active one after the desk was told that it is not.
#[test]
fn a_late_order_changes_nothing() {
    let programme = [9; 500];
    let (mut in_time, mut too_late) = (0, 0);
    for after in 1..20 {
        for ahead in 0..6 {
            let mut line = line(Cut { after, late: Some(ahead), ..Cut::default() });
            match upload(&mut line, &programme) {
                Ok((arrived, _)) => {
                    in_time += u32::from(arrived != UploadOutcome::Acknowledged)
                }
                Err(LinkError::NotActivated(_)) => {
                    assert_eq!(line.fake.programme, OLD);
                    line.deliver_late();
                    assert_eq!(line.fake.programme, OLD, "{after} {ahead}");
                    too_late += 1;
                }
                Err(_) => {}
            }
        }
    }
    assert!(in_time > 0 && too_late > 0, "{in_time} in time, {too_late} too late");
}

#[test]
fn a_refusal_of_a_completed_upload_is_checked() {
    let programme = [9; 500];
    let mut line = line(Cut::default());
    line.fake.refuses_what_it_did = true;
    let (arrived, back) = upload(&mut line, &programme).unwrap();
    assert_eq!(arrived, UploadOutcome::FoundActive(LinkError::Refused(Refusal::FlashFailed)));
    assert_eq!(back, ReadBack::Bytes(programme.to_vec()));
}

/// Others greet the device all the time, between the desk's greeting and its order. Only if as many
/// as the device has offers for come between two frames that follow each other, each time, is the
/// session displaced.
#[test]
fn hellos_of_strangers_displace_no_session() {
    let cases = [
        (0, false, true),
        (2, true, true),
        (3, false, true),
        (100, false, true),
        (3, true, false),
    ];
    for (strangers, relentless, done) in cases {
        for stops in [true, false] {
            let mut line = line(Cut::default());
            let mut desk = Client::with_link(&mut line, Timeouts::for_baud(115_200)).unwrap();
            desk.link.fake.strangers = strangers;
            desk.link.fake.relentless = relentless;
            let furnace = desk.hello.furnace;
            let said = if stops {
                desk.stop(&key())
            } else {
                desk.upload(&[8; 400], furnace, &key()).map(|_| ())
            };
            let wanted =
                if done { Ok(()) } else { Err(LinkError::Refused(Refusal::WrongSeal)) };
            assert_eq!(said, wanted, "{strangers} strangers, stop: {stops}");
        }
    }
}

#[test]
fn an_unanswered_stop_is_repeated_or_reported_as_unknown() {
    let (mut stopped, mut not_known) = (0, 0);
    for kind in kinds() {
        for after in 1..=6 {
            let cut = Cut { after, ..kind };
            let mut line = line(cut);
            let said = Client::with_link(&mut line, Timeouts::for_baud(115_200))
                .and_then(|mut desk| desk.stop(&key()));
            let ordered = line.fake.stops > 0;
            match said {
                Ok(()) => {
                    assert!(ordered, "{cut:?}");
                    stopped += 1;
                }
                Err(LinkError::OutcomeUnknown(UnansweredOrder::Stop, _)) => {
                    assert!(cut.for_good, "{cut:?}");
                    not_known += 1;
                }
                Err(_) => assert!(!ordered, "{cut:?}"),
            }
        }
    }
    assert!(stopped > 0 && not_known > 0, "{stopped} {not_known}");
}
