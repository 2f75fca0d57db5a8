//! Where a firing is: its step, how long it has run and what is left of it.
//!
//! The device's status names the step only. When it began is in the device's log, what it does in
//! the programme; both are fetched when they have changed.

use saggar_core::events::EventKind;
use saggar_core::programme::{Action, ProgrammeImage};
use saggar_device::wire::{DeviceStatus, LogEntry, LogEvent};

use crate::link::{Client, FetchTarget, Link, LinkError};

/// Entries of the log that are looked at: a firing has at most 64 steps, each with a few entries.
const ENTRIES_MAX: u32 = 400;

/// What is known of the firing that a device runs.
#[derive(Clone, Debug, Default)]
pub struct FiringTracker {
    programme: Option<ProgrammeImage>,
    /// The digest that the programme was fetched for.
    programme_digits: Option<[u8; 4]>,
    /// Number of the first entry of the log that was not looked at.
    next_entry: u32,
    boot: BootRecord,
    confirmed: Option<bool>,
}

/// What the log says of the time since the device started. Times in seconds since then.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct BootRecord {
    started_s: Option<u32>,
    step: Option<(u8, u32)>,
    hold_s: Option<u32>,
    stop_ordered: bool,
    lock_outs: u32,
}

/// The step that a firing is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepProgress {
    /// Which one, from 0.
    pub index: u8,
    /// How many the programme has, if it is known.
    pub count: Option<u8>,
    /// What the step does, if the programme is known.
    pub action: Option<Action>,
    /// Time since the step began (s), if the log has its beginning.
    pub elapsed_s: Option<u64>,
    /// Time until it ends.
    pub left: TimeLeft,
    /// Time since the firing started (s), if the log has its start.
    pub firing_s: Option<u64>,
}

/// Time until a step ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimeLeft {
    /// Not known: it depends on the furnace, or the step's beginning is not known.
    Unknown,
    /// About this long (s).
    About(u64),
    /// At least this long (s): time counts only inside the band, or at the end of the way.
    AtLeast(u64),
}

impl FiringTracker {
    /// Fetches what has changed by this status.
    ///
    /// # Errors
    /// The connection failed. What the device refuses or garbles stays unknown.
    pub fn update<L: Link>(
        &mut self,
        client: &mut Client<L>,
        status: &DeviceStatus,
    ) -> Result<(), LinkError> {
        if self.programme_digits != status.programme {
            self.programme_digits = status.programme;
            client.greet()?;
            let bytes = optional(client.fetch(FetchTarget::Programme))?;
            self.programme = bytes.and_then(|bytes| ProgrammeImage::from_bytes(&bytes).ok());
        }
        if status.log_next > self.next_entry {
            let from = self.next_entry.max(status.log_next.saturating_sub(ENTRIES_MAX));
            let entries = optional(client.log(from))?.unwrap_or_default();
            entries.iter().for_each(|entry| self.take(entry));
            let last = entries.last().map_or(0, |entry| entry.number.saturating_add(1));
            self.next_entry = status.log_next.max(last);
        }
        Ok(())
    }

    /// The step that this status names; `None` without a firing.
    pub fn step(&self, status: &DeviceStatus) -> Option<StepProgress> {
        let index = status.step?;
        let programme = self.programme.as_ref();
        let action = programme
            .and_then(|image| image.steps().nth(usize::from(index)))
            .map(|step| step.action);
        let now_s = status.at_ms / 1000;
        let since = |at_s: u32| now_s.saturating_sub(u64::from(at_s));
        let began = self.boot.step.filter(|(step, _)| *step == index);
        let elapsed_s = began.map(|(_, at_s)| since(at_s));
        let held_s = self.boot.hold_s.map(since).or(elapsed_s);
        let left = action.map_or(TimeLeft::Unknown, |action| {
            time_left(&action, status.setpoint_mc, elapsed_s, held_s)
        });
        let count = programme.and_then(|image| u8::try_from(image.steps().count()).ok());
        let firing_s = self.boot.started_s.map(since);
        Some(StepProgress { index, count, action, elapsed_s, left, firing_s })
    }

    /// The last firing was ended by a client's order, not by a button.
    pub const fn stop_was_ordered(&self) -> bool {
        self.boot.stop_ordered
    }

    /// Whether the active programme was confirmed at the device, as far as the log tells.
    pub const fn is_confirmed(&self) -> Option<bool> {
        self.confirmed
    }

    fn take(&mut self, entry: &LogEntry) {
        if matches!(entry.event, LogEvent::Programme(_) | LogEvent::Confirmed(_)) {
            self.confirmed = Some(matches!(entry.event, LogEvent::Confirmed(_)));
        }
        self.boot.take(entry);
    }

    /// Number of lock-outs since the device started, as far as the log tells.
    pub const fn lock_outs(&self) -> u32 {
        self.boot.lock_outs
    }
}

impl BootRecord {
    fn take(&mut self, entry: &LogEntry) {
        match entry.event {
            LogEvent::Booted => *self = Self::default(),
            LogEvent::Core(EventKind::FiringStarted) => {
                let lock_outs = self.lock_outs;
                *self = Self { started_s: Some(entry.at_s), lock_outs, ..Self::default() };
            }
            LogEvent::Core(EventKind::StepStarted(index)) => {
                (self.step, self.hold_s) = (Some((index, entry.at_s)), None);
            }
            LogEvent::Core(EventKind::FiringResumed(index)) => {
                let lock_outs = self.lock_outs;
                let step = Some((index, entry.at_s));
                *self = Self { step, lock_outs, ..Self::default() };
            }
            LogEvent::Core(EventKind::HoldStarted) => self.hold_s = Some(entry.at_s),
            LogEvent::StopRequested => self.stop_ordered = true,
            LogEvent::LockOuts(count) => self.lock_outs = self.lock_outs.saturating_add(count),
            LogEvent::LegacyLockOut => self.lock_outs = self.lock_outs.saturating_add(1),
            // None of these says where the firing is.
            LogEvent::Core(
                EventKind::VacuumReached
                | EventKind::FiringEnded(_)
                | EventKind::Tripped(_)
                | EventKind::TripAccepted
                | EventKind::ChannelFailed(_)
                | EventKind::WaitIsLong(_)
                | EventKind::HeaterWeak
                | EventKind::ContactChecked
                | EventKind::FiringDiscarded,
            )
            | LogEvent::Programme(_)
            | LogEvent::EntriesLost(_)
            | LogEvent::Confirmed(_)
            | LogEvent::FiringPosition { .. }
            | LogEvent::FiringState { .. } => {}
        }
    }
}

/// What is left of a step with this setpoint, after this time in it and since its question.
fn time_left(
    action: &Action,
    setpoint_mc: Option<i32>,
    elapsed_s: Option<u64>,
    held_s: Option<u64>,
) -> TimeLeft {
    let after = |total_ms: u32, gone_s: u64| u64::from(total_ms / 1000).saturating_sub(gone_s);
    let left = match *action {
        Action::Ramp { to_mc, rate_mk_per_min } => setpoint_mc.and_then(|setpoint_mc| {
            let way_mk = u64::from(to_mc.abs_diff(setpoint_mc));
            (way_mk * 60).checked_div(rate_mk_per_min.into()).map(TimeLeft::About)
        }),
        Action::Soak { duration_ms, .. } => {
            elapsed_s.map(|gone| TimeLeft::AtLeast(after(duration_ms, gone)))
        }
        Action::MoveClosure { dwell_ms, .. } => {
            elapsed_s.map(|gone| TimeLeft::AtLeast(after(dwell_ms, gone)))
        }
        Action::Hold { timeout_ms, .. } => {
            held_s.map(|gone| TimeLeft::About(after(timeout_ms, gone)))
        }
        Action::Cool { .. } => None,
    };
    left.unwrap_or(TimeLeft::Unknown)
}

/// A reply that may be missing, unless the connection failed.
fn optional<T>(reply: Result<T, LinkError>) -> Result<Option<T>, LinkError> {
    match reply {
        Ok(reply) => Ok(Some(reply)),
        Err(LinkError::Refused(_) | LinkError::InvalidReply(_)) => Ok(None),
        Err(error) => Err(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTE_MS: u32 = 60_000;

    #[test]
    fn the_log_tells_when_a_step_and_its_question_began() {
        let mut boot = BootRecord::default();
        let mut take = |at_s, event| {
            boot.take(&LogEntry { number: 0, boot: 1, at_s, event });
            boot
        };
        take(5, LogEvent::LockOuts(2));
        take(10, LogEvent::Core(EventKind::FiringStarted));
        take(10, LogEvent::Core(EventKind::StepStarted(0)));
        let hold = take(70, LogEvent::Core(EventKind::HoldStarted));
        assert_eq!(
            (hold.started_s, hold.step, hold.hold_s),
            (Some(10), Some((0, 10)), Some(70))
        );
        let next = take(90, LogEvent::Core(EventKind::StepStarted(1)));
        assert_eq!((next.started_s, next.step, next.hold_s), (Some(10), Some((1, 90)), None));
        assert!(take(95, LogEvent::StopRequested).stop_ordered);
        let again = take(100, LogEvent::Core(EventKind::FiringStarted));
        assert!(!again.stop_ordered && again.lock_outs == 2, "{again:?}");
        assert_eq!(take(0, LogEvent::Booted), BootRecord::default());
    }

    /// When the firing began is in the log of another boot, and how long its step has run.
    #[test]
    fn a_firing_that_goes_on_begins_its_step_anew() {
        let mut boot = BootRecord { started_s: Some(3), ..BootRecord::default() };
        let event = LogEvent::Core(EventKind::FiringResumed(4));
        boot.take(&LogEntry { number: 0, boot: 1, at_s: 60, event });
        assert_eq!((boot.started_s, boot.step), (None, Some((4, 60))));
    }

    #[test]
    fn time_left_follows_the_setpoint_the_step_or_the_question() {
        let ramp = Action::Ramp { to_mc: 600_000, rate_mk_per_min: 10_000 };
        assert_eq!(time_left(&ramp, Some(500_000), None, None), TimeLeft::About(600));
        assert_eq!(time_left(&ramp, None, Some(9), None), TimeLeft::Unknown);
        let hold = Action::Hold { timeout_ms: 30 * MINUTE_MS, continue_on_timeout: false };
        assert_eq!(time_left(&hold, None, Some(900), Some(60)), TimeLeft::About(1740));
        let (duration_ms, band_mk, band_timeout_ms) = (10 * MINUTE_MS, 3000, MINUTE_MS);
        let soak = Action::Soak { duration_ms, band_mk, band_timeout_ms };
        assert_eq!(time_left(&soak, None, Some(60), None), TimeLeft::AtLeast(540));
        assert_eq!(time_left(&soak, None, Some(601), None), TimeLeft::AtLeast(0));
        assert_eq!(
            time_left(&Action::Cool { below_mc: 0 }, None, Some(1), None),
            TimeLeft::Unknown
        );
    }
}
