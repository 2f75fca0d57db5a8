//! Fetching the log of a device.

use std::time::Duration;

use saggar_device::wire::{LOG_ENTRIES_MAX, LogEntry, Notice, Query};

use super::query::{QuerySeries, ReplyMatch};
use super::{LinkError, Timeouts};

/// The most entries to fetch: eight times what the flash of our boards holds.
const ENTRIES_MAX: usize = 16_384;

/// The longest time to spend on them, besides their time on the link.
const DURATION_MAX: Duration = Duration::from_secs(1200);

const ENDLESS_LOG: LinkError = LinkError::InvalidReply("a log without an end");

/// Fetches the entries of the log that the device still has, oldest first.
#[derive(Debug)]
pub struct LogQuery {
    from: u32,
    entries: Vec<LogEntry>,
}

impl LogQuery {
    /// The entries from this number on.
    pub const fn new(from: u32) -> Self {
        Self { from, entries: Vec::new() }
    }
}

impl QuerySeries for LogQuery {
    type Output = Vec<LogEntry>;

    fn request(&self) -> Query {
        Query::Log { from: self.from }
    }

    fn accept(&mut self, notice: &Notice<'_>) -> Result<ReplyMatch<Vec<LogEntry>>, LinkError> {
        let Notice::Log { next, entries } = notice else { return Ok(ReplyMatch::Unrelated) };
        if entries.first().is_some_and(|entry| entry.number < self.from) {
            // A duplicate of an earlier reply.
            return Ok(ReplyMatch::Unrelated);
        }
        for entry in entries {
            if self.entries.len() >= ENTRIES_MAX {
                return Err(ENDLESS_LOG);
            }
            if entry.number < self.from || entry.number >= *next {
                return Err(LinkError::InvalidReply("log entries out of order"));
            }
            self.from = entry.number.saturating_add(1);
            self.entries.push(*entry);
        }
        let is_complete = entries.is_empty() || self.from >= *next;
        Ok(if is_complete {
            ReplyMatch::Complete(std::mem::take(&mut self.entries))
        } else {
            ReplyMatch::Partial
        })
    }

    fn check_duration(&self, time: Duration, timeouts: Timeouts) -> Result<(), LinkError> {
        let frames = (ENTRIES_MAX / LOG_ENTRIES_MAX) as u32;
        if time > DURATION_MAX + timeouts.frame_time * frames {
            Err(ENDLESS_LOG)
        } else {
            Ok(())
        }
    }
}
