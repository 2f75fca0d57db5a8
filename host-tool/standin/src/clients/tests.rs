//! Clients that are byte lists, replies written by the test instead of a device, and a clock that
//! the test advances.

use std::cell::RefCell;
use std::rc::Rc;
use std::time::{Duration, Instant as Clock};

use saggar_core::controller::SNAPSHOT_BYTES_MAX;
use saggar_core::io::{Inputs, Outputs};
use saggar_device::link::BYTES_PER_TICK;
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

/// The client's end of a connection.
#[derive(Default)]
struct FarEnd {
    /// Bytes that the client has sent and the stand-in has not read.
    sent: Vec<u8>,
    /// Bytes that the client has received.
    received: Vec<u8>,
    /// How many more bytes the client reads.
    read_budget: usize,
    /// The client has closed its end.
    closed: bool,
}

/// A client.
#[derive(Clone)]
struct TestClient(Rc<RefCell<FarEnd>>);

impl Transport for TestClient {
    fn read(&mut self, buffer: &mut [u8]) -> Option<usize> {
        let mut far = self.0.borrow_mut();
        if far.sent.is_empty() && far.closed {
            return None;
        }
        let bytes = far.sent.len().min(buffer.len());
        buffer.iter_mut().zip(far.sent.drain(..bytes)).for_each(|(to, byte)| *to = byte);
        Some(bytes)
    }

    fn write(&mut self, bytes: &[u8]) -> Option<usize> {
        let mut far = self.0.borrow_mut();
        let taken = bytes.len().min(far.read_budget);
        far.read_budget -= taken;
        far.received.extend(&bytes[..taken]);
        (!far.closed).then_some(taken)
    }
}

impl TestClient {
    fn send(&self, frame: &[u8]) {
        self.0.borrow_mut().sent.extend(frame);
    }

    fn disconnect(&self) {
        self.0.borrow_mut().closed = true;
    }

    /// Takes the frames that it has received, each with its zero.
    fn take_received(&self) -> Vec<Vec<u8>> {
        let received = std::mem::take(&mut self.0.borrow_mut().received);
        received.split_inclusive(|byte| *byte == 0).map(<[u8]>::to_vec).collect()
    }

    /// Whether the multiplexer has dropped it.
    fn was_dropped(&self) -> bool {
        Rc::strong_count(&self.0) == 1
    }
}

/// The multiplexer under test, and its clock.
struct Bench {
    multiplexer: Multiplexer,
    now: Clock,
    now_ms: u64,
}

impl Bench {
    fn new() -> Self {
        Self { multiplexer: Multiplexer::default(), now: Clock::now(), now_ms: 0 }
    }

    /// Connects a client; `None` if it has to wait for a place.
    fn connect(&mut self) -> Option<TestClient> {
        let client = TestClient(Rc::new(RefCell::new(FarEnd {
            read_budget: usize::MAX,
            ..FarEnd::default()
        })));
        self.multiplexer.accepts_client(self.now).then(|| {
            self.multiplexer.add(Box::new(client.clone()), self.now);
            client
        })
    }

    /// Connects a client that sends a query and gets its turn.
    fn connect_with_turn(&mut self) -> TestClient {
        let client = self.connect().unwrap();
        client.send(&query(&Query::Status));
        self.transfer();
        assert_eq!(self.next(), Some(query(&Query::Status)));
        self.multiplexer.reply(&notice(&Notice::Status(DeviceStatus::default())));
        client
    }

    fn transfer(&mut self) {
        self.multiplexer.transfer(self.now);
    }

    /// The next frame for the device, in a tick that is not full yet.
    fn next(&mut self) -> Option<Vec<u8>> {
        self.multiplexer.on_tick();
        self.multiplexer.next_frame(self.now, self.now_ms)
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

fn query(query: &Query) -> Vec<u8> {
    framed(FrameKind::Query, query)
}

fn hello(nonce: u8) -> Vec<u8> {
    query(&Query::Hello { nonce: [nonce; NONCE_BYTES] })
}

fn stop() -> Vec<u8> {
    framed(FrameKind::Order, &Order::Stop)
}

fn stopping() -> Vec<u8> {
    framed(FrameKind::Answer, &Answer::Stopping)
}

fn notice(notice: &Notice<'_>) -> Vec<u8> {
    framed(FrameKind::Notice, notice)
}

fn tick(number: u32) -> Vec<u8> {
    notice(&Notice::Tick(Tick::new(number, 0, &Inputs::default(), &Outputs::default())))
}

fn origin() -> Vec<u8> {
    let memory = &[7; SNAPSHOT_BYTES_MAX];
    notice(&Notice::Origin(Origin { number: 1, programme: None, memory }))
}

const TICKS: Subscription = Subscription { ticks: true, status: false };
const STATUS: Subscription = Subscription { ticks: false, status: true };
const BOTH: Subscription = Subscription { ticks: true, status: true };

#[test]
fn a_reply_goes_only_to_the_client_that_asked() {
    let mut bench = Bench::new();
    let clients = [1, 2, 3].map(|_| bench.connect().unwrap());
    for (offset, client) in (0..).zip(&clients) {
        client.send(&query(&Query::Furnace { offset }));
        client.send(&query(&Query::Programme { offset }));
    }
    bench.transfer();
    // In turn: the first query of each client, then the second ones.
    for round in 0..2 {
        for (offset, client) in (0..).zip(&clients) {
            let asked = [Query::Furnace { offset }, Query::Programme { offset }];
            assert_eq!(bench.next(), Some(query(&asked[round])));
            let answer = notice(&Notice::Refused(Refusal::LockedOut(offset)));
            bench.multiplexer.reply(&answer);
            bench.transfer();
            assert_eq!(client.take_received(), [answer]);
            assert!(clients.iter().all(|client| client.take_received().is_empty()));
        }
    }
    assert_eq!(bench.next(), None);
}

#[test]
fn a_subscriber_gets_what_it_subscribed_to() {
    let mut bench = Bench::new();
    let [recorder, watcher, other] = [1, 2, 3].map(|_| bench.connect().unwrap());
    recorder.send(&query(&Query::Subscribe(TICKS)));
    bench.transfer();
    assert_eq!(bench.next(), Some(query(&Query::Subscribe(TICKS))));
    bench.multiplexer.reply(&origin());
    watcher.send(&query(&Query::Subscribe(STATUS)));
    other.send(&query(&Query::Status));
    bench.transfer();
    assert_eq!(recorder.take_received(), [origin()]);
    // The device sends the updates that either of them wants; the origin goes to the recorder only.
    assert_eq!(bench.next(), Some(query(&Query::Subscribe(BOTH))));
    let status = notice(&Notice::Status(DeviceStatus::default()));
    bench.multiplexer.reply(&[status.clone(), origin()].concat());
    bench.transfer();
    assert_eq!(watcher.take_received(), std::slice::from_ref(&status));
    bench.multiplexer.broadcast(&[tick(1), status.clone()].concat());
    bench.transfer();
    assert_eq!(recorder.take_received(), [tick(1)]);
    assert_eq!(watcher.take_received(), std::slice::from_ref(&status));
    // A new programme starts a new origin, whichever client uploaded it.
    assert_eq!(bench.next(), Some(query(&Query::Status)));
    bench.multiplexer.reply(&[status.clone(), origin()].concat());
    bench.transfer();
    assert_eq!(recorder.take_received(), [origin()]);
    assert_eq!(other.take_received(), [status]);
    // The stand-in renews the subscription, because its time may run faster than the clients'.
    bench.now_ms = 31_000;
    assert_eq!(bench.next(), Some(query(&Query::Subscribe(BOTH))));
    bench.multiplexer.reply(&origin());
    recorder.disconnect();
    bench.transfer();
    assert!(watcher.take_received().is_empty());
    bench.now_ms = 62_000;
    assert_eq!(bench.next(), Some(query(&Query::Subscribe(STATUS))));
    watcher.disconnect();
    bench.transfer();
    bench.now_ms = 93_000;
    assert_eq!(bench.next(), None, "no subscriber is left");
}

#[test]
fn an_incomplete_frame_is_not_joined_to_another_clients() {
    let mut bench = Bench::new();
    let [half, whole] = [1, 2].map(|_| bench.connect().unwrap());
    let question = query(&Query::Status);
    half.send(&question[..5]);
    whole.send(&question);
    bench.transfer();
    assert_eq!(bench.next(), Some(question.clone()));
    assert_eq!(bench.next(), None);
    // An incomplete frame is dropped after a timeout.
    bench.now += 3 * SECOND;
    half.send(&question);
    bench.transfer();
    assert_eq!(bench.next(), Some(question.clone()));
    // More bytes than a frame may have, then a valid frame.
    whole.send(&[9; 5000]);
    whole.send(&[0]);
    whole.send(&question);
    (0..6).for_each(|_| bench.transfer());
    assert_eq!(bench.next(), Some(question));
}

#[test]
fn clients_take_turns() {
    let mut bench = Bench::new();
    let flood = bench.connect().unwrap();
    (0..16).for_each(|_| flood.send(&query(&Query::Status)));
    bench.transfer();
    for number in 0..8 {
        let late = bench.connect().unwrap();
        late.send(&query(&Query::Log { from: number }));
        bench.transfer();
        // The flood connected first, and still gets one turn only.
        assert_eq!(bench.next(), Some(query(&Query::Status)));
        assert_eq!(bench.next(), Some(query(&Query::Log { from: number })));
    }
    // The number of frames per tick is limited.
    bench.multiplexer.on_tick();
    let all = std::iter::from_fn(|| bench.multiplexer.next_frame(bench.now, 0)).count();
    let limit = usize::from(BYTES_PER_TICK) / FRAME_BYTES_MAX;
    assert_eq!(all, limit.min(8));
    flood.send(&[1, 0].repeat(500));
    bench.transfer();
    bench.multiplexer.on_tick();
    assert_eq!(
        std::iter::from_fn(|| bench.multiplexer.next_frame(bench.now, 0)).count(),
        limit
    );
}

#[test]
fn an_order_goes_before_a_hello_that_would_displace_its_offer() {
    let mut bench = Bench::new();
    let owner = bench.connect().unwrap();
    let strangers = [1, 2, 3].map(|_| bench.connect().unwrap());
    owner.send(&hello(1));
    (2..).zip(&strangers).for_each(|(nonce, stranger)| stranger.send(&hello(nonce)));
    bench.transfer();
    for nonce in 1..=3 {
        assert_eq!(bench.next(), Some(hello(nonce)), "the device remembers three");
    }
    assert_eq!(bench.next(), None, "the owner's order may be under way");
    // A repeated hello displaces nothing.
    owner.send(&hello(1));
    bench.transfer();
    assert_eq!(bench.next(), Some(hello(1)));
    owner.send(&stop());
    bench.now += SECOND;
    bench.transfer();
    assert_eq!(bench.next(), Some(stop()), "however late, before what would displace it");
    bench.multiplexer.reply(&stopping());
    assert_eq!(bench.next(), Some(hello(4)));
}

#[test]
fn a_refused_order_frees_no_offer() {
    let mut bench = Bench::new();
    let clients = [1, 2, 3, 4].map(|_| bench.connect().unwrap());
    (1..).zip(&clients).for_each(|(nonce, client)| client.send(&hello(nonce)));
    bench.transfer();
    (1..=3).for_each(|nonce| assert_eq!(bench.next(), Some(hello(nonce))));
    clients[0].send(&[stop(), stop()].concat());
    clients[1].send(&query(&Query::Status));
    bench.transfer();
    assert_eq!(bench.next(), Some(stop()));
    bench.multiplexer.reply(&notice(&Notice::Refused(Refusal::WrongSeal)));
    // A hello gives priority to one order only.
    assert_eq!(bench.next(), Some(query(&Query::Status)));
    assert_eq!(bench.next(), Some(stop()));
    bench.multiplexer.reply(&notice(&Notice::Refused(Refusal::WrongSeal)));
    assert_eq!(bench.next(), None);
    bench.now += SECOND;
    assert_eq!(bench.next(), Some(hello(4)));
    // A second hello replaces one that is still queued.
    clients[3].send(&[hello(5), hello(6)].concat());
    bench.transfer();
    assert_eq!(bench.next(), Some(hello(6)));
    assert_eq!(bench.next(), None);
}

#[test]
fn a_silent_client_makes_way_for_a_new_one() {
    let mut bench = Bench::new();
    let owner = bench.connect_with_turn();
    let silent: Vec<TestClient> = (0..8).map(|_| bench.connect().unwrap()).collect();
    assert!(bench.connect().is_none(), "each still has time to send its first frame");
    silent[1].send(&query(&Query::Status));
    bench.transfer();
    bench.now += SECOND;
    let next = bench.connect().unwrap();
    assert!(silent[0].was_dropped());
    assert!(!silent[1].was_dropped(), "it waits for its turn");
    // New clients displace only clients that have sent nothing.
    for _ in 0..100 {
        bench.now += SECOND;
        bench.connect().unwrap();
    }
    assert!(next.was_dropped());
    assert!(!silent[1].was_dropped());
    assert!(!owner.was_dropped());
}

#[test]
fn a_client_with_the_key_is_disconnected_last() {
    let mut bench = Bench::new();
    let owner = bench.connect_with_turn();
    owner.send(&stop());
    bench.transfer();
    assert_eq!(bench.next(), Some(stop()));
    bench.multiplexer.reply(&stopping());
    bench.now += SECOND;
    let recorder = bench.connect_with_turn();
    recorder.send(&query(&Query::Subscribe(TICKS)));
    bench.transfer();
    bench.next().unwrap();
    bench.multiplexer.reply(&origin());
    let mut others = Vec::new();
    for number in 0..100 {
        bench.now += SECOND;
        // The recorder sends nothing, but it reads its updates.
        bench.multiplexer.broadcast(&tick(number));
        bench.transfer();
        others.push(bench.connect_with_turn());
    }
    assert!(!owner.was_dropped() && !recorder.was_dropped());
    assert!(others[0].was_dropped());
    assert_eq!(others.iter().filter(|client| !client.was_dropped()).count(), 22);
}

#[test]
fn orders_sent_before_a_disconnect_are_carried_out() {
    let mut bench = Bench::new();
    let [querying, ordering] = [1, 2].map(|_| bench.connect().unwrap());
    querying.send(&query(&Query::Status));
    ordering.send(&stop());
    querying.disconnect();
    ordering.disconnect();
    bench.transfer();
    bench.transfer();
    assert_eq!(bench.next(), Some(stop()));
    bench.multiplexer.reply(&stopping());
    assert_eq!(bench.next(), None);
    bench.transfer();
    assert!(querying.was_dropped() && ordering.was_dropped());
}

#[test]
fn a_slow_reader_is_waited_for_and_a_stalled_one_is_not() {
    let mut bench = Bench::new();
    let [slow, good] = [1, 2].map(|_| bench.connect_with_turn());
    for client in [&slow, &good] {
        client.send(&query(&Query::Subscribe(TICKS)));
        bench.transfer();
        bench.next().unwrap();
        bench.multiplexer.reply(&origin());
    }
    bench.transfer();
    slow.take_received();
    slow.0.borrow_mut().read_budget = 10;
    let mut number = 0;
    let mut until_slow = |bench: &mut Bench| {
        (0..2000).any(|_| {
            number += 1;
            bench.multiplexer.broadcast(&tick(number));
            bench.transfer();
            bench.multiplexer.is_slow()
        })
    };
    assert!(until_slow(&mut bench), "it reads more slowly than ticks arrive");
    // It is waited for as long as it goes on reading.
    for _ in 0..10 {
        bench.now += SECOND;
        slow.0.borrow_mut().read_budget = 5000;
        bench.transfer();
    }
    assert!(!bench.multiplexer.is_slow());
    assert!(until_slow(&mut bench));
    bench.now += 3 * SECOND;
    bench.transfer();
    assert!(!bench.multiplexer.is_slow(), "it is no longer waited for");
    assert!(!until_slow(&mut bench), "and gets no more updates");
    // When it reads again, it gets complete frames.
    slow.0.borrow_mut().read_budget = usize::MAX;
    bench.transfer();
    bench.multiplexer.broadcast(&tick(77));
    bench.transfer();
    let received = slow.take_received();
    assert_eq!(received.last(), Some(&tick(77)));
    let length = tick(1).len();
    assert!(received.iter().all(|frame| frame.len().abs_diff(length) < 20), "{received:?}");
    assert!(good.take_received().len() > 4000);
}
