//! Desks that are no more than lists of bytes, a device that is none, and a clock that is told.

use std::cell::RefCell;
use std::rc::Rc;
use std::time::{Duration, Instant as Clock};

use saggar_core::controller::SNAPSHOT_BYTES_MAX;
use saggar_core::io::{Inputs, Outputs};
use saggar_device::wire::seal::{DeviceKey, KEY_BYTES, SessionKey};
use saggar_device::wire::{
    Answer, DeviceStatus, FRAME_BYTES_MAX, FrameKind, NONCE_BYTES, Notice, Order, Origin,
    Query, Refusal, Subscription, Tick, encode_frame,
};
use serde::Serialize;

use super::multiplexer::Multiplexer;
use super::transport::Transport;

const SECRET: [u8; KEY_BYTES] = *b"0123456789abcdef0123456789abcdef";

const SECOND: Duration = Duration::from_secs(1);

/// The far end of a connection.
#[derive(Default)]
struct Far {
    /// What the desk has sent and nobody has read.
    sent: Vec<u8>,
    /// What it was told, and how many more bytes it takes.
    told: Vec<u8>,
    takes: usize,
    gone: bool,
}

/// A desk.
#[derive(Clone)]
struct Desk(Rc<RefCell<Far>>);

impl Transport for Desk {
    fn read(&mut self, room: &mut [u8]) -> Option<usize> {
        let mut far = self.0.borrow_mut();
        if far.sent.is_empty() && far.gone {
            return None;
        }
        let bytes = far.sent.len().min(room.len());
        room.iter_mut().zip(far.sent.drain(..bytes)).for_each(|(place, byte)| *place = byte);
        Some(bytes)
    }

    fn write(&mut self, bytes: &[u8]) -> Option<usize> {
        let mut far = self.0.borrow_mut();
        let taken = bytes.len().min(far.takes);
        far.takes -= taken;
        far.told.extend(&bytes[..taken]);
        (!far.gone).then_some(taken)
    }
}

impl Desk {
    fn says(&self, frame: &[u8]) {
        self.0.borrow_mut().sent.extend(frame);
    }

    fn goes(&self) {
        self.0.borrow_mut().gone = true;
    }

    /// Frames that it was told, without their zeros.
    fn told(&self) -> Vec<Vec<u8>> {
        let told = std::mem::take(&mut self.0.borrow_mut().told);
        told.split_inclusive(|byte| *byte == 0).map(<[u8]>::to_vec).collect()
    }

    /// Whether the multiplexer has it no longer.
    fn was_let_go(&self) -> bool {
        Rc::strong_count(&self.0) == 1
    }
}

/// Desks, and a clock.
struct Bench {
    desks: Multiplexer,
    now: Clock,
    now_ms: u64,
}

impl Bench {
    fn new() -> Self {
        Self { desks: Multiplexer::default(), now: Clock::now(), now_ms: 0 }
    }

    /// One more desk; `None` if it has to wait.
    fn desk(&mut self) -> Option<Desk> {
        let desk = Desk(Rc::new(RefCell::new(Far { takes: usize::MAX, ..Far::default() })));
        self.desks.accepts_client(self.now).then(|| {
            self.desks.add(Box::new(desk.clone()), self.now);
            desk
        })
    }

    /// One more that says something and gets its turn.
    fn known(&mut self) -> Desk {
        let desk = self.desk().unwrap();
        desk.says(&ask(&Query::Status));
        self.carry();
        assert_eq!(self.next(), Some(ask(&Query::Status)));
        self.desks.reply(&tell(&Notice::Status(DeviceStatus::default())));
        desk
    }

    fn carry(&mut self) {
        self.desks.carry(self.now);
    }

    /// The next frame for the device, in a tick that is not full yet.
    fn next(&mut self) -> Option<Vec<u8>> {
        self.desks.on_tick();
        self.desks.next_frame(self.now, self.now_ms)
    }
}

fn framed(kind: FrameKind, message: &impl Serialize) -> Vec<u8> {
    let seal: SessionKey =
        DeviceKey::new(SECRET).unwrap().session_key(b"stand-in", &[1; 16], &[2; 16]);
    let sealed = matches!(kind, FrameKind::Order | FrameKind::Answer).then_some((0, &seal));
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes = encode_frame(kind, sealed, message, &mut frame).unwrap();
    frame[..bytes].to_vec()
}

fn ask(ask: &Query) -> Vec<u8> {
    framed(FrameKind::Query, ask)
}

fn hello(nonce: u8) -> Vec<u8> {
    ask(&Query::Hello { nonce: [nonce; NONCE_BYTES] })
}

fn stop() -> Vec<u8> {
    framed(FrameKind::Order, &Order::Stop)
}

fn stopping() -> Vec<u8> {
    framed(FrameKind::Answer, &Answer::Stopping)
}

fn tell(tell: &Notice<'_>) -> Vec<u8> {
    framed(FrameKind::Notice, tell)
}

fn tick(number: u32) -> Vec<u8> {
    tell(&Notice::Tick(Tick::new(number, 0, &Inputs::default(), &Outputs::default())))
}

fn origin() -> Vec<u8> {
    let memory = &[7; SNAPSHOT_BYTES_MAX];
    tell(&Notice::Origin(Origin { number: 1, programme: None, memory }))
}

const TICKS: Subscription = Subscription { ticks: true, status: false };
const STATUS: Subscription = Subscription { ticks: false, status: true };
const BOTH: Subscription = Subscription { ticks: true, status: true };

#[test]
fn a_reply_goes_only_to_the_client_that_asked() {
    let mut bench = Bench::new();
    let desks = [1, 2, 3].map(|_| bench.desk().unwrap());
    for (offset, desk) in (0..).zip(&desks) {
        desk.says(&ask(&Query::Furnace { offset }));
        desk.says(&ask(&Query::Programme { offset }));
    }
    bench.carry();
    // In turn: all first questions, then all second ones.
    for round in 0..2 {
        for (offset, desk) in (0..).zip(&desks) {
            let asked = [Query::Furnace { offset }, Query::Programme { offset }];
            assert_eq!(bench.next(), Some(ask(&asked[round])));
            let answer = tell(&Notice::Refused(Refusal::LockedOut(offset)));
            bench.desks.reply(&answer);
            bench.carry();
            assert_eq!(desk.told(), [answer]);
            assert!(desks.iter().all(|desk| desk.told().is_empty()));
        }
    }
    assert_eq!(bench.next(), None);
}

#[test]
fn a_subscriber_gets_what_it_subscribed_to() {
    let mut bench = Bench::new();
    let [recorder, watcher, other] = [1, 2, 3].map(|_| bench.desk().unwrap());
    recorder.says(&ask(&Query::Subscribe(TICKS)));
    bench.carry();
    assert_eq!(bench.next(), Some(ask(&Query::Subscribe(TICKS))));
    bench.desks.reply(&origin());
    watcher.says(&ask(&Query::Subscribe(STATUS)));
    other.says(&ask(&Query::Status));
    bench.carry();
    assert_eq!(recorder.told(), [origin()]);
    // The device tells of what either of them wants; what it begins with is the recorder's alone.
    assert_eq!(bench.next(), Some(ask(&Query::Subscribe(BOTH))));
    let status = tell(&Notice::Status(DeviceStatus::default()));
    bench.desks.reply(&[status.clone(), origin()].concat());
    bench.carry();
    assert_eq!(watcher.told(), std::slice::from_ref(&status));
    bench.desks.broadcast(&[tick(1), status.clone()].concat());
    bench.carry();
    assert_eq!(recorder.told(), [tick(1)]);
    assert_eq!(watcher.told(), std::slice::from_ref(&status));
    // Another programme is another beginning, whoever has brought it.
    assert_eq!(bench.next(), Some(ask(&Query::Status)));
    bench.desks.reply(&[status.clone(), origin()].concat());
    bench.carry();
    assert_eq!(recorder.told(), [origin()]);
    assert_eq!(other.told(), [status]);
    // Nobody has to know how fast the device's minutes pass.
    bench.now_ms = 31_000;
    assert_eq!(bench.next(), Some(ask(&Query::Subscribe(BOTH))));
    bench.desks.reply(&origin());
    recorder.goes();
    bench.carry();
    assert!(watcher.told().is_empty());
    bench.now_ms = 62_000;
    assert_eq!(bench.next(), Some(ask(&Query::Subscribe(STATUS))));
    watcher.goes();
    bench.carry();
    bench.now_ms = 93_000;
    assert_eq!(bench.next(), None, "nobody follows");
}

#[test]
fn an_incomplete_frame_is_not_joined_to_another_clients() {
    let mut bench = Bench::new();
    let [half, whole] = [1, 2].map(|_| bench.desk().unwrap());
    let question = ask(&Query::Status);
    half.says(&question[..5]);
    whole.says(&question);
    bench.carry();
    assert_eq!(bench.next(), Some(question.clone()));
    assert_eq!(bench.next(), None);
    // A half that is not gone on with is given up.
    bench.now += 3 * SECOND;
    half.says(&question);
    bench.carry();
    assert_eq!(bench.next(), Some(question.clone()));
    // More than any frame has, then a good one.
    whole.says(&[9; 5000]);
    whole.says(&[0]);
    whole.says(&question);
    (0..6).for_each(|_| bench.carry());
    assert_eq!(bench.next(), Some(question));
}

#[test]
fn clients_take_turns() {
    let mut bench = Bench::new();
    let flood = bench.desk().unwrap();
    (0..16).for_each(|_| flood.says(&ask(&Query::Status)));
    bench.carry();
    for number in 0..8 {
        let late = bench.desk().unwrap();
        late.says(&ask(&Query::Log { from: number }));
        bench.carry();
        // The flood was there first; it is not first again.
        assert_eq!(bench.next(), Some(ask(&Query::Status)));
        assert_eq!(bench.next(), Some(ask(&Query::Log { from: number })));
    }
    // And a tick has a limit.
    bench.desks.on_tick();
    let all = std::iter::from_fn(|| bench.desks.next_frame(bench.now, 0)).count();
    assert_eq!(all, 8);
    flood.says(&[1, 0].repeat(500));
    bench.carry();
    bench.desks.on_tick();
    assert_eq!(std::iter::from_fn(|| bench.desks.next_frame(bench.now, 0)).count(), 13);
}

#[test]
fn an_order_goes_before_a_hello_that_would_displace_its_offer() {
    let mut bench = Bench::new();
    let owner = bench.desk().unwrap();
    let strangers = [1, 2, 3].map(|_| bench.desk().unwrap());
    owner.says(&hello(1));
    (2..).zip(&strangers).for_each(|(nonce, stranger)| stranger.says(&hello(nonce)));
    bench.carry();
    for nonce in 1..=3 {
        assert_eq!(bench.next(), Some(hello(nonce)), "the device remembers three");
    }
    assert_eq!(bench.next(), None, "the owner's order may be under way");
    // The same greeting again is no other.
    owner.says(&hello(1));
    bench.carry();
    assert_eq!(bench.next(), Some(hello(1)));
    owner.says(&stop());
    bench.now += SECOND;
    bench.carry();
    assert_eq!(bench.next(), Some(stop()), "however late, before what would displace it");
    bench.desks.reply(&stopping());
    assert_eq!(bench.next(), Some(hello(4)));
}

#[test]
fn a_refused_order_frees_no_offer() {
    let mut bench = Bench::new();
    let desks = [1, 2, 3, 4].map(|_| bench.desk().unwrap());
    (1..).zip(&desks).for_each(|(nonce, desk)| desk.says(&hello(nonce)));
    bench.carry();
    (1..=3).for_each(|nonce| assert_eq!(bench.next(), Some(hello(nonce))));
    desks[0].says(&[stop(), stop()].concat());
    desks[1].says(&ask(&Query::Status));
    bench.carry();
    assert_eq!(bench.next(), Some(stop()));
    bench.desks.reply(&tell(&Notice::Refused(Refusal::WrongSeal)));
    // A greeting puts one order first, and no more.
    assert_eq!(bench.next(), Some(ask(&Query::Status)));
    assert_eq!(bench.next(), Some(stop()));
    bench.desks.reply(&tell(&Notice::Refused(Refusal::WrongSeal)));
    assert_eq!(bench.next(), None);
    bench.now += SECOND;
    assert_eq!(bench.next(), Some(hello(4)));
    // Whoever greets twice at once means the second.
    desks[3].says(&[hello(5), hello(6)].concat());
    bench.carry();
    assert_eq!(bench.next(), Some(hello(6)));
    assert_eq!(bench.next(), None);
}

#[test]
fn a_silent_client_makes_way_for_a_new_one() {
    let mut bench = Bench::new();
    let owner = bench.known();
    let silent: Vec<Desk> = (0..8).map(|_| bench.desk().unwrap()).collect();
    assert!(bench.desk().is_none(), "each may have time to speak");
    silent[1].says(&ask(&Query::Status));
    bench.carry();
    bench.now += SECOND;
    let next = bench.desk().unwrap();
    assert!(silent[0].was_let_go());
    assert!(!silent[1].was_let_go(), "it waits for its turn");
    // All that come after can only make those go that have said nothing.
    for _ in 0..100 {
        bench.now += SECOND;
        bench.desk().unwrap();
    }
    assert!(next.was_let_go());
    assert!(!silent[1].was_let_go());
    assert!(!owner.was_let_go());
}

#[test]
fn a_client_with_the_key_is_disconnected_last() {
    let mut bench = Bench::new();
    let owner = bench.known();
    owner.says(&stop());
    bench.carry();
    assert_eq!(bench.next(), Some(stop()));
    bench.desks.reply(&stopping());
    bench.now += SECOND;
    let recorder = bench.known();
    recorder.says(&ask(&Query::Subscribe(TICKS)));
    bench.carry();
    bench.next().unwrap();
    bench.desks.reply(&origin());
    let mut others = Vec::new();
    for number in 0..100 {
        bench.now += SECOND;
        // It says nothing, but it reads what it is told.
        bench.desks.broadcast(&tick(number));
        bench.carry();
        others.push(bench.known());
    }
    assert!(!owner.was_let_go() && !recorder.was_let_go());
    assert!(others[0].was_let_go());
    assert_eq!(others.iter().filter(|desk| !desk.was_let_go()).count(), 22);
}

#[test]
fn orders_sent_before_a_disconnect_are_carried_out() {
    let mut bench = Bench::new();
    let [asks, orders] = [1, 2].map(|_| bench.desk().unwrap());
    asks.says(&ask(&Query::Status));
    orders.says(&stop());
    asks.goes();
    orders.goes();
    bench.carry();
    bench.carry();
    assert_eq!(bench.next(), Some(stop()));
    bench.desks.reply(&stopping());
    assert_eq!(bench.next(), None);
    bench.carry();
    assert!(asks.was_let_go() && orders.was_let_go());
}

#[test]
fn a_slow_reader_is_waited_for_and_a_stalled_one_is_not() {
    let mut bench = Bench::new();
    let [slow, good] = [1, 2].map(|_| bench.known());
    for desk in [&slow, &good] {
        desk.says(&ask(&Query::Subscribe(TICKS)));
        bench.carry();
        bench.next().unwrap();
        bench.desks.reply(&origin());
    }
    bench.carry();
    slow.told();
    slow.0.borrow_mut().takes = 10;
    let mut number = 0;
    let mut until_slow = |bench: &mut Bench| {
        (0..2000).any(|_| {
            number += 1;
            bench.desks.broadcast(&tick(number));
            bench.carry();
            bench.desks.is_slow()
        })
    };
    assert!(until_slow(&mut bench), "it does not read as fast as it is told");
    // As long as it goes on reading.
    for _ in 0..10 {
        bench.now += SECOND;
        slow.0.borrow_mut().takes = 5000;
        bench.carry();
    }
    assert!(!bench.desks.is_slow());
    assert!(until_slow(&mut bench));
    bench.now += 3 * SECOND;
    bench.carry();
    assert!(!bench.desks.is_slow(), "it is given up");
    assert!(!until_slow(&mut bench), "and told nothing more");
    // What it takes when it comes back is whole frames.
    slow.0.borrow_mut().takes = usize::MAX;
    bench.carry();
    bench.desks.broadcast(&tick(77));
    bench.carry();
    let told = slow.told();
    assert_eq!(told.last(), Some(&tick(77)));
    let length = tick(1).len();
    assert!(told.iter().all(|frame| frame.len().abs_diff(length) < 20), "{told:?}");
    assert!(good.told().len() > 4000);
}
