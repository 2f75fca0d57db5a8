//! The line: two ways, each with a rate, a latency, and what it does to bytes.

use std::cell::Cell;
use std::rc::Rc;
use std::time::Duration;

use saggar_client::link::{
    Client, FrameAssembler, Link, LinkError, OrderError, Task, Timeouts, Transaction,
};
use saggar_device::wire::seal::{DeviceKey, KEY_BYTES};
use saggar_device::wire::{Answer, FRAME_BYTES_MAX, FrameKind, NONCE_BYTES, decode_frame};

use crate::fake::Fake;

/// Bytes a second of a line of 115,200 bit/s: ten bits a byte.
pub(crate) const RATE: f64 = 11_520.0;

/// No test takes longer, in the line's own time.
const LONGEST: Duration = Duration::from_secs(6000);

/// What a way does to one frame in so many (0: to none).
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Harm {
    pub(crate) lose: u64,
    pub(crate) double: u64,
    pub(crate) alter: u64,
    pub(crate) drop_byte: u64,
}

/// A sequence of numbers that looks drawn (Marsaglia, J. Stat. Software 8 (2003) issue 14; value
/// from memory). The same seed gives the same line.
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    pub(crate) fn roll(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn hit(&mut self, one_in: u64) -> bool {
        one_in > 0 && self.roll().is_multiple_of(one_in)
    }
}

struct Way {
    latency: Duration,
    /// Bytes a second.
    rate: f64,
    harm: Harm,
    free_at: Duration,
    under_way: Vec<(Duration, Vec<u8>)>,
}

impl Way {
    fn send(&mut self, now: Duration, frame: &[u8], dice: &mut Dice) -> (Duration, Duration) {
        let start = self.free_at.max(now);
        self.free_at = start + Duration::from_secs_f64(frame.len() as f64 / self.rate);
        let mut frame = frame.to_vec();
        let place = (dice.roll() % frame.len() as u64) as usize;
        if dice.hit(self.harm.alter) {
            frame[place] ^= 1 << (dice.roll() % 8);
        }
        if dice.hit(self.harm.drop_byte) {
            frame.remove(place);
        }
        if !dice.hit(self.harm.lose) {
            let copies = if dice.hit(self.harm.double) { 2 } else { 1 };
            for _ in 0..copies {
                self.under_way.push((self.free_at + self.latency, frame.clone()));
            }
        }
        (start, self.free_at)
    }

    fn arrived(&mut self, now: Duration) -> Option<Vec<u8>> {
        let first = self.under_way.first()?;
        (first.0 <= now).then(|| self.under_way.remove(0).1)
    }
}

/// What a line does that is cut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Cut {
    /// After so many frames, both ways together. 0: never.
    pub(crate) after: u32,
    /// The desk is not told: nothing arrives any more.
    pub(crate) silently: bool,
    /// Frames that were on their way to the device arrive in the end, behind so many of the next
    /// connection.
    pub(crate) late: Option<u32>,
    /// The device's power goes with it.
    pub(crate) reboots: bool,
    /// There is no other connection.
    pub(crate) for_good: bool,
}

/// A line with a device at its end.
pub(crate) struct Simulated {
    pub(crate) now: Duration,
    pub(crate) fake: Fake,
    pub(crate) cut: Cut,
    /// The time, for whoever cannot ask the line.
    pub(crate) clock: Rc<Cell<Duration>>,
    /// Frames that were sent, both ways together.
    pub(crate) sent: u32,
    /// Orders that were sent more than once.
    pub(crate) again: u32,
    /// Orders of the session at hand that were sent.
    ordered: u32,
    broken: bool,
    /// Frames of the connection before, and how many go ahead of them.
    late: (u32, Vec<Vec<u8>>),
    /// When each piece of a programme began and ended to be sent, and its bytes.
    pub(crate) pieces: Vec<(Duration, Duration, usize)>,
    dice: Dice,
    there: Way,
    back: Way,
    frames: FrameAssembler,
}

impl Simulated {
    pub(crate) fn new(latency: Duration, harm: Harm, seed: u64) -> Self {
        let way = || Way {
            latency,
            rate: RATE,
            harm,
            free_at: Duration::ZERO,
            under_way: Vec::new(),
        };
        Self {
            now: Duration::ZERO,
            fake: Fake::new(key(), vec![3; 700]),
            cut: Cut::default(),
            clock: Rc::default(),
            sent: 0,
            again: 0,
            ordered: 0,
            broken: false,
            late: (0, Vec::new()),
            pieces: Vec::new(),
            dice: Dice(seed),
            there: way(),
            back: way(),
            frames: FrameAssembler::default(),
        }
    }

    /// The same over a line that carries ten megabytes a second.
    pub(crate) fn quick(mut self) -> Self {
        (self.there.rate, self.back.rate) = (1e7, 1e7);
        self
    }

    /// Greets and uploads.
    pub(crate) fn upload(
        &mut self,
        programme: &[u8],
        key: &DeviceKey,
    ) -> Result<Answer, OrderError> {
        let begun = |why| OrderError { cause: why, last_order_sent: false, refused: false };
        let mut desk = Client::with_link(self, Timeouts::for_baud(115_200)).map_err(begun)?;
        let furnace = desk.hello.furnace;
        desk.order(Task::Upload { programme, furnace }, key)
    }

    /// One frame more was sent; true if that was one too many.
    fn one_more(&mut self) -> bool {
        self.sent += 1;
        if self.sent == self.cut.after {
            self.broken = true;
            let under_way = std::mem::take(&mut self.there.under_way);
            self.back.under_way.clear();
            if let Some(ahead) = self.cut.late {
                self.late = (ahead, under_way.into_iter().map(|(_, frame)| frame).collect());
            }
            if self.cut.reboots {
                self.fake.reboot(self.now);
            } else {
                self.fake.unplug();
            }
        }
        self.broken
    }

    fn desk_sends(&mut self, frame: &[u8]) {
        self.counts(frame);
        let sent = self.there.send(self.now, frame, &mut self.dice);
        if is_piece(&frame[..frame.len() - 1]) {
            self.pieces.push((sent.0, sent.1, frame.len()));
        }
        self.one_more();
    }

    /// Counts orders that are sent again.
    fn counts(&mut self, frame: &[u8]) {
        let mut frame = frame[..frame.len() - 1].to_vec();
        let body = decode_frame(&mut frame).unwrap();
        match body.kind {
            FrameKind::Query => self.ordered = 0,
            FrameKind::Order => {
                let sequence = u32::from_le_bytes(body.rest[..4].try_into().unwrap());
                self.again += u32::from(sequence < self.ordered);
                self.ordered = self.ordered.max(sequence + 1);
            }
            FrameKind::Notice | FrameKind::Answer => {}
        }
    }

    /// What has arrived at the device, and what it says.
    fn device(&mut self) {
        while !self.broken
            && let Some(bytes) = self.there.arrived(self.now)
        {
            if self.late.0 == 0 {
                self.deliver_late();
            }
            self.late.0 = self.late.0.saturating_sub(1);
            self.fake.receive(self.now, &bytes);
        }
        while let Some(frame) = self.fake.transmit(self.now) {
            if !self.broken {
                self.back.send(self.now, &frame, &mut self.dice);
                self.one_more();
            }
        }
    }

    /// Whatever a line held back for so long comes at last.
    pub(crate) fn deliver_late(&mut self) {
        for frame in std::mem::take(&mut self.late.1) {
            self.fake.receive(self.now, &frame);
        }
    }
}

impl Link for &mut Simulated {
    fn now(&self) -> Duration {
        self.now
    }

    fn run<E: Transaction>(&mut self, exchange: &mut E) -> Result<E::Output, LinkError> {
        let mut frame = [0; FRAME_BYTES_MAX];
        loop {
            while (!self.broken || self.cut.silently)
                && let Some(bytes) = exchange.transmit(self.now, &mut frame)
            {
                if !self.broken {
                    self.desk_sends(&frame[..bytes]);
                }
            }
            if let Some(outcome) = exchange.take_result() {
                return outcome;
            }
            self.device();
            if self.broken && !self.cut.silently {
                return Err(LinkError::Port("cut".to_owned()));
            }
            let mut heard = false;
            while let Some(bytes) = self.back.arrived(self.now) {
                heard = true;
                let now = self.now;
                self.frames.push(&bytes, |frame| {
                    if let Ok(body) = decode_frame(frame) {
                        exchange.receive(now, &body);
                    }
                });
            }
            if !heard {
                let ways = [&self.there, &self.back].into_iter();
                let next = ways.filter_map(|way| Some(way.under_way.first()?.0));
                let next = next.chain(self.fake.wake()).chain([exchange.poll_at()]);
                let step = Duration::from_micros(1);
                self.now = next.filter(|at| *at > self.now).min().unwrap_or(self.now + step);
                self.clock.set(self.now);
                assert!(self.now < LONGEST, "the exchange does not end");
            }
        }
    }

    fn close(&mut self) {
        self.there.under_way.clear();
        self.back.under_way.clear();
        self.fake.unplug();
        self.frames = FrameAssembler::default();
        self.broken &= self.cut.for_good;
    }

    fn sleep(&mut self, wait: Duration) {
        self.now += wait;
        self.clock.set(self.now);
    }

    fn random_nonce(&mut self) -> Result<[u8; NONCE_BYTES], LinkError> {
        Ok(std::array::from_fn(|_| self.dice.roll() as u8))
    }
}

/// The key of the device.
pub(crate) fn key() -> DeviceKey {
    DeviceKey::new(std::array::from_fn::<u8, KEY_BYTES, _>(|i| i as u8)).unwrap()
}

/// The frame carries a piece of a programme: its order is the second.
fn is_piece(frame: &[u8]) -> bool {
    let mut frame = frame.to_vec();
    decode_frame(&mut frame).is_ok_and(|body| body.rest.get(4) == Some(&1))
}
