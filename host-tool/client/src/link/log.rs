//! Fetching the log of a device.

use std::time::Duration;

use saggar_device::wire::{
    Ask, Body, FRAME_BYTES_MAX, Kind, LOG_LINES_MAX, LogLine, Tell, enclose,
};

use super::exchange::Again;
use super::{Exchange, Failed, Pace};

/// Most lines that are fetched, eight times what the flash of the boards here holds.
const LINES_MAX: usize = 16_384;

/// Time that a device may take to tell them, besides that of the line.
const TIME_MAX: Duration = Duration::from_secs(1200);

/// Fetches the lines of the log that the device still has, oldest first.
#[derive(Debug)]
pub struct Log {
    pace: Pace,
    from: u32,
    lines: Vec<LogLine>,
    again: Again,
    /// When it has to have an end.
    until: Option<Duration>,
    outcome: Option<Result<Vec<LogLine>, Failed>>,
}

impl Log {
    /// The lines from this number on.
    pub fn new(from: u32, pace: Pace) -> Self {
        Self {
            pace,
            from,
            lines: Vec::new(),
            again: Again::default(),
            until: None,
            outcome: None,
        }
    }

    fn take(&mut self, next: u32, lines: &[LogLine]) {
        if lines.first().is_some_and(|line| line.number < self.from) {
            // Those asked for before, once more.
            return;
        }
        for line in lines {
            let odd = match self.lines.len() {
                LINES_MAX.. => Some("a log without an end"),
                _ if line.number < self.from || line.number >= next => {
                    Some("lines of the log are out of order")
                }
                _ => None,
            };
            if let Some(odd) = odd {
                self.outcome = Some(Err(Failed::Odd(odd)));
                return;
            }
            self.from = line.number.saturating_add(1);
            self.lines.push(*line);
        }
        self.again = Again::default();
        if lines.is_empty() || self.from >= next {
            self.outcome = Some(Ok(std::mem::take(&mut self.lines)));
        }
    }
}

impl Exchange for Log {
    type Output = Vec<LogLine>;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        let frames = (LINES_MAX / LOG_LINES_MAX) as u32;
        let until = *self.until.get_or_insert(now + TIME_MAX + self.pace.frame * frames);
        if now > until && self.outcome.is_none() {
            self.outcome = Some(Err(Failed::Odd("a log without an end")));
        }
        if !self.again.says(now, self.pace.answer, &mut self.outcome) {
            return None;
        }
        enclose(Kind::Ask, None, &Ask::Log { from: self.from }, frame)
    }

    fn receive(&mut self, _: Duration, body: &Body<'_>) {
        if body.kind != Kind::Tell || self.outcome.is_some() {
            return;
        }
        let Ok(tell) = body.message::<Tell<'_>>() else { return };
        if let Tell::Log { next, lines } = tell {
            self.take(next, &lines);
        } else if let Tell::Refused(refusal) = tell {
            self.outcome = Some(Err(Failed::Refused(refusal)));
        }
    }

    fn wake(&self) -> Duration {
        self.again.due
    }

    fn outcome(&mut self) -> Option<Result<Vec<LogLine>, Failed>> {
        self.outcome.take()
    }
}
