//! Runs transactions over a port. Nothing else in this module waits.

use std::time::{Duration, Instant};

use saggar_device::wire::{FRAME_BYTES_MAX, FrameBody, FrameError, NONCE_BYTES, decode_frame};

use super::port::{Port, PortConfig};
use super::{FrameAssembler, Link, LinkError, Transaction};

/// Longest wait for bytes before the transaction is polled again.
const READ_WAIT_MAX: Duration = Duration::from_millis(50);

/// Time to wait for input that is left over from before the port was opened.
const STALE_INPUT_WAIT: Duration = Duration::from_millis(30);

/// Reads after a failed write, to fetch what had arrived before: more than any system buffers.
const FINAL_READS_MAX: u32 = 1024;

/// A link to a device through a port.
pub struct PortLink {
    config: PortConfig,
    /// `None` while closed.
    port: Option<Port>,
    frames: FrameAssembler,
    created: Instant,
    broken_frames: u32,
}

impl PortLink {
    /// A link that opens this port when it is needed.
    pub fn new(config: &PortConfig) -> Self {
        Self {
            config: config.clone(),
            port: None,
            frames: FrameAssembler::default(),
            created: Instant::now(),
            broken_frames: 0,
        }
    }

    /// Opens the port if it is closed, and discards input that was meant for someone else.
    fn port(&mut self) -> Result<&mut Port, LinkError> {
        if self.port.is_none() {
            let mut port = Port::open(&self.config)?;
            let mut buffer = [0; 4096];
            // A limit, because a subscribed device never stops sending.
            for _ in 0..8 {
                if port.read(&mut buffer, STALE_INPUT_WAIT)? == 0 {
                    break;
                }
            }
            port.write(&[0])?;
            self.frames = FrameAssembler::default();
            self.port = Some(port);
        }
        self.port.as_mut().ok_or_else(|| LinkError::Port("the port is closed".to_owned()))
    }

    /// Reads once, and calls `take` with every intact frame. Returns whether anything came.
    fn receive(
        &mut self,
        wait: Duration,
        mut take: impl FnMut(Duration, &FrameBody<'_>),
    ) -> Result<bool, LinkError> {
        let mut buffer = [0; 4096];
        let read = self.port()?.read(&mut buffer, wait)?;
        let now = self.created.elapsed();
        let mut other = None;
        let (broken, oversized_before) = (&mut self.broken_frames, self.frames.oversized);
        self.frames.push(buffer.get(..read).unwrap_or(&buffer), |frame| {
            match decode_frame(frame) {
                Ok(body) => take(now, &body),
                Err(FrameError::OtherProtocol(version)) => other = Some(version),
                Err(FrameError::Corrupt | FrameError::Unreadable) => {
                    *broken = broken.saturating_add(1)
                }
            }
        });
        self.broken_frames = self
            .broken_frames
            .saturating_add(self.frames.oversized.wrapping_sub(oversized_before));
        other.map_or(Ok(read > 0), |version| Err(LinkError::ProtocolVersion(version)))
    }
}

impl Link for PortLink {
    fn now(&self) -> Duration {
        self.created.elapsed()
    }

    fn run<T: Transaction>(&mut self, transaction: &mut T) -> Result<T::Output, LinkError> {
        let mut frame = [0; FRAME_BYTES_MAX];
        let broken_before = self.broken_frames;
        self.port()?;
        loop {
            let now = self.now();
            while let Some(bytes) = transaction.transmit(now, &mut frame) {
                let written = self.port()?.write(frame.get(..bytes).unwrap_or(&frame));
                if let Err(lost) = written {
                    // What the device sent before the connection broke has arrived, and counts.
                    let mut take = |now, body: &FrameBody<'_>| transaction.receive(now, body);
                    let mut left = FINAL_READS_MAX;
                    while left > 0 && self.receive(Duration::ZERO, &mut take).unwrap_or(false) {
                        left -= 1;
                    }
                    return transaction.take_result().unwrap_or(Err(lost));
                }
            }
            if let Some(outcome) = transaction.take_result() {
                let broken = self.broken_frames.wrapping_sub(broken_before);
                return outcome.map_err(|failed| failed.with_broken_frames(broken));
            }
            let wait = transaction.poll_at().saturating_sub(now).min(READ_WAIT_MAX);
            self.receive(wait, |now, body| transaction.receive(now, body))?;
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
