//! Runs exchanges over a port: the only part that waits.

use std::time::{Duration, Instant};

use saggar_device::wire::{FRAME_BYTES_MAX, FrameBody, FrameError, NONCE_BYTES, decode_frame};

use super::port::{At, Port};
use super::{Carrier, Exchange, Failed, Frames};

/// Longest wait for bytes before something else is looked at.
const GLANCE: Duration = Duration::from_millis(50);

/// Time in which a line gives away what it still held from before.
const STALE: Duration = Duration::from_millis(30);

/// Reads of what had arrived when a line failed: more than any system holds back.
const LAST_READS_MAX: u32 = 1024;

/// A port with a device at its end.
pub struct Line {
    at: At,
    /// Closed until something is to be said.
    port: Option<Port>,
    frames: Frames,
    began: Instant,
    noise: u32,
}

impl Line {
    /// A line to this place, closed.
    pub fn to(at: &At) -> Self {
        Self {
            at: at.clone(),
            port: None,
            frames: Frames::default(),
            began: Instant::now(),
            noise: 0,
        }
    }

    /// Opens the port if it is closed, and clears the line: what was under way is not ours.
    fn port(&mut self) -> Result<&mut Port, Failed> {
        if self.port.is_none() {
            let mut port = Port::open(&self.at)?;
            let mut room = [0; 4096];
            // A device that talks on and on is heard later.
            for _ in 0..8 {
                if port.read(&mut room, STALE)? == 0 {
                    break;
                }
            }
            port.write(&[0])?;
            self.frames = Frames::default();
            self.port = Some(port);
        }
        self.port.as_mut().ok_or_else(|| Failed::Port("the line is closed".to_owned()))
    }

    /// Reads once, and hands on every frame that is whole; whether anything came.
    fn hear(
        &mut self,
        wait: Duration,
        mut take: impl FnMut(Duration, &FrameBody<'_>),
    ) -> Result<bool, Failed> {
        let mut room = [0; 4096];
        let read = self.port()?.read(&mut room, wait)?;
        let now = self.began.elapsed();
        let mut other = None;
        let (noise, torn) = (&mut self.noise, self.frames.torn);
        self.frames.push(room.get(..read).unwrap_or(&room), |frame| {
            match decode_frame(frame) {
                Ok(body) => take(now, &body),
                Err(FrameError::OtherProtocol(version)) => other = Some(version),
                Err(FrameError::Corrupt | FrameError::Unreadable) => {
                    *noise = noise.saturating_add(1)
                }
            }
        });
        self.noise = self.noise.saturating_add(self.frames.torn.wrapping_sub(torn));
        other.map_or(Ok(read > 0), |version| Err(Failed::OtherProtocol(version)))
    }
}

impl Carrier for Line {
    fn now(&self) -> Duration {
        self.began.elapsed()
    }

    fn run<E: Exchange>(&mut self, exchange: &mut E) -> Result<E::Output, Failed> {
        let mut frame = [0; FRAME_BYTES_MAX];
        let noise_before = self.noise;
        self.port()?;
        loop {
            let now = self.now();
            while let Some(bytes) = exchange.transmit(now, &mut frame) {
                let written = self.port()?.write(frame.get(..bytes).unwrap_or(&frame));
                if let Err(gone) = written {
                    // What the other end said before it went has arrived, and counts.
                    let mut take = |now, body: &FrameBody<'_>| exchange.receive(now, body);
                    let mut left = LAST_READS_MAX;
                    while left > 0 && self.hear(Duration::ZERO, &mut take).unwrap_or(false) {
                        left -= 1;
                    }
                    return exchange.outcome().unwrap_or(Err(gone));
                }
            }
            if let Some(outcome) = exchange.outcome() {
                let noise = self.noise.wrapping_sub(noise_before);
                return outcome.map_err(|failed| failed.with_noise(noise));
            }
            let wait = exchange.wake().saturating_sub(now).min(GLANCE);
            self.hear(wait, |now, body| exchange.receive(now, body))?;
        }
    }

    fn close(&mut self) {
        self.port = None;
    }

    fn pause(&mut self, wait: Duration) {
        std::thread::sleep(wait);
    }

    fn draw(&mut self) -> Result<[u8; NONCE_BYTES], Failed> {
        let mut number = [0; NONCE_BYTES];
        getrandom::fill(&mut number)
            .map_err(|_| Failed::Port("the system gives no random numbers".to_owned()))?;
        Ok(number)
    }
}
