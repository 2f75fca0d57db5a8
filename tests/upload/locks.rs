//! Lock-outs and the log: days of them displace no log entry of a firing.

use saggar_core::events::EventKind;
use saggar_device::link::{LOCK_OUT_MS, WRONG_SEALS_MAX};
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{LogEntry, LogEvent, Order};

use super::client::Client;
use super::support::{Bed, OTHER_KEY};

/// Minimum time between two log entries on lock-outs (ms).
const HOUR_MS: u64 = 3_600_000;

/// Sends enough wrong seals for a lock-out.
fn guess(bed: &mut Bed) {
    let mut stranger = Client::new(DeviceKey::new(OTHER_KEY).expect("a key"));
    let greeting = stranger.hello(3);
    let replies = bed.exchange(&greeting);
    stranger.accept_greeting(&replies);
    for _ in 0..WRONG_SEALS_MAX {
        let guess = stranger.order(&Order::Stop);
        bed.exchange(&guess);
    }
}

/// Causes this many lock-outs in a row. Only two ticks are run for each, so that days pass quickly.
fn lock(bed: &mut Bed, times: u32) {
    for _ in 0..times {
        guess(bed);
        bed.tick();
        bed.millis += LOCK_OUT_MS;
        bed.tick();
    }
}

/// Numbers of lock-outs in the log.
fn told(lines: &[LogEntry]) -> Vec<u32> {
    let count = |line: &LogEntry| match line.event {
        LogEvent::LockOuts(count) => Some(count),
        LogEvent::Booted
        | LogEvent::Core(_)
        | LogEvent::Programme(_)
        | LogEvent::StopRequested
        | LogEvent::LegacyLockOut
        | LogEvent::Confirmed(_)
        | LogEvent::EntriesLost(_)
        | LogEvent::FiringPosition { .. }
        | LogEvent::FiringState { .. } => None,
    };
    lines.iter().filter_map(count).collect()
}

/// Number of entries other than those of bookmarks, which a firing writes by itself.
fn without_bookmarks(lines: &[LogEntry]) -> usize {
    let is_bookmark = |line: &&LogEntry| {
        matches!(line.event, LogEvent::FiringPosition { .. } | LogEvent::FiringState { .. })
    };
    lines.len() - lines.iter().filter(is_bookmark).count()
}

/// A stopped firing, and its log.
fn fired() -> (Bed, Vec<LogEntry>) {
    let mut bed = Bed::new();
    bed.fire();
    bed.run(50);
    bed.press(|buttons| buttons.stop = true);
    let lines = bed.log();
    assert!(lines.iter().any(|line| line.event == LogEvent::Core(EventKind::FiringStarted)));
    (bed, lines)
}

/// Five days, a lock-out every ten seconds.
#[test]
fn days_of_lock_outs_displace_no_log_entry_of_a_firing() {
    let (mut bed, before) = fired();
    let locks = 5 * 24 * 360;
    lock(&mut bed, locks);
    let after = bed.log();
    assert_eq!(after[..before.len()], before[..], "what was there is still there");
    let more = after.len() - before.len();
    assert!(more <= 1, "{more} lines for {locks} lock-outs");
    // After another entry the rest is logged.
    bed.fire();
    bed.press(|buttons| buttons.stop = true);
    bed.run(2);
    let counts = told(&bed.log());
    assert_eq!(counts.iter().sum::<u32>(), locks, "{counts:?}");
}

/// After it they are logged in one entry.
#[test]
fn lock_outs_are_not_logged_during_a_firing() {
    let mut bed = Bed::new();
    bed.fire();
    let before = without_bookmarks(&bed.log());
    for _ in 0..120 {
        guess(&mut bed);
        // Every tick on time, or the core trips.
        bed.run(u32::try_from(LOCK_OUT_MS / 100).unwrap() + 1);
    }
    assert!(bed.device.controller().status().step.is_some(), "it still fires");
    assert_eq!(without_bookmarks(&bed.log()), before);
    bed.press(|buttons| buttons.stop = true);
    bed.millis += HOUR_MS;
    bed.run(2);
    assert_eq!(told(&bed.log()), [120]);
}

/// With other entries between them.
#[test]
fn lock_outs_are_logged_once_an_hour_and_never_rotate_the_journal() {
    let (mut bed, before) = fired();
    let began = bed.millis;
    let first = before[0].number;
    let erases = |bed: &Bed| bed.chip.0.borrow().erases.iter().sum::<u32>();
    let untouched = erases(&bed);
    loop {
        let room = bed.log().len();
        for _ in 0..6 {
            lock(&mut bed, 60);
            // A press of confirm with nothing to confirm writes nothing; a start and a stop do.
            if room < 80 {
                bed.fire();
                bed.press(|buttons| buttons.stop = true);
            }
        }
        let lines = bed.log();
        let hours = (bed.millis - began) / HOUR_MS;
        assert!(told(&lines).len() as u64 <= hours + 1);
        assert_eq!(lines[0].number, first, "the oldest line is still there");
        if hours > 60 {
            assert!(told(&lines).len() > 2, "{:?}", told(&lines));
            break;
        }
    }
    assert_eq!(erases(&bed), untouched, "no region was erased for a lock-out");
}
