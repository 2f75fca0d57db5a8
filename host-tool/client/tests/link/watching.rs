//! Watching and recording over a link that is cut, and from a hostile device.

use std::cell::{Cell, RefCell};
use std::path::Path;
use std::time::Duration;

use saggar_client::ClientError;
use saggar_client::link::{Client, Timeouts};
use saggar_client::logfile::{LogRecord, Reader};
use saggar_client::{UserRequest, WatchEvent, WatchOptions, WatchOutcome, watch};

use crate::simulated::{Cut, Impairment, Simulated, key};
use crate::updates::Hostile;

/// The result of a recording.
struct Recorded {
    outcome: Result<WatchOutcome, ClientError>,
    /// The events shown, apart from statuses.
    events: Vec<String>,
    /// Number of statuses shown.
    statuses: u32,
    log: Vec<LogRecord>,
    bytes: u64,
}

/// Records for this simulated time.
fn record(link: &mut Simulated, seconds: u64, give_up_s: u64) -> Recorded {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("it.firing");
    let options = WatchOptions {
        record: Some(&path),
        until_end: false,
        give_up: Duration::from_secs(give_up_s),
        key: None,
    };
    let (events, statuses) = (RefCell::new(Vec::new()), Cell::new(0_u32));
    let clock = link.clock.clone();
    let request = || {
        if clock.get() > Duration::from_secs(seconds) {
            UserRequest::Quit
        } else {
            UserRequest::Continue
        }
    };
    let show = |event: WatchEvent<'_>| {
        if matches!(event, WatchEvent::Status(..)) {
            statuses.set(statuses.get() + 1);
        } else {
            events.borrow_mut().push(format!("{event:?}"));
        }
        Ok(())
    };
    let client = Client::with_link(link, Timeouts::for_baud(115_200)).unwrap();
    let outcome = watch(client, &options, request, show);
    assert!(statuses.get() > 0);
    let (log, bytes) = read(&path);
    Recorded { outcome, events: events.into_inner(), statuses: statuses.get(), log, bytes }
}

/// All records of a log, which must be intact.
fn read(path: &Path) -> (Vec<LogRecord>, u64) {
    let mut reader = Reader::open(path).unwrap();
    let mut log = Vec::new();
    while let Some(record) = reader.record().expect("the log is intact") {
        log.push(record);
    }
    (log, std::fs::metadata(path).unwrap().len())
}

/// Checks that each tick of a log follows an origin or the tick before it, apart from the first tick
/// after a gap. Returns the number of stretches.
fn count_stretches(log: &[LogRecord]) -> usize {
    let (mut last, mut count) = (None, 0);
    for record in log {
        match record {
            LogRecord::Origin { number, .. } => {
                last = Some(*number);
                count += 1;
            }
            LogRecord::Tick(tick) => {
                let before = last.expect("a tick without an origin");
                assert!(tick.number > before, "{} after {before}", tick.number);
                last = (tick.number == before + 1).then_some(tick.number);
            }
            LogRecord::Programme(_) => {}
        }
    }
    count
}

fn link_with_cut(cut: Cut) -> Simulated {
    let mut link = Simulated::new(Duration::from_millis(2), Impairment::default(), 5);
    link.cut = cut;
    link
}

#[test]
fn an_uncut_recording_is_one_stretch_without_gaps() {
    let recorded = record(&mut link_with_cut(Cut::default()), 300, 60);
    let end = recorded.outcome.unwrap();
    assert_eq!(
        (end.recorded.lost, count_stretches(&recorded.log)),
        (0, 1),
        "{:?}",
        recorded.events
    );
    assert!(end.recorded.ticks > 2900, "{end:?}");
    assert_eq!(recorded.events, Vec::<String>::new());
}

#[test]
fn a_recording_goes_on_after_any_kind_of_cut() {
    for bits in 0..8 {
        for after in [9, 10, 11, 50, 501, 1000] {
            let cut = Cut {
                after,
                silently: bits & 1 != 0,
                late: (bits & 2 != 0).then_some(1),
                reboots: bits & 4 != 0,
                permanent: false,
            };
            let recorded = record(&mut link_with_cut(cut), 300, 60);
            let end = recorded.outcome.unwrap_or_else(|why| panic!("{cut:?}: {why}"));
            let events = recorded.events.join(" ");
            assert!(end.recorded.ticks > 2500, "{cut:?}: {end:?}");
            // The earliest cuts come before the first update.
            let begun = after >= 50;
            assert!(count_stretches(&recorded.log) > usize::from(begun), "{cut:?}");
            assert!(
                events.contains("ConnectionLost") && events.contains("Reconnected"),
                "{cut:?}: {events}"
            );
            assert_eq!(events.contains("Restarted"), cut.reboots, "{cut:?}: {events}");
            assert!(cut.reboots || !begun || end.recorded.lost > 20, "{cut:?}: {end:?}");
        }
    }
}

#[test]
fn watching_ends_in_time_when_the_connection_stays_dead() {
    for silently in [false, true] {
        let mut link =
            link_with_cut(Cut { after: 200, silently, permanent: true, ..Cut::default() });
        let recorded = record(&mut link, 3000, 120);
        let why = recorded.outcome.unwrap_err();
        assert!(why.to_string().contains("is intact: "), "{why}");
        assert!(matches!(why, ClientError::RecordingInterrupted { .. }), "{why:?}");
        // A retry may begin just before the time is up.
        assert!((120..180).contains(&link.now.as_secs()), "{:?}", link.now);
        assert_eq!(count_stretches(&recorded.log), 1);
    }
}

/// A recorder never writes more than a real device could have sent.
#[test]
fn a_hostile_device_cannot_fill_the_disk() {
    for (hostile, bytes_max, why) in [
        (Hostile::RepeatedTick, 20_000, None),
        (Hostile::Origins, 4_000_000, Some("more than the longest firing")),
        (Hostile::TimeStandsStill, 20_000, Some("ticks without any time between them")),
        (Hostile::NumbersGoBack, 200_000, None),
        (Hostile::Gaps, 1_000_000, None),
        (Hostile::Endless, 4_000_000, Some("more than the longest firing")),
    ] {
        let mut link = link_with_cut(Cut::default()).fast();
        link.fake.furnace = furnace(360);
        link.fake.updates.hostile = Some(hostile);
        let recorded = record(&mut link, 60, 60);
        println!("{hostile:?}: {} bytes, {:?}", recorded.bytes, recorded.outcome);
        count_stretches(&recorded.log);
        let origins = link.fake.updates.origins;
        assert!(origins <= 1210, "{hostile:?}: {origins} origins requested in a minute");
        assert!(recorded.statuses <= 610, "{hostile:?}: shown {} times", recorded.statuses);
        assert!(recorded.bytes < bytes_max, "{hostile:?}: {} bytes", recorded.bytes);
        match (why, recorded.outcome) {
            (None, Ok(_)) => {}
            (Some(why), Err(message)) => {
                let message = message.to_string();
                assert!(message.contains(why) && message.contains("is intact: "), "{message}");
            }
            (why, outcome) => panic!("{hostile:?}: {why:?}, {outcome:?}"),
        }
    }
}

/// The data of a furnace with this longest firing (s).
fn furnace(firing_max_s: u32) -> Vec<u8> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/furnaces/lift-vacuum.toml");
    let mut furnace = saggar_schedule::profile::Profile::load(Path::new(path)).unwrap().furnace;
    furnace.limits.firing_max_s = firing_max_s;
    postcard::to_stdvec(&furnace).unwrap()
}

/// Two stops are ordered during a recording, and no tick is lost.
#[test]
fn a_stop_during_a_recording_loses_no_tick() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("it.firing");
    let key = key();
    let options = WatchOptions {
        record: Some(&path),
        until_end: false,
        give_up: Duration::from_secs(60),
        key: Some(&key),
    };
    let mut link = link_with_cut(Cut::default());
    let (clock, given) = (link.clock.clone(), Cell::new(0));
    let request = || match clock.get().as_secs() {
        seconds @ (5 | 9) if given.replace(seconds) != seconds => UserRequest::StopFiring,
        ..20 => UserRequest::Continue,
        _ => UserRequest::Quit,
    };
    let stops = Cell::new(0);
    let show = |event: WatchEvent<'_>| {
        stops.set(stops.get() + u32::from(matches!(event, WatchEvent::StopAccepted)));
        Ok(())
    };
    let client = Client::with_link(&mut link, Timeouts::for_baud(115_200)).unwrap();
    let end = watch(client, &options, request, show).unwrap();
    assert_eq!((link.fake.stops, stops.get(), end.recorded.lost), (2, 2, 0));
    let (log, _) = read(&path);
    assert_eq!(count_stretches(&log), 1);
    assert!(end.recorded.ticks > 190, "{end:?}");
}

/// A stop that is typed without a connection is not sent, and not forgotten either.
#[test]
fn a_stop_without_a_connection_is_reported_as_not_sent() {
    let key = key();
    let options = WatchOptions {
        record: None,
        until_end: false,
        give_up: Duration::from_secs(60),
        key: Some(&key),
    };
    let mut link = link_with_cut(Cut { after: 200, ..Cut::default() });
    let (clock, lost, typed) = (link.clock.clone(), Cell::new(false), Cell::new(false));
    let request = || match lost.get() {
        true if !typed.replace(true) => UserRequest::StopFiring,
        _ if clock.get() > Duration::from_secs(60) => UserRequest::Quit,
        _ => UserRequest::Continue,
    };
    let (unsent, sent) = (Cell::new(0), Cell::new(0));
    let show = |event: WatchEvent<'_>| {
        lost.set(lost.get() || matches!(event, WatchEvent::ConnectionLost(..)));
        unsent.set(unsent.get() + u32::from(matches!(event, WatchEvent::StopNotSent)));
        sent.set(sent.get() + u32::from(matches!(event, WatchEvent::StopAccepted)));
        Ok(())
    };
    let client = Client::with_link(&mut link, Timeouts::for_baud(115_200)).unwrap();
    let outcome = watch(client, &options, request, show).unwrap();
    assert_eq!((unsent.get(), sent.get(), link.fake.stops), (1, 0, 0));
    assert!(outcome.stop_error.is_some_and(|error| error.to_string().contains("not sent")));
}
