//! `device log`: the device's own log, in words.

use saggar_core::programme::ProgrammeImage;
use saggar_device::wire::{LogEntry, LogEvent};
use serde::Serialize;

use super::phrases::LogPhrases;
use crate::error::CliError;
use saggar_client::link::port::PortConfig;
use saggar_client::link::{Client, FetchTarget, LinkError};

/// An entry of the log.
#[derive(Clone, Debug, Serialize)]
pub struct LogLine {
    /// Its number.
    pub number: u32,
    /// Boot number of the start that it belongs to.
    pub boot: u32,
    /// Time since that start (s).
    pub at_second: u32,
    /// What happened.
    pub text: String,
}

/// The entries of a device's log from this number on.
///
/// # Errors
/// No device answers.
pub fn log(at: &PortConfig, from: u32) -> Result<Vec<LogLine>, CliError> {
    let mut client = Client::connect(at)?;
    let entries = client.log(from)?;
    let image = match client.fetch(FetchTarget::Programme) {
        Err(LinkError::InvalidReply(_) | LinkError::Refused(_)) => None,
        bytes => ProgrammeImage::from_bytes(&bytes?).ok(),
    };
    Ok(lines(&entries, image.as_ref()))
}

/// The entries in words. Only the active programme is known: it says how long the holds wait in
/// firings since it became active.
fn lines(entries: &[LogEntry], image: Option<&ProgrammeImage>) -> Vec<LogLine> {
    let replaced = entries.iter().rposition(|e| matches!(e.event, LogEvent::Programme(_)));
    let known_from = replaced.unwrap_or(0);
    let mut phrases = LogPhrases::default();
    let line = |(index, entry): (usize, &LogEntry)| {
        let image = image.filter(|_| index >= known_from);
        let text = phrases.phrase(entry, image, None);
        let LogEntry { number, boot, at_s, .. } = *entry;
        LogLine { number, boot, at_second: at_s, text }
    };
    entries.iter().enumerate().map(line).collect()
}
