//! Fetching the log of a device.

use std::time::Duration;

use saggar_device::wire::{LOG_ENTRIES_MAX, LogEntry, Notice, Query};

use super::query::{QuerySeries, ReplyMatch};
use super::{LinkError, Timeouts};

/// Most lines that are fetched, eight times what the flash of the boards here holds.
const LOG_LINES_TOTAL_MAX: usize = 16_384;

/// Time that a device may take to tell them, besides that of the line.
const DURATION_MAX: Duration = Duration::from_secs(1200);

const ENDLESS_LOG: LinkError = LinkError::InvalidReply("a log without an end");

/// Fetches the lines of the log that the device still has, oldest first.
#[derive(Debug)]
pub struct LogQuery {
    from: u32,
    lines: Vec<LogEntry>,
}

impl LogQuery {
    /// The lines from this number on.
    pub const fn new(from: u32) -> Self {
        Self { from, lines: Vec::new() }
    }
}

impl QuerySeries for LogQuery {
    type Output = Vec<LogEntry>;

    fn request(&self) -> Query {
        Query::Log { from: self.from }
    }

    fn accept(&mut self, tell: &Notice<'_>) -> Result<ReplyMatch<Vec<LogEntry>>, LinkError> {
        let Notice::Log { next, lines } = tell else { return Ok(ReplyMatch::Unrelated) };
        if lines.first().is_some_and(|line| line.number < self.from) {
            // Those asked for before, once more.
            return Ok(ReplyMatch::Unrelated);
        }
        for line in lines {
            if self.lines.len() >= LOG_LINES_TOTAL_MAX {
                return Err(ENDLESS_LOG);
            }
            if line.number < self.from || line.number >= *next {
                return Err(LinkError::InvalidReply("lines of the log are out of order"));
            }
            self.from = line.number.saturating_add(1);
            self.lines.push(*line);
        }
        let all = lines.is_empty() || self.from >= *next;
        Ok(if all {
            ReplyMatch::Complete(std::mem::take(&mut self.lines))
        } else {
            ReplyMatch::Partial
        })
    }

    fn check_duration(&self, time: Duration, pace: Timeouts) -> Result<(), LinkError> {
        let frames = (LOG_LINES_TOTAL_MAX / LOG_ENTRIES_MAX) as u32;
        if time > DURATION_MAX + pace.frame_time * frames { Err(ENDLESS_LOG) } else { Ok(()) }
    }
}
