//! Runs exchanges over a port: the only part that waits.

use std::time::{Duration, Instant};

use saggar_device::wire::{FRAME_BYTES_MAX, FrameBody, FrameError, NONCE_BYTES, decode_frame};

use super::port::{Port, PortConfig};
use super::{FrameAssembler, Link, LinkError, Transaction};

/// Longest wait for bytes before something else is looked at.
const READ_WAIT_MAX: Duration = Duration::from_millis(50);

/// Time in which a line gives away what it still held from before.
const STALE_INPUT_WAIT: Duration = Duration::from_millis(30);

/// Reads of what had arrived when a line failed: more than any system holds back.
const FINAL_READS_MAX: u32 = 1024;

/// A port with a device at its end.
pub struct PortLink {
    config: PortConfig,
    /// Closed until something is to be said.
    port: Option<Port>,
    frames: FrameAssembler,
    created: Instant,
    broken_frames: u32,
}

impl PortLink {
    /// A line to this place, closed.
    pub fn new(at: &PortConfig) -> Self {
        Self {
            config: at.clone(),
            port: None,
            frames: FrameAssembler::default(),
            created: Instant::now(),
            broken_frames: 0,
        }
    }

    /// Opens the port if it is closed, and clears the line: what was under way is not ours.
    fn port(&mut self) -> Result<&mut Port, LinkError> {
        if self.port.is_none() {
            let mut port = Port::open(&self.config)?;
            let mut room = [0; 4096];
            // A device that talks on and on is heard later.
            for _ in 0..8 {
                if port.read(&mut room, STALE_INPUT_WAIT)? == 0 {
                    break;
                }
            }
            port.write(&[0])?;
            self.frames = FrameAssembler::default();
            self.port = Some(port);
        }
        self.port.as_mut().ok_or_else(|| LinkError::Port("the line is closed".to_owned()))
    }

    /// Reads once, and hands on every frame that is whole; whether anything came.
    fn receive(
        &mut self,
        wait: Duration,
        mut take: impl FnMut(Duration, &FrameBody<'_>),
    ) -> Result<bool, LinkError> {
        let mut room = [0; 4096];
        let read = self.port()?.read(&mut room, wait)?;
        let now = self.created.elapsed();
        let mut other = None;
        let (noise, torn) = (&mut self.broken_frames, self.frames.oversized);
        self.frames.push(room.get(..read).unwrap_or(&room), |frame| {
            match decode_frame(frame) {
                Ok(body) => take(now, &body),
                Err(FrameError::OtherProtocol(version)) => other = Some(version),
                Err(FrameError::Corrupt | FrameError::Unreadable) => {
                    *noise = noise.saturating_add(1)
                }
            }
        });
        self.broken_frames =
            self.broken_frames.saturating_add(self.frames.oversized.wrapping_sub(torn));
        other.map_or(Ok(read > 0), |version| Err(LinkError::ProtocolVersion(version)))
    }
}

impl Link for PortLink {
    fn now(&self) -> Duration {
        self.created.elapsed()
    }

    fn run<E: Transaction>(&mut self, exchange: &mut E) -> Result<E::Output, LinkError> {
        let mut frame = [0; FRAME_BYTES_MAX];
        let noise_before = self.broken_frames;
        self.port()?;
        loop {
            let now = self.now();
            while let Some(bytes) = exchange.transmit(now, &mut frame) {
                let written = self.port()?.write(frame.get(..bytes).unwrap_or(&frame));
                if let Err(gone) = written {
                    // What the other end said before it went has arrived, and counts.
                    let mut take = |now, body: &FrameBody<'_>| exchange.receive(now, body);
                    let mut left = FINAL_READS_MAX;
                    while left > 0 && self.receive(Duration::ZERO, &mut take).unwrap_or(false) {
                        left -= 1;
                    }
                    return exchange.take_result().unwrap_or(Err(gone));
                }
            }
            if let Some(outcome) = exchange.take_result() {
                let noise = self.broken_frames.wrapping_sub(noise_before);
                return outcome.map_err(|failed| failed.with_broken_frames(noise));
            }
            let wait = exchange.poll_at().saturating_sub(now).min(READ_WAIT_MAX);
            self.receive(wait, |now, body| exchange.receive(now, body))?;
        }
    }

    fn close(&mut self) {
        self.port = None;
    }

    fn sleep(&mut self, wait: Duration) {
        std::thread::sleep(wait);
    }

    fn random_nonce(&mut self) -> Result<[u8; NONCE_BYTES], LinkError> {
        let mut number = [0; NONCE_BYTES];
        getrandom::fill(&mut number)
            .map_err(|_| LinkError::Port("the system gives no random numbers".to_owned()))?;
        Ok(number)
    }
}
