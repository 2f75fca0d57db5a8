//! Watching and recording over a line that is cut, and of a device that means harm.

use std::cell::{Cell, RefCell};
use std::path::Path;
use std::time::Duration;

use saggar_client::ClientError;
use saggar_client::link::{Client, Timeouts};
use saggar_client::logfile::{LogRecord, Reader};
use saggar_client::{UserRequest, WatchEvent, WatchOptions, WatchOutcome, watch};

use crate::simulated::{Cut, Harm, Simulated, key};
use crate::telling::Hostile;

/// What came of a recording.
struct Recorded {
    outcome: Result<WatchOutcome, ClientError>,
    /// What was shown besides how the furnace stands.
    told: Vec<String>,
    /// How often it was shown how the furnace stands.
    shown: u32,
    log: Vec<LogRecord>,
    bytes: u64,
}

/// Records for so long, in the line's own time.
fn record(line: &mut Simulated, seconds: u64, give_up_s: u64) -> Recorded {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("it.firing");
    let watching = WatchOptions {
        record: Some(&path),
        until_end: false,
        give_up: Duration::from_secs(give_up_s),
        key: None,
    };
    let (told, statuses) = (RefCell::new(Vec::new()), Cell::new(0_u32));
    let clock = line.clock.clone();
    let wish = || {
        if clock.get() > Duration::from_secs(seconds) {
            UserRequest::Quit
        } else {
            UserRequest::Continue
        }
    };
    let show = |seen: WatchEvent<'_>| {
        if matches!(seen, WatchEvent::Status(..)) {
            statuses.set(statuses.get() + 1);
        } else {
            told.borrow_mut().push(format!("{seen:?}"));
        }
        Ok(())
    };
    let desk = Client::with_link(line, Timeouts::for_baud(115_200)).unwrap();
    let outcome = watch(desk, &watching, wish, show);
    assert!(statuses.get() > 0);
    let (log, bytes) = read(&path);
    Recorded { outcome, told: told.into_inner(), shown: statuses.get(), log, bytes }
}

/// All records of a log, which must be whole.
fn read(path: &Path) -> (Vec<LogRecord>, u64) {
    let mut reader = Reader::open(path).unwrap();
    let mut log = Vec::new();
    while let Some(record) = reader.record().expect("what was recorded is whole") {
        log.push(record);
    }
    (log, std::fs::metadata(path).unwrap().len())
}

/// Ticks and origins of a log, each tick behind an origin of its stretch but for the one that ends
/// a gap. How many stretches there are.
fn stretches(log: &[LogRecord]) -> usize {
    let (mut last, mut count) = (None, 0);
    for record in log {
        match record {
            LogRecord::Origin { number, .. } => {
                last = Some(*number);
                count += 1;
            }
            LogRecord::Tick(tick) => {
                let before = last.expect("a tick behind no origin");
                assert!(tick.number > before, "{} behind {before}", tick.number);
                last = (tick.number == before + 1).then_some(tick.number);
            }
            LogRecord::Programme(_) => {}
        }
    }
    count
}

fn line(cut: Cut) -> Simulated {
    let mut line = Simulated::new(Duration::from_millis(2), Harm::default(), 5);
    line.cut = cut;
    line
}

#[test]
fn an_uncut_recording_is_one_stretch_without_gaps() {
    let recorded = record(&mut line(Cut::default()), 300, 60);
    let end = recorded.outcome.unwrap();
    assert_eq!((end.recorded.lost, stretches(&recorded.log)), (0, 1), "{:?}", recorded.told);
    assert!(end.recorded.ticks > 2900, "{end:?}");
    assert_eq!(recorded.told, Vec::<String>::new());
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
                for_good: false,
            };
            let recorded = record(&mut line(cut), 300, 60);
            let end = recorded.outcome.unwrap_or_else(|why| panic!("{cut:?}: {why}"));
            let told = recorded.told.join(" ");
            assert!(end.recorded.ticks > 2500, "{cut:?}: {end:?}");
            // The first of them are cut before the device has told anything.
            let begun = after >= 50;
            assert!(stretches(&recorded.log) > usize::from(begun), "{cut:?}");
            assert!(
                told.contains("ConnectionLost") && told.contains("Reconnected"),
                "{cut:?}: {told}"
            );
            assert_eq!(told.contains("Restarted"), cut.reboots, "{cut:?}: {told}");
            assert!(cut.reboots || !begun || end.recorded.lost > 20, "{cut:?}: {end:?}");
        }
    }
}

#[test]
fn watching_ends_in_time_when_the_connection_stays_dead() {
    for silently in [false, true] {
        let mut line = line(Cut { after: 200, silently, for_good: true, ..Cut::default() });
        let recorded = record(&mut line, 3000, 120);
        let why = recorded.outcome.unwrap_err();
        assert!(why.to_string().contains("is intact: "), "{why}");
        assert!(matches!(why, ClientError::RecordingInterrupted { .. }), "{why:?}");
        // A try may begin just before the end of the time.
        assert!((120..180).contains(&line.now.as_secs()), "{:?}", line.now);
        assert_eq!(stretches(&recorded.log), 1);
    }
}

/// Whatever a device tells, a recorder writes no more than a true one can have told.
#[test]
fn a_hostile_device_cannot_fill_the_disk() {
    for (hostile, most_bytes, why) in [
        (Hostile::OneTick, 20_000, None),
        (Hostile::Origins, 4_000_000, Some("more than the longest firing")),
        (Hostile::TimeStands, 20_000, Some("ticks without any time between them")),
        (Hostile::GoesBack, 200_000, None),
        (Hostile::Gaps, 1_000_000, None),
        (Hostile::Endless, 4_000_000, Some("more than the longest firing")),
    ] {
        let mut line = line(Cut::default()).quick();
        line.fake.furnace = furnace(360);
        line.fake.telling.hostile = Some(hostile);
        let recorded = record(&mut line, 60, 60);
        println!("{hostile:?}: {} bytes, {:?}", recorded.bytes, recorded.outcome);
        stretches(&recorded.log);
        let origins = line.fake.telling.origins;
        assert!(origins <= 1210, "{hostile:?}: asked for {origins} origins in a minute");
        assert!(recorded.shown <= 610, "{hostile:?}: shown {} times", recorded.shown);
        assert!(recorded.bytes < most_bytes, "{hostile:?}: {} bytes", recorded.bytes);
        match (why, recorded.outcome) {
            (None, Ok(_)) => {}
            (Some(why), Err(said)) => {
                let said = said.to_string();
                assert!(said.contains(why) && said.contains("is intact: "), "{said}");
            }
            (why, outcome) => panic!("{hostile:?}: {why:?}, {outcome:?}"),
        }
    }
}

/// The data of a furnace whose longest firing takes so many seconds.
fn furnace(firing_max_s: u32) -> Vec<u8> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/furnaces/lift-vacuum.toml");
    let mut furnace = saggar_schedule::profile::Profile::load(Path::new(path)).unwrap().furnace;
    furnace.limits.firing_max_s = firing_max_s;
    postcard::to_stdvec(&furnace).unwrap()
}

/// The device is asked to stop while every tick of it is recorded.
#[test]
fn a_stop_costs_no_tick() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("it.firing");
    let key = key();
    let watching = WatchOptions {
        record: Some(&path),
        until_end: false,
        give_up: Duration::from_secs(60),
        key: Some(&key),
    };
    let mut line = line(Cut::default());
    let (clock, given) = (line.clock.clone(), Cell::new(0));
    let wish = || match clock.get().as_secs() {
        seconds @ (5 | 9) if given.replace(seconds) != seconds => UserRequest::StopFiring,
        ..20 => UserRequest::Continue,
        _ => UserRequest::Quit,
    };
    let stops = Cell::new(0);
    let show = |seen: WatchEvent<'_>| {
        stops.set(stops.get() + u32::from(matches!(seen, WatchEvent::StopAccepted)));
        Ok(())
    };
    let desk = Client::with_link(&mut line, Timeouts::for_baud(115_200)).unwrap();
    let end = watch(desk, &watching, wish, show).unwrap();
    assert_eq!((line.fake.stops, stops.get(), end.recorded.lost), (2, 2, 0));
    let (log, _) = read(&path);
    assert_eq!(stretches(&log), 1);
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
    let mut line = line(Cut { after: 200, ..Cut::default() });
    let (clock, lost, typed) = (line.clock.clone(), Cell::new(false), Cell::new(false));
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
    let client = Client::with_link(&mut line, Timeouts::for_baud(115_200)).unwrap();
    let outcome = watch(client, &options, request, show).unwrap();
    assert_eq!((unsent.get(), sent.get(), line.fake.stops), (1, 0, 0));
    assert!(outcome.stop_error.is_some_and(|error| error.to_string().contains("not sent")));
}
