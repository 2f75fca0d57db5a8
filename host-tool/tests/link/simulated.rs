//! The line: two ways, each with a rate, a latency, and what it does to bytes.

use std::time::Duration;

use saggar::link::{Exchange, Failed, Frames, Orders, Pace, Question, Session, Task};
use saggar_core::wire::seal::{KEY_BYTES, Key};
use saggar_core::wire::{Answer, Ask, FRAME_BYTES_MAX, NONCE_BYTES, Refusal, Tell, open};

use crate::fake::Fake;

/// Bytes a second of a line of 115,200 bit/s: ten bits a byte.
pub(crate) const RATE: f64 = 11_520.0;

/// No test takes longer, in the line's own time.
const LONGEST: Duration = Duration::from_secs(600);

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
    harm: Harm,
    free_at: Duration,
    under_way: Vec<(Duration, Vec<u8>)>,
}

impl Way {
    fn send(&mut self, now: Duration, frame: &[u8], dice: &mut Dice) -> (Duration, Duration) {
        let start = self.free_at.max(now);
        self.free_at = start + Duration::from_secs_f64(frame.len() as f64 / RATE);
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

/// A line with a device at its end.
pub(crate) struct Simulated {
    pub(crate) now: Duration,
    pub(crate) fake: Fake,
    /// When each piece of a programme began and ended to be sent, and its bytes.
    pub(crate) pieces: Vec<(Duration, Duration, usize)>,
    dice: Dice,
    there: Way,
    back: Way,
    frames: Frames,
}

impl Simulated {
    pub(crate) fn new(latency: Duration, harm: Harm, seed: u64) -> Self {
        let way = || Way { latency, harm, free_at: Duration::ZERO, under_way: Vec::new() };
        Self {
            now: Duration::ZERO,
            fake: Fake::new(key(), vec![3; 700]),
            pieces: Vec::new(),
            dice: Dice(seed),
            there: way(),
            back: way(),
            frames: Frames::default(),
        }
    }

    /// Runs an exchange to its end.
    pub(crate) fn run<E: Exchange>(&mut self, exchange: &mut E) -> Result<E::Output, Failed> {
        let mut frame = [0; FRAME_BYTES_MAX];
        loop {
            while let Some(bytes) = exchange.transmit(self.now, &mut frame) {
                let sent = self.there.send(self.now, &frame[..bytes], &mut self.dice);
                if is_piece(&frame[..bytes - 1]) {
                    self.pieces.push((sent.0, sent.1, bytes));
                }
            }
            if let Some(outcome) = exchange.outcome() {
                return outcome;
            }
            while let Some(bytes) = self.there.arrived(self.now) {
                self.fake.receive(self.now, &bytes);
            }
            while let Some(frame) = self.fake.transmit(self.now) {
                self.back.send(self.now, &frame, &mut self.dice);
            }
            let mut heard = false;
            while let Some(bytes) = self.back.arrived(self.now) {
                heard = true;
                self.frames.push(&bytes, |frame| {
                    if let Ok(body) = open(frame) {
                        exchange.receive(self.now, &body);
                    }
                });
            }
            if !heard {
                let ways = [&self.there, &self.back].into_iter();
                let next = ways.filter_map(|way| Some(way.under_way.first()?.0));
                let next = next.chain(self.fake.wake()).chain([exchange.wake()]);
                let step = Duration::from_micros(1);
                self.now = next.filter(|at| *at > self.now).min().unwrap_or(self.now + step);
                assert!(self.now < LONGEST, "the exchange does not end");
            }
        }
    }

    /// Greets and uploads; once more if a greeting was said twice, as `Desk::order` does.
    pub(crate) fn upload(
        &mut self,
        programme: &[u8],
        key: &Key,
    ) -> Result<(Answer, u32), Failed> {
        match self.upload_once(programme, key) {
            Err(Failed::Refused(Refusal::WrongSeal)) => self.upload_once(programme, key),
            other => other,
        }
    }

    fn upload_once(&mut self, programme: &[u8], key: &Key) -> Result<(Answer, u32), Failed> {
        let pace = Pace::at(115_200);
        let desk = [9; NONCE_BYTES];
        let hello = |tell: &Tell<'_>| match tell {
            Tell::Hello(hello) => Some(*hello),
            Tell::Status(_)
            | Tell::Origin(_)
            | Tell::Tick(_)
            | Tell::Log { .. }
            | Tell::Programme(_)
            | Tell::Furnace(_)
            | Tell::Refused(_) => None,
        };
        let mut question = Question::new(Ask::Hello { nonce: desk }, pace, hello);
        let hello = self.run(&mut question)?;
        let session = Session::of(&hello, &desk, key)?;
        let task = Task::Upload { programme, furnace: hello.furnace };
        let mut orders = Orders::new(session, task, pace).unwrap();
        let answer = self.run(&mut orders)?;
        Ok((answer, orders.again))
    }
}

/// The key of the device.
pub(crate) fn key() -> Key {
    Key::new(std::array::from_fn::<u8, KEY_BYTES, _>(|i| i as u8)).unwrap()
}

/// The frame carries a piece of a programme: its order is the second.
fn is_piece(frame: &[u8]) -> bool {
    let mut frame = frame.to_vec();
    open(&mut frame).is_ok_and(|body| body.rest.get(4) == Some(&1))
}
