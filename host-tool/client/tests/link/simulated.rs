//! A simulated link: two directions, each with a rate, a latency and impairments.

use std::cell::Cell;
use std::rc::Rc;
use std::time::Duration;

use saggar_client::link::{
    Client, FrameAssembler, Link, LinkError, OrderError, Task, Timeouts, Transaction,
};
use saggar_device::wire::seal::{DeviceKey, KEY_BYTES};
use saggar_device::wire::{Answer, FRAME_BYTES_MAX, FrameKind, NONCE_BYTES, decode_frame};

use crate::fake::FakeDevice;

/// Rate of a link of 115,200 bit/s, with ten bits to a byte (bytes/s).
pub(crate) const RATE: f64 = 11_520.0;

/// Longest simulated time of a test.
const SIMULATED_TIME_MAX: Duration = Duration::from_secs(6000);

/// Impairments of a direction: each affects one frame in this number, on average (0: none).
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Impairment {
    pub(crate) lose: u64,
    pub(crate) double: u64,
    pub(crate) alter: u64,
    pub(crate) drop_byte: u64,
}

/// Pseudo-random numbers (Marsaglia, J. Stat. Software 8 (2003) issue 14; value from memory). The
/// same seed gives the same link.
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

struct Direction {
    latency: Duration,
    /// Bytes/s.
    rate: f64,
    impairment: Impairment,
    /// When the frames so far have been sent.
    free_at: Duration,
    in_flight: Vec<(Duration, Vec<u8>)>,
}

impl Direction {
    /// Sends a frame. Returns when its first byte and its last byte leave.
    fn send(&mut self, now: Duration, frame: &[u8], dice: &mut Dice) -> (Duration, Duration) {
        let start = self.free_at.max(now);
        self.free_at = start + Duration::from_secs_f64(frame.len() as f64 / self.rate);
        let mut frame = frame.to_vec();
        let index = (dice.roll() % frame.len() as u64) as usize;
        if dice.hit(self.impairment.alter) {
            frame[index] ^= 1 << (dice.roll() % 8);
        }
        if dice.hit(self.impairment.drop_byte) {
            frame.remove(index);
        }
        if !dice.hit(self.impairment.lose) {
            let copies = if dice.hit(self.impairment.double) { 2 } else { 1 };
            for _ in 0..copies {
                self.in_flight.push((self.free_at + self.latency, frame.clone()));
            }
        }
        (start, self.free_at)
    }

    fn arrived(&mut self, now: Duration) -> Option<Vec<u8>> {
        let first = self.in_flight.first()?;
        (first.0 <= now).then(|| self.in_flight.remove(0).1)
    }
}

/// How a link is cut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Cut {
    /// After this number of frames, counted in both directions. 0: never.
    pub(crate) after: u32,
    /// The client sees no error; no frames arrive any more.
    pub(crate) silently: bool,
    /// Frames in flight to the device arrive late, after this number of frames of the next
    /// connection.
    pub(crate) late: Option<u32>,
    /// The device restarts at the cut.
    pub(crate) reboots: bool,
    /// No later connection works.
    pub(crate) permanent: bool,
}

/// A link with a device at its end.
pub(crate) struct Simulated {
    pub(crate) now: Duration,
    pub(crate) fake: FakeDevice,
    pub(crate) cut: Cut,
    /// The simulated time, also readable while the link is borrowed.
    pub(crate) clock: Rc<Cell<Duration>>,
    /// Frames that were sent, in both directions.
    pub(crate) sent: u32,
    /// Orders that were sent more than once.
    pub(crate) resent_orders: u32,
    /// Number after the highest order number sent in this session.
    next_order: u32,
    broken: bool,
    /// Late frames of the previous connection, and how many frames arrive before them.
    late: (u32, Vec<Vec<u8>>),
    /// For each chunk of a programme: start and end of sending, and the size of its frame.
    pub(crate) chunks: Vec<(Duration, Duration, usize)>,
    dice: Dice,
    to_device: Direction,
    to_client: Direction,
    frames: FrameAssembler,
}

impl Simulated {
    pub(crate) fn new(latency: Duration, impairment: Impairment, seed: u64) -> Self {
        let direction = || Direction {
            latency,
            rate: RATE,
            impairment,
            free_at: Duration::ZERO,
            in_flight: Vec::new(),
        };
        Self {
            now: Duration::ZERO,
            fake: FakeDevice::new(key(), vec![3; 700]),
            cut: Cut::default(),
            clock: Rc::default(),
            sent: 0,
            resent_orders: 0,
            next_order: 0,
            broken: false,
            late: (0, Vec::new()),
            chunks: Vec::new(),
            dice: Dice(seed),
            to_device: direction(),
            to_client: direction(),
            frames: FrameAssembler::default(),
        }
    }

    /// Sets the rate to 10 MB/s.
    pub(crate) fn fast(mut self) -> Self {
        (self.to_device.rate, self.to_client.rate) = (1e7, 1e7);
        self
    }

    /// Connects and uploads.
    pub(crate) fn upload(
        &mut self,
        programme: &[u8],
        key: &DeviceKey,
    ) -> Result<Answer, OrderError> {
        let connect_error =
            |why| OrderError { cause: why, last_order_sent: false, refused: false };
        let mut client =
            Client::with_link(self, Timeouts::for_baud(115_200)).map_err(connect_error)?;
        let furnace = client.hello.furnace;
        client.order(Task::Upload { programme, furnace }, key)
    }

    /// Counts a frame that was sent, and cuts the link if that is due. Returns whether it is cut.
    fn count_frame(&mut self) -> bool {
        self.sent += 1;
        if self.sent == self.cut.after {
            self.broken = true;
            let in_flight = std::mem::take(&mut self.to_device.in_flight);
            self.to_client.in_flight.clear();
            if let Some(ahead) = self.cut.late {
                self.late = (ahead, in_flight.into_iter().map(|(_, frame)| frame).collect());
            }
            if self.cut.reboots {
                self.fake.reboot(self.now);
            } else {
                self.fake.unplug();
            }
        }
        self.broken
    }

    fn send_to_device(&mut self, frame: &[u8]) {
        self.count_resent(frame);
        let sent = self.to_device.send(self.now, frame, &mut self.dice);
        if is_chunk(&frame[..frame.len() - 1]) {
            self.chunks.push((sent.0, sent.1, frame.len()));
        }
        self.count_frame();
    }

    /// Counts orders that are resent.
    fn count_resent(&mut self, frame: &[u8]) {
        let mut frame = frame[..frame.len() - 1].to_vec();
        let body = decode_frame(&mut frame).unwrap();
        match body.kind {
            FrameKind::Query => self.next_order = 0,
            FrameKind::Order => {
                let sequence = u32::from_le_bytes(body.rest[..4].try_into().unwrap());
                self.resent_orders += u32::from(sequence < self.next_order);
                self.next_order = self.next_order.max(sequence + 1);
            }
            FrameKind::Notice | FrameKind::Answer => {}
        }
    }

    /// Delivers the frames that have arrived at the device, and sends its replies.
    fn run_device(&mut self) {
        while !self.broken
            && let Some(bytes) = self.to_device.arrived(self.now)
        {
            if self.late.0 == 0 {
                self.deliver_late();
            }
            self.late.0 = self.late.0.saturating_sub(1);
            self.fake.receive(self.now, &bytes);
        }
        while let Some(frame) = self.fake.transmit(self.now) {
            if !self.broken {
                self.to_client.send(self.now, &frame, &mut self.dice);
                self.count_frame();
            }
        }
    }

    /// Delivers the late frames.
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

    fn run<E: Transaction>(&mut self, transaction: &mut E) -> Result<E::Output, LinkError> {
        let mut frame = [0; FRAME_BYTES_MAX];
        loop {
            while (!self.broken || self.cut.silently)
                && let Some(bytes) = transaction.transmit(self.now, &mut frame)
            {
                if !self.broken {
                    self.send_to_device(&frame[..bytes]);
                }
            }
            if let Some(outcome) = transaction.take_result() {
                return outcome;
            }
            self.run_device();
            if self.broken && !self.cut.silently {
                return Err(LinkError::Port("cut".to_owned()));
            }
            let mut received = false;
            while let Some(bytes) = self.to_client.arrived(self.now) {
                received = true;
                let now = self.now;
                self.frames.push(&bytes, |frame| {
                    if let Ok(body) = decode_frame(frame) {
                        transaction.receive(now, &body);
                    }
                });
            }
            if !received {
                let directions = [&self.to_device, &self.to_client].into_iter();
                let next =
                    directions.filter_map(|direction| Some(direction.in_flight.first()?.0));
                let next = next.chain(self.fake.wake_at()).chain([transaction.poll_at()]);
                let step = Duration::from_micros(1);
                self.now = next.filter(|at| *at > self.now).min().unwrap_or(self.now + step);
                self.clock.set(self.now);
                assert!(self.now < SIMULATED_TIME_MAX, "the transaction does not end");
            }
        }
    }

    fn close(&mut self) {
        self.to_device.in_flight.clear();
        self.to_client.in_flight.clear();
        self.fake.unplug();
        self.frames = FrameAssembler::default();
        self.broken &= self.cut.permanent;
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

/// Whether the frame carries a chunk of a programme, which is order kind 1.
fn is_chunk(frame: &[u8]) -> bool {
    let mut frame = frame.to_vec();
    decode_frame(&mut frame).is_ok_and(|body| body.rest.get(4) == Some(&1))
}
