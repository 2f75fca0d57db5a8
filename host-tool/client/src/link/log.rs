//! Fetching the log of a device.

use std::time::Duration;

use saggar_device::wire::{LOG_ENTRIES_MAX, LogEntry, Notice, Query};

use super::question::{Asking, Heard};
use super::{Failed, Pace};

/// Most lines that are fetched, eight times what the flash of the boards here holds.
const LINES_MAX: usize = 16_384;

/// Time that a device may take to tell them, besides that of the line.
const TIME_MAX: Duration = Duration::from_secs(1200);

const ENDLESS: Failed = Failed::Odd("a log without an end");

/// Fetches the lines of the log that the device still has, oldest first.
#[derive(Debug)]
pub struct Log {
    from: u32,
    lines: Vec<LogEntry>,
}

impl Log {
    /// The lines from this number on.
    pub const fn new(from: u32) -> Self {
        Self { from, lines: Vec::new() }
    }
}

impl Asking for Log {
    type Found = Vec<LogEntry>;

    fn ask(&self) -> Query {
        Query::Log { from: self.from }
    }

    fn hear(&mut self, tell: &Notice<'_>) -> Result<Heard<Vec<LogEntry>>, Failed> {
        let Notice::Log { next, lines } = tell else { return Ok(Heard::Other) };
        if lines.first().is_some_and(|line| line.number < self.from) {
            // Those asked for before, once more.
            return Ok(Heard::Other);
        }
        for line in lines {
            if self.lines.len() >= LINES_MAX {
                return Err(ENDLESS);
            }
            if line.number < self.from || line.number >= *next {
                return Err(Failed::Odd("lines of the log are out of order"));
            }
            self.from = line.number.saturating_add(1);
            self.lines.push(*line);
        }
        let all = lines.is_empty() || self.from >= *next;
        Ok(if all { Heard::All(std::mem::take(&mut self.lines)) } else { Heard::Part })
    }

    fn may_take(&self, time: Duration, pace: Pace) -> Result<(), Failed> {
        let frames = (LINES_MAX / LOG_ENTRIES_MAX) as u32;
        if time > TIME_MAX + pace.frame * frames { Err(ENDLESS) } else { Ok(()) }
    }
}
