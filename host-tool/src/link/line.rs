//! Runs exchanges over a port: the only part that waits.

use std::time::{Duration, Instant};

use saggar_core::wire::{Ask, Body, Broken, FRAME_BYTES_MAX, Kind, Tell, enclose, open};

use super::port::Port;
use super::{Exchange, Failed, Frames};

/// Longest wait for bytes before something else is looked at.
const GLANCE: Duration = Duration::from_millis(50);

/// Time in which a line gives away what it still held from before.
const STALE: Duration = Duration::from_millis(30);

/// A port with a device at its end.
pub struct Line {
    port: Port,
    frames: Frames,
    began: Instant,
    noise: u32,
}

impl Line {
    /// Takes a port and clears the line: what was under way is not ours.
    ///
    /// # Errors
    /// The port fails.
    pub fn on(mut port: Port) -> Result<Self, Failed> {
        let mut room = [0; 4096];
        // A device that talks on and on is heard later.
        for _ in 0..8 {
            if port.read(&mut room, STALE)? == 0 {
                break;
            }
        }
        port.write(&[0])?;
        Ok(Self { port, frames: Frames::default(), began: Instant::now(), noise: 0 })
    }

    /// Time since the line was taken.
    pub fn now(&self) -> Duration {
        self.began.elapsed()
    }

    /// Runs an exchange to its end.
    ///
    /// # Errors
    /// Why it came to nothing.
    pub fn run<E: Exchange>(&mut self, exchange: &mut E) -> Result<E::Output, Failed> {
        let mut frame = [0; FRAME_BYTES_MAX];
        let noise_before = self.noise;
        loop {
            let now = self.now();
            while let Some(bytes) = exchange.transmit(now, &mut frame) {
                self.port.write(frame.get(..bytes).unwrap_or(&frame))?;
            }
            if let Some(outcome) = exchange.outcome() {
                return outcome.map_err(|failed| match failed {
                    Failed::Silent { .. } => {
                        Failed::Silent { noise: self.noise.wrapping_sub(noise_before) }
                    }
                    Failed::Port(_)
                    | Failed::OtherProtocol(_)
                    | Failed::Refused(_)
                    | Failed::Odd(_)
                    | Failed::Interrupted => failed,
                });
            }
            let wait = exchange.wake().saturating_sub(now).min(GLANCE);
            self.hear(wait, |now, body| exchange.receive(now, body))?;
        }
    }

    /// Says something without waiting for an answer.
    ///
    /// # Errors
    /// The port fails.
    pub fn say(&mut self, ask: &Ask) -> Result<(), Failed> {
        let mut frame = [0; FRAME_BYTES_MAX];
        match enclose(Kind::Ask, None, ask, &mut frame) {
            Some(bytes) => self.port.write(frame.get(..bytes).unwrap_or(&frame)),
            None => Ok(()),
        }
    }

    /// Listens for so long at most, and hands on what the device tells meanwhile.
    ///
    /// # Errors
    /// The port fails, or the device speaks another protocol.
    pub fn listen(
        &mut self,
        wait: Duration,
        mut take: impl FnMut(&Tell<'_>),
    ) -> Result<(), Failed> {
        self.hear(wait, |_, body| {
            if body.kind == Kind::Tell
                && let Ok(tell) = body.message::<Tell<'_>>()
            {
                take(&tell);
            }
        })
    }

    /// Reads once, and hands on every frame that is whole.
    fn hear(
        &mut self,
        wait: Duration,
        mut take: impl FnMut(Duration, &Body<'_>),
    ) -> Result<(), Failed> {
        let mut room = [0; 4096];
        let read = self.port.read(&mut room, wait)?;
        let now = self.began.elapsed();
        let mut other = None;
        let (noise, torn) = (&mut self.noise, self.frames.torn);
        self.frames.push(room.get(..read).unwrap_or(&room), |frame| match open(frame) {
            Ok(body) => take(now, &body),
            Err(Broken::OtherProtocol(version)) => other = Some(version),
            Err(Broken::Noise | Broken::Unknown) => *noise = noise.saturating_add(1),
        });
        self.noise = self.noise.saturating_add(self.frames.torn.wrapping_sub(torn));
        other.map_or(Ok(()), |version| Err(Failed::OtherProtocol(version)))
    }
}
