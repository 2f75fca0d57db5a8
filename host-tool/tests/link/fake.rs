//! A device for tests that knows the protocol and nothing else: no furnace, no flash, no clock.

use std::collections::VecDeque;
use std::time::Duration;

use saggar::link::Frames;
use saggar_core::programme::DIGEST_BYTES;
use saggar_core::wire::seal::{Key, Seal};
use saggar_core::wire::{
    Answer, Ask, Body, FRAME_BYTES_MAX, Hello, Kind, NONCE_BYTES, Order, Refusal, Status, Tell,
    enclose, open, open_sealed,
};
use sha2::{Digest as _, Sha256};

/// The device.
pub(crate) struct Fake {
    pub(crate) key: Key,
    pub(crate) furnace: Vec<u8>,
    pub(crate) programme: Vec<u8>,
    /// Time that an erase takes.
    pub(crate) erase: Duration,
    pub(crate) window: u8,
    /// Programmes that became the active one.
    pub(crate) commits: u32,
    pub(crate) status: Status,
    frames: Frames,
    boots: u32,
    seal: Option<Seal>,
    expected: u32,
    last: Option<Answer>,
    staged: Vec<u8>,
    announced: [u8; DIGEST_BYTES],
    out: VecDeque<(Duration, Vec<u8>)>,
}

impl Fake {
    pub(crate) fn new(key: Key, furnace: Vec<u8>) -> Self {
        Self {
            key,
            furnace,
            programme: Vec::new(),
            erase: Duration::from_millis(1500),
            window: 4,
            commits: 0,
            status: Status::default(),
            frames: Frames::default(),
            boots: 7,
            seal: None,
            expected: 0,
            last: None,
            staged: Vec::new(),
            announced: [0; DIGEST_BYTES],
            out: VecDeque::new(),
        }
    }

    /// Takes bytes off the line.
    pub(crate) fn receive(&mut self, now: Duration, bytes: &[u8]) {
        let mut whole = Vec::new();
        self.frames.push(bytes, |frame| whole.push(frame.to_vec()));
        for mut frame in whole {
            if let Ok(body) = open(&mut frame) {
                match body.kind {
                    Kind::Ask => self.asked(now, &body),
                    Kind::Order => self.ordered(now, &body),
                    Kind::Tell | Kind::Answer => {}
                }
            }
        }
    }

    /// The next frame that goes out, if its time has come.
    pub(crate) fn transmit(&mut self, now: Duration) -> Option<Vec<u8>> {
        let due = self.out.front().is_some_and(|(at, _)| *at <= now);
        due.then(|| self.out.pop_front().map(|(_, frame)| frame)).flatten()
    }

    /// When the next frame goes out.
    pub(crate) fn wake(&self) -> Option<Duration> {
        self.out.front().map(|(at, _)| *at)
    }

    fn asked(&mut self, now: Duration, body: &Body<'_>) {
        let tell = match body.message::<Ask>() {
            Ok(Ask::Hello { nonce }) => {
                let own = [self.boots as u8; NONCE_BYTES];
                self.boots += 1;
                self.seal = Some(self.key.session(b"kiln-7\0\0", &own, &nonce));
                (self.expected, self.last) = (0, None);
                Tell::Hello(self.hello(own))
            }
            Ok(Ask::Status) => Tell::Status(self.status),
            Ok(Ask::Log { .. }) => Tell::Log { next: 0, lines: heapless::Vec::new() },
            Ok(Ask::Follow(_) | Ask::Programme { .. } | Ask::Furnace { .. }) => return,
            Err(_) => Tell::Refused(Refusal::Unknown),
        };
        self.tell(now, &tell);
    }

    fn hello(&self, nonce: [u8; NONCE_BYTES]) -> Hello {
        let programme = Sha256::digest(&self.programme).into();
        Hello {
            device: *b"kiln-7\0\0",
            nonce,
            has_key: true,
            version: [0, 1, 0],
            boot: self.boots,
            furnace: Sha256::digest(&self.furnace).into(),
            programme: (!self.programme.is_empty()).then_some(programme),
            window: self.window,
        }
    }

    fn ordered(&mut self, now: Duration, body: &Body<'_>) {
        let Some(seal) = self.seal.clone() else {
            return self.tell(now, &Tell::Refused(Refusal::NoSession));
        };
        let Ok((sequence, order)) = open_sealed::<Order<'_>>(body, &seal) else {
            return self.tell(now, &Tell::Refused(Refusal::WrongSeal));
        };
        if sequence > self.expected {
            let answer = Answer::Expected { sequence: self.expected };
            return self.answer(now, self.expected.wrapping_sub(1), answer, &seal);
        }
        let mut at = now;
        if sequence == self.expected {
            if matches!(order, Order::Begin { .. }) {
                at += self.erase;
            }
            let answer = self.done(&order);
            self.last = Some(answer);
            self.expected += 1;
        }
        if let Some(answer) = self.last {
            self.answer(at, self.expected - 1, answer, &seal);
        }
    }

    fn done(&mut self, order: &Order<'_>) -> Answer {
        match *order {
            Order::Begin { digest, .. } => {
                self.staged.clear();
                self.announced = digest;
                Answer::Begun
            }
            Order::Chunk { offset, data } if usize::from(offset) == self.staged.len() => {
                self.staged.extend_from_slice(data);
                Answer::Staged { bytes: self.staged.len() as u16 }
            }
            Order::Chunk { .. } => Answer::Refused(Refusal::OutOfPlace),
            Order::Commit { digest } => {
                let found: [u8; DIGEST_BYTES] = Sha256::digest(&self.staged).into();
                assert!(found == digest && found == self.announced, "other bytes arrived");
                self.programme = std::mem::take(&mut self.staged);
                self.commits += 1;
                Answer::Committed { digest }
            }
            Order::Stop => Answer::Stopping,
        }
    }

    fn tell(&mut self, at: Duration, tell: &Tell<'_>) {
        let mut frame = [0; FRAME_BYTES_MAX];
        let bytes = enclose(Kind::Tell, None, tell, &mut frame).expect("fits");
        self.out.push_back((at, frame[..bytes].to_vec()));
    }

    fn answer(&mut self, at: Duration, sequence: u32, answer: Answer, seal: &Seal) {
        let mut frame = [0; FRAME_BYTES_MAX];
        let sealed = Some((sequence, seal));
        let bytes = enclose(Kind::Answer, sealed, &answer, &mut frame).expect("fits");
        self.out.push_back((at, frame[..bytes].to_vec()));
    }
}
