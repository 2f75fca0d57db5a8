//! Uploads and stops over a link that is cut: the client reports what the device really did.

use std::time::Duration;

use saggar_client::link::{
    Client, LinkError, ReadBack, Timeouts, UnansweredOrder, UploadOutcome,
};
use saggar_device::wire::Refusal;

use crate::simulated::{Cut, Impairment, Simulated, key};

const OLD: [u8; 300] = [5; 300];

fn cut_link(cut: Cut) -> Simulated {
    let mut link = Simulated::new(Duration::from_millis(2), Impairment::default(), 11);
    link.fake.programme = OLD.to_vec();
    link.cut = cut;
    link
}

/// Uploads and reads the programme back.
fn upload(
    link: &mut Simulated,
    programme: &[u8],
) -> Result<(UploadOutcome, ReadBack), LinkError> {
    let mut client = Client::with_link(link, Timeouts::for_baud(115_200))?;
    let furnace = client.hello.furnace;
    let arrived = client.upload(programme, furnace, &key())?;
    Ok((arrived, client.read_back()?))
}

/// All kinds of cut.
fn kinds() -> Vec<Cut> {
    let bits = |bits: u32| Cut {
        after: 0,
        silently: bits & 1 != 0,
        late: (bits & 2 != 0).then_some(1),
        reboots: bits & 4 != 0,
        permanent: bits & 8 != 0,
    };
    (0..16).map(bits).collect()
}

#[test]
fn a_cut_at_any_frame_is_reported_truly() {
    let programme: Vec<u8> = (0..1000u32).map(|i| (i * 7 % 251) as u8).collect();
    let mut whole = cut_link(Cut::default());
    assert_eq!(
        upload(&mut whole, &programme),
        Ok((UploadOutcome::Acknowledged, ReadBack::Bytes(programme.clone())))
    );
    let frames = whole.sent;
    let (mut found_active, mut not_active, mut unknown) = (0, 0, 0);
    for kind in kinds() {
        for after in 1..=frames {
            let cut = Cut { after, ..kind };
            let mut link = cut_link(cut);
            let result = upload(&mut link, &programme);
            let new = link.fake.programme == programme;
            assert!(new || link.fake.programme == OLD, "{cut:?}: neither programme");
            match &result {
                Ok((arrived, back)) => {
                    assert!(new, "{cut:?}: {result:?}");
                    found_active += u32::from(*arrived != UploadOutcome::Acknowledged);
                    let failed = matches!(back, ReadBack::Unavailable(_));
                    assert!(!failed || cut.permanent, "{cut:?}: {result:?}");
                }
                Err(LinkError::OutcomeUnknown(order, _)) => {
                    assert!(
                        cut.permanent && *order == UnansweredOrder::Upload,
                        "{cut:?}: {result:?}"
                    );
                    unknown += 1;
                }
                Err(error) => {
                    assert!(!new, "{cut:?}: {result:?}");
                    not_active += u32::from(matches!(error, LinkError::NotActivated(_)));
                    // The report stays true even after the delayed frames arrive.
                    link.deliver_late();
                    assert_eq!(link.fake.programme, OLD, "{cut:?}: {result:?}");
                }
            }
        }
    }
    println!(
        "{frames} frames, 16 kinds of cut: {found_active} found active by a query, {not_active} \
         found not active, {unknown} unknown"
    );
    assert!(found_active > 0 && not_active > 0 && unknown > 0);
}

/// Without the order that has no effect, a delayed order could activate the programme after the
/// client has reported that it is not active.
#[test]
fn a_late_order_changes_nothing() {
    let programme = [9; 500];
    let (mut in_time, mut too_late) = (0, 0);
    for after in 1..20 {
        for ahead in 0..6 {
            let mut link = cut_link(Cut { after, late: Some(ahead), ..Cut::default() });
            match upload(&mut link, &programme) {
                Ok((arrived, _)) => {
                    in_time += u32::from(arrived != UploadOutcome::Acknowledged)
                }
                Err(LinkError::NotActivated(_)) => {
                    assert_eq!(link.fake.programme, OLD);
                    link.deliver_late();
                    assert_eq!(link.fake.programme, OLD, "{after} {ahead}");
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
    let mut link = cut_link(Cut::default());
    link.fake.refuses_after_commit = true;
    let (arrived, back) = upload(&mut link, &programme).unwrap();
    assert_eq!(arrived, UploadOutcome::FoundActive(LinkError::Refused(Refusal::FlashFailed)));
    assert_eq!(back, ReadBack::Bytes(programme.to_vec()));
}

/// Other clients say hello between this client's hello and its first order. They displace the session
/// only if, each time, as many as the device has offers for arrive right before the order.
#[test]
fn hellos_of_other_clients_displace_no_session() {
    let cases = [
        (0, false, true),
        (2, true, true),
        (3, false, true),
        (100, false, true),
        (3, true, false),
    ];
    for (other_hellos, displace_repeated_hello, succeeds) in cases {
        for stops in [true, false] {
            let mut link = cut_link(Cut::default());
            let mut client = Client::with_link(&mut link, Timeouts::for_baud(115_200)).unwrap();
            client.link.fake.other_hellos = other_hellos;
            client.link.fake.displace_repeated_hello = displace_repeated_hello;
            let furnace = client.hello.furnace;
            let result = if stops {
                client.stop(&key())
            } else {
                client.upload(&[8; 400], furnace, &key()).map(|_| ())
            };
            let wanted =
                if succeeds { Ok(()) } else { Err(LinkError::Refused(Refusal::WrongSeal)) };
            assert_eq!(result, wanted, "{other_hellos} other hellos, stop: {stops}");
        }
    }
}

#[test]
fn an_unanswered_stop_is_repeated_or_reported_as_unknown() {
    let (mut stopped, mut unknown) = (0, 0);
    for kind in kinds() {
        for after in 1..=6 {
            let cut = Cut { after, ..kind };
            let mut link = cut_link(cut);
            let result = Client::with_link(&mut link, Timeouts::for_baud(115_200))
                .and_then(|mut client| client.stop(&key()));
            let ordered = link.fake.stops > 0;
            match result {
                Ok(()) => {
                    assert!(ordered, "{cut:?}");
                    stopped += 1;
                }
                Err(LinkError::OutcomeUnknown(UnansweredOrder::Stop, _)) => {
                    assert!(cut.permanent, "{cut:?}");
                    unknown += 1;
                }
                Err(_) => assert!(!ordered, "{cut:?}"),
            }
        }
    }
    assert!(stopped > 0 && unknown > 0, "{stopped} {unknown}");
}
