//! A device for tests that knows the protocol and nothing else: no furnace, no flash, no clock. Its
//! sessions are those of a real one.

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

use crate::telling::Telling;

/// The device.
pub(crate) struct Fake {
    pub(crate) furnace: Vec<u8>,
    pub(crate) programme: Vec<u8>,
    /// Time that an erase takes.
    pub(crate) erase: Duration,
    pub(crate) window: u8,
    /// Programmes that became the active one.
    pub(crate) commits: u32,
    /// Stops that were obeyed.
    pub(crate) stops: u32,
    /// Refuses the last order of an upload, after it has been done.
    pub(crate) refuses_what_it_did: bool,
    /// So many strangers greet behind a greeting of the desk with a number that it has just drawn.
    pub(crate) strangers: u8,
    /// And behind one that it says again right before its first order.
    pub(crate) relentless: bool,
    pub(crate) telling: Telling,
    greeted: [u8; NONCE_BYTES],
    key: DeviceKey,
    frames: FrameAssembler,
    boot: u32,
    sessions: Sessions,
    last: Option<Answer>,
    staged: Vec<u8>,
    announced: [u8; DIGEST_BYTES],
    out: VecDeque<(Duration, Vec<u8>)>,
}

impl Fake {
    pub(crate) fn new(key: DeviceKey, furnace: Vec<u8>) -> Self {
        Self {
            furnace,
            programme: Vec::new(),
            erase: Duration::from_millis(1500),
            window: 4,
            commits: 0,
            stops: 0,
            refuses_what_it_did: false,
            strangers: 0,
            telling: Telling::default(),
            relentless: false,
            greeted: [0; NONCE_BYTES],
            frames: FrameAssembler::default(),
            boot: 7,
            sessions: sessions(&key, 7),
            key,
            last: None,
            staged: Vec::new(),
            announced: [0; DIGEST_BYTES],
            out: VecDeque::new(),
        }
    }

    /// The power goes and comes back: what is in flash stays.
    pub(crate) fn reboot(&mut self, now: Duration) {
        self.boot += 1;
        self.telling.reboot(now);
        self.sessions = sessions(&self.key, self.boot);
        self.frames = FrameAssembler::default();
        self.last = None;
        self.staged.clear();
        self.out.clear();
    }

    /// Nobody hears what it was about to say.
    pub(crate) fn unplug(&mut self) {
        self.out.clear();
    }

    /// Takes bytes off the line.
    pub(crate) fn receive(&mut self, now: Duration, bytes: &[u8]) {
        let mut whole = Vec::new();
        self.frames.push(bytes, |frame| whole.push(frame.to_vec()));
        for mut frame in whole {
            if let Ok(body) = decode_frame(&mut frame) {
                match body.kind {
                    FrameKind::Query => self.asked(now, &body),
                    FrameKind::Order => self.ordered(now, &body),
                    FrameKind::Notice | FrameKind::Answer => {}
                }
            }
        }
    }

    /// The next frame that goes out, if its time has come.
    pub(crate) fn transmit(&mut self, now: Duration) -> Option<Vec<u8>> {
        let told = self.telling.frames(now);
        self.out.extend(told.into_iter().map(|frame| (now, frame)));
        let due = self.out.front().is_some_and(|(at, _)| *at <= now);
        due.then(|| self.out.pop_front().map(|(_, frame)| frame)).flatten()
    }

    /// When the next frame goes out.
    pub(crate) fn wake(&self) -> Option<Duration> {
        let out = self.out.front().map(|(at, _)| *at);
        out.into_iter().chain(self.telling.wake()).min()
    }

    fn asked(&mut self, now: Duration, body: &FrameBody<'_>) {
        self.telling.asked(now, None);
        let tell = match body.message::<Query>() {
            Ok(Query::Hello { nonce }) => {
                let own = self.sessions.offer(instant(now), &nonce);
                let again = std::mem::replace(&mut self.greeted, nonce) == nonce;
                let strangers = if again && !self.relentless { 0 } else { self.strangers };
                for stranger in 1..=strangers {
                    self.sessions.offer(instant(now), &[stranger; NONCE_BYTES]);
                }
                Notice::Hello(self.hello(own))
            }
            Ok(Query::Status) => Notice::Status(self.telling.status(now)),
            Ok(Query::Subscribe(follow)) => {
                self.telling.asked(now, Some(follow));
                Notice::Status(self.telling.status(now))
            }
            Ok(Query::Log { .. }) => Notice::Log { next: 0, lines: heapless::Vec::new() },
            Ok(Query::Programme { offset }) => {
                let programme = self.programme.clone();
                return self.tell(now, &Notice::Programme(piece(&programme, offset)));
            }
            Ok(Query::Furnace { offset }) => {
                let furnace = self.furnace.clone();
                return self.tell(now, &Notice::Furnace(piece(&furnace, offset)));
            }
            Err(_) => Notice::Refused(Refusal::Unreadable),
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
            boot: self.boot,
            furnace: Sha256::digest(&self.furnace).into(),
            programme: (!self.programme.is_empty()).then_some(programme),
            window: self.window,
        }
    }

    fn ordered(&mut self, now: Duration, body: &FrameBody<'_>) {
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
                let answer = self.done(&order);
                self.last = Some(answer);
                answer
            }
            OrderCheck::Repeat => match self.last {
                Some(answer) => answer,
                None => return,
            },
            OrderCheck::Gap(sequence) => Answer::Expected { sequence },
            OrderCheck::Refused(why) => return self.tell(now, &Notice::Refused(why)),
            OrderCheck::LockOut(seconds) => {
                return self.tell(now, &Notice::Refused(Refusal::LockedOut(seconds)));
            }
        };
        self.answer(at, answer);
    }

    fn done(&mut self, order: &Order<'_>) -> Answer {
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
                if self.refuses_what_it_did {
                    return Answer::Refused(Refusal::FlashFailed);
                }
                Answer::Committed { digest }
            }
            // Nothing here is confirmed by anybody: there is no code to agree on.
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

    fn tell(&mut self, at: Duration, tell: &Notice<'_>) {
        let mut frame = [0; FRAME_BYTES_MAX];
        let bytes = encode_frame(FrameKind::Notice, None, tell, &mut frame).expect("fits");
        self.out.push_back((at, frame[..bytes].to_vec()));
    }

    fn answer(&mut self, at: Duration, answer: Answer) {
        let mut frame = [0; FRAME_BYTES_MAX];
        let sealed = self.sessions.answering();
        let bytes = encode_frame(FrameKind::Answer, sealed, &answer, &mut frame).expect("fits");
        self.out.push_back((at, frame[..bytes].to_vec()));
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

fn piece(whole: &[u8], offset: u16) -> Chunk<'_> {
    let rest = whole.get(usize::from(offset)..).unwrap_or(&[]);
    let data = rest.get(..CHUNK_BYTES).unwrap_or(rest);
    Chunk { offset, total: whole.len() as u16, data }
}
