//! A fake device that speaks the protocol, but has no furnace, flash or clock. Its sessions are a
//! real device's.

use std::collections::VecDeque;
use std::time::Duration;

use saggar_client::link::FrameAssembler;
use saggar_core::programme::DIGEST_BYTES;
use saggar_core::units::Instant;
use saggar_device::link::{Identity, OrderCheck, Sessions};
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{
    Answer, CHUNK_BYTES, Chunk, FRAME_BYTES_MAX, FrameBody, FrameKind, Hello, NONCE_BYTES,
    Notice, Order, Query, Refusal, decode_frame, encode_frame,
};
use sha2::{Digest as _, Sha256};

use crate::updates::Updates;

/// The fake device.
pub(crate) struct FakeDevice {
    pub(crate) furnace: Vec<u8>,
    pub(crate) programme: Vec<u8>,
    /// Time that an erase takes.
    pub(crate) erase: Duration,
    pub(crate) window: u8,
    /// Number of programmes that became active.
    pub(crate) commits: u32,
    /// Number of stops carried out.
    pub(crate) stops: u32,
    /// Refuses the last order of an upload after it has carried it out.
    pub(crate) refuses_after_commit: bool,
    /// Number of hellos of other clients that arrive after a hello with a new nonce.
    pub(crate) other_hellos: u8,
    /// They arrive also after the repeated hello right before the first order.
    pub(crate) displace_repeated_hello: bool,
    pub(crate) updates: Updates,
    last_nonce: [u8; NONCE_BYTES],
    key: DeviceKey,
    frames: FrameAssembler,
    boot: u32,
    sessions: Sessions,
    last: Option<Answer>,
    staged: Vec<u8>,
    announced: [u8; DIGEST_BYTES],
    outgoing: VecDeque<(Duration, Vec<u8>)>,
}

impl FakeDevice {
    pub(crate) fn new(key: DeviceKey, furnace: Vec<u8>) -> Self {
        Self {
            furnace,
            programme: Vec::new(),
            erase: Duration::from_millis(1500),
            window: 4,
            commits: 0,
            stops: 0,
            refuses_after_commit: false,
            other_hellos: 0,
            updates: Updates::default(),
            displace_repeated_hello: false,
            last_nonce: [0; NONCE_BYTES],
            frames: FrameAssembler::default(),
            boot: 7,
            sessions: sessions(&key, 7),
            key,
            last: None,
            staged: Vec::new(),
            announced: [0; DIGEST_BYTES],
            outgoing: VecDeque::new(),
        }
    }

    /// Restarts; only the flash survives.
    pub(crate) fn reboot(&mut self, now: Duration) {
        self.boot += 1;
        self.updates.reboot(now);
        self.sessions = sessions(&self.key, self.boot);
        self.frames = FrameAssembler::default();
        self.last = None;
        self.staged.clear();
        self.outgoing.clear();
    }

    /// Drops the frames that are still to be sent.
    pub(crate) fn unplug(&mut self) {
        self.outgoing.clear();
    }

    /// Receives bytes.
    pub(crate) fn receive(&mut self, now: Duration, bytes: &[u8]) {
        let mut frames = Vec::new();
        self.frames.push(bytes, |frame| frames.push(frame.to_vec()));
        for mut frame in frames {
            if let Ok(body) = decode_frame(&mut frame) {
                match body.kind {
                    FrameKind::Query => self.on_query(now, &body),
                    FrameKind::Order => self.on_order(now, &body),
                    FrameKind::Notice | FrameKind::Answer => {}
                }
            }
        }
    }

    /// The next frame to send, if it is due.
    pub(crate) fn transmit(&mut self, now: Duration) -> Option<Vec<u8>> {
        let updates = self.updates.frames(now);
        self.outgoing.extend(updates.into_iter().map(|frame| (now, frame)));
        let due = self.outgoing.front().is_some_and(|(at, _)| *at <= now);
        due.then(|| self.outgoing.pop_front().map(|(_, frame)| frame)).flatten()
    }

    /// When the next frame is due.
    pub(crate) fn wake_at(&self) -> Option<Duration> {
        let first = self.outgoing.front().map(|(at, _)| *at);
        first.into_iter().chain(self.updates.wake_at()).min()
    }

    fn on_query(&mut self, now: Duration, body: &FrameBody<'_>) {
        self.updates.on_query(now, None);
        let notice = match body.message::<Query>() {
            Ok(Query::Hello { nonce }) => {
                let device_nonce = self.sessions.offer(instant(now), &nonce);
                let again = std::mem::replace(&mut self.last_nonce, nonce) == nonce;
                let other_hellos =
                    if again && !self.displace_repeated_hello { 0 } else { self.other_hellos };
                for number in 1..=other_hellos {
                    self.sessions.offer(instant(now), &[number; NONCE_BYTES]);
                }
                Notice::Hello(self.hello(device_nonce))
            }
            Ok(Query::Status) => Notice::Status(self.updates.status(now)),
            Ok(Query::Subscribe(follow)) => {
                self.updates.on_query(now, Some(follow));
                Notice::Status(self.updates.status(now))
            }
            Ok(Query::Log { .. }) => Notice::Log { next: 0, entries: heapless::Vec::new() },
            Ok(Query::Programme { offset }) => {
                let programme = self.programme.clone();
                return self.send_notice(now, &Notice::Programme(chunk(&programme, offset)));
            }
            Ok(Query::Furnace { offset }) => {
                let furnace = self.furnace.clone();
                return self.send_notice(now, &Notice::Furnace(chunk(&furnace, offset)));
            }
            Err(_) => Notice::Refused(Refusal::Unreadable),
        };
        self.send_notice(now, &notice);
    }

    fn hello(&self, nonce: [u8; NONCE_BYTES]) -> Hello {
        let programme = Sha256::digest(&self.programme).into();
        Hello {
            device: *b"kiln-7\0\0",
            nonce,
            has_key: true,
            version: [0, 1, 0],
            boot: self.boot,
            furnace: Sha256::digest(&self.furnace).into(),
            programme: (!self.programme.is_empty()).then_some(programme),
            window: self.window,
        }
    }

    fn on_order(&mut self, now: Duration, body: &FrameBody<'_>) {
        let mut at = now;
        let answer = match self.sessions.check_order(instant(now), body) {
            OrderCheck::New(order, first) => {
                if first {
                    self.staged.clear();
                    self.announced = [0; DIGEST_BYTES];
                }
                if matches!(order, Order::Begin { .. }) {
                    at += self.erase;
                }
                let answer = self.execute(&order);
                self.last = Some(answer);
                answer
            }
            OrderCheck::Repeat => match self.last {
                Some(answer) => answer,
                None => return,
            },
            OrderCheck::Gap(sequence) => Answer::Expected { sequence },
            OrderCheck::Refused(why) => return self.send_notice(now, &Notice::Refused(why)),
            OrderCheck::LockOut(seconds) => {
                return self.send_notice(now, &Notice::Refused(Refusal::LockedOut(seconds)));
            }
        };
        self.send_answer(at, answer);
    }

    fn execute(&mut self, order: &Order<'_>) -> Answer {
        match *order {
            Order::Begin { digest, .. } => {
                self.staged.clear();
                self.announced = digest;
                Answer::Begun
            }
            Order::Chunk { offset, data }
                if usize::from(offset) == self.staged.len() && !data.is_empty() =>
            {
                self.staged.extend_from_slice(data);
                Answer::Staged { bytes: self.staged.len() as u16 }
            }
            Order::Commit { digest } if self.announced == digest => {
                let found: [u8; DIGEST_BYTES] = Sha256::digest(&self.staged).into();
                assert!(found == digest, "other bytes arrived");
                self.programme = std::mem::take(&mut self.staged);
                self.announced = [0; DIGEST_BYTES];
                self.commits += 1;
                if self.refuses_after_commit {
                    return Answer::Refused(Refusal::FlashFailed);
                }
                Answer::Committed { digest }
            }
            // The fake device has no confirmation code, so it needs no pledge.
            Order::Chunk { .. }
            | Order::Commit { .. }
            | Order::Pledge { .. }
            | Order::Reveal { .. } => Answer::Refused(Refusal::OutOfOrder),
            Order::Stop => {
                self.stops += 1;
                Answer::Stopping
            }
        }
    }

    fn send_notice(&mut self, at: Duration, notice: &Notice<'_>) {
        let mut frame = [0; FRAME_BYTES_MAX];
        let bytes = encode_frame(FrameKind::Notice, None, notice, &mut frame).expect("fits");
        self.outgoing.push_back((at, frame[..bytes].to_vec()));
    }

    fn send_answer(&mut self, at: Duration, answer: Answer) {
        let mut frame = [0; FRAME_BYTES_MAX];
        let sealed = self.sessions.answering();
        let bytes = encode_frame(FrameKind::Answer, sealed, &answer, &mut frame).expect("fits");
        self.outgoing.push_back((at, frame[..bytes].to_vec()));
    }
}

fn sessions(key: &DeviceKey, boot: u32) -> Sessions {
    Sessions::new(Identity {
        id: *b"kiln-7\0\0",
        key: Some(key.clone()),
        salt: [4; 16],
        boot: Some(boot),
    })
}

fn instant(now: Duration) -> Instant {
    Instant::from_millis(now.as_millis() as u64)
}

fn chunk(all: &[u8], offset: u16) -> Chunk<'_> {
    let rest = all.get(usize::from(offset)..).unwrap_or(&[]);
    let data = rest.get(..CHUNK_BYTES).unwrap_or(rest);
    Chunk { offset, total: all.len() as u16, data }
}
