//! Several desks at one stand-in, and strangers that take places, turns or time.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use saggar_client::link::FrameAssembler;
use saggar_device::wire::{
    FRAME_BYTES_MAX, FrameKind, NONCE_BYTES, Notice, Query, Subscription, decode_frame,
    encode_frame,
};

use crate::bench::{Bench, RunOutput, Running, docs};

/// However busy the machine is, an answer that is to come is there by then.
const DEADLINE: Duration = Duration::from_secs(60);

fn connect(port: &str) -> TcpStream {
    TcpStream::connect(port.strip_prefix("tcp:").unwrap()).unwrap()
}

fn frame(ask: &Query) -> Vec<u8> {
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes = encode_frame(FrameKind::Query, None, ask, &mut frame).unwrap();
    frame[..bytes].to_vec()
}

/// What is told next to a desk, as far as `wanted` knows it.
fn told<T>(desk: &mut TcpStream, mut wanted: impl FnMut(&Notice<'_>) -> Option<T>) -> T {
    let (mut frames, mut room) = (FrameAssembler::default(), [0; 512]);
    let (mut found, since) = (None, Instant::now());
    desk.set_read_timeout(Some(DEADLINE)).unwrap();
    while found.is_none() {
        assert!(since.elapsed() < DEADLINE, "it is told other things");
        let read = desk.read(&mut room).unwrap();
        assert_ne!(read, 0, "the stand-in closed the line");
        frames.push(&room[..read], |frame| {
            let body = decode_frame(frame).unwrap();
            let tell = body.message().unwrap();
            found = found.take().or_else(|| wanted(&tell));
        });
    }
    found.unwrap()
}

/// Strangers without a key.
struct Strangers {
    go_on: Arc<AtomicBool>,
    came: Arc<AtomicUsize>,
    thread: Option<JoinHandle<()>>,
}

impl Strangers {
    /// One more every so often, each of whom says the same again and again; the last `places` of
    /// them stay.
    fn at(port: &str, every: Duration, says: Vec<u8>, places: usize) -> Self {
        let go_on = Arc::new(AtomicBool::new(true));
        let came = Arc::new(AtomicUsize::new(0));
        let (going, count, port) = (Arc::clone(&go_on), Arc::clone(&came), port.to_owned());
        let thread = thread::spawn(move || {
            let mut there: Vec<TcpStream> = Vec::new();
            while going.load(Ordering::Relaxed) {
                let one = connect(&port);
                one.set_nonblocking(true).unwrap();
                there.push(one);
                if there.len() > places {
                    there.remove(0);
                }
                let mut room = [0; 4096];
                for one in &mut there {
                    // Who has to go is replaced by the next.
                    let _ = one.write(&says);
                    let _ = one.read(&mut room);
                }
                count.fetch_add(1, Ordering::Relaxed);
                thread::sleep(every);
            }
        });
        Self { go_on, came, thread: Some(thread) }
    }

    /// Waits until so many have come.
    fn wait(&self, for_them: usize) {
        let since = Instant::now();
        while self.came.load(Ordering::Relaxed) < for_them {
            assert!(since.elapsed() < DEADLINE, "the strangers do not come");
            thread::sleep(Duration::from_millis(5));
        }
    }
}

impl Drop for Strangers {
    fn drop(&mut self) {
        self.go_on.store(false, Ordering::Relaxed);
        let ended = self.thread.take().map(JoinHandle::join);
        assert!(thread::panicking() || ended.is_none_or(|ended| ended.is_ok()));
    }
}

/// A schedule that is cleared for upload, and a stand-in at rest.
fn at_rest(bench: &Bench) -> (String, Running, String) {
    let schedule = docs().join("schedules/infiltrate-alumina.toml");
    let name = schedule.display().to_string();
    assert_eq!(bench.run(&["rehearse", &name, "--out", "trial", "--json"]).code, 0);
    let args = ["--key", "d.key", "--listen", "tcp:127.0.0.1:0"];
    let (running, port) = bench.stands_in(&schedule, &args);
    (name, running, port)
}

fn stop(bench: &Bench, port: &str) -> RunOutput {
    bench.run(&["device", "stop", "--port", port, "--key", "d.key", "--json"])
}

/// The owner does what an owner does.
fn owner_gets_through(bench: &Bench, name: &str, port: &str) {
    for _ in 0..3 {
        let stopped = stop(bench, port);
        assert_eq!(stopped.code, 0, "{stopped:#?}");
    }
    // A flood can take longer turns than a desk waits for a greeting; then an upload is given again,
    // as its message asks. A stop is not.
    let mut uploaded = bench.upload(name, port);
    for _ in 0..2 {
        if uploaded.code == 0 {
            break;
        }
        uploaded = bench.upload(name, port);
    }
    assert_eq!(uploaded.code, 0, "{uploaded:#?}");
}

#[test]
fn silent_connections_keep_no_client_out() {
    let bench = Bench::new();
    let (name, _running, port) = at_rest(&bench);
    // More at once than there are places, and they stay.
    let silent: Vec<TcpStream> = (0..100).map(|_| connect(&port)).collect();
    owner_gets_through(&bench, &name, &port);
    let strangers = Strangers::at(&port, Duration::from_millis(20), Vec::new(), 100);
    strangers.wait(10);
    owner_gets_through(&bench, &name, &port);
    drop((silent, strangers));
    owner_gets_through(&bench, &name, &port);
}

#[test]
fn endless_hellos_keep_no_client_out() {
    let bench = Bench::new();
    let (name, _running, port) = at_rest(&bench);
    let hello = frame(&Query::Hello { nonce: [7; NONCE_BYTES] });
    let strangers = Strangers::at(&port, Duration::from_millis(2), hello, 12);
    strangers.wait(20);
    owner_gets_through(&bench, &name, &port);
}

#[test]
fn each_client_gets_its_own_replies() {
    let bench = Bench::new();
    let (_, _running, port) = at_rest(&bench);
    let desk = |offset: u16| {
        let port = port.clone();
        thread::spawn(move || {
            let mut desk = connect(&port);
            for _ in 0..100 {
                desk.write_all(&frame(&Query::Furnace { offset })).unwrap();
                let told = told(&mut desk, |tell| {
                    let Notice::Furnace(piece) = tell else {
                        panic!("{offset} is told {tell:?}")
                    };
                    Some(piece.offset)
                });
                assert_eq!(told, offset);
            }
        })
    };
    let desks: Vec<_> = (0..4).map(desk).collect();
    desks.into_iter().for_each(|desk| desk.join().unwrap());
}

#[test]
fn half_a_frame_is_not_joined_to_the_next() {
    let bench = Bench::new();
    let (_, _running, port) = at_rest(&bench);
    let ask = frame(&Query::Log { from: 0 });
    for half in 1..ask.len() - 1 {
        let mut gone = connect(&port);
        gone.write_all(&ask[..half]).unwrap();
        drop(gone);
        let mut desk = connect(&port);
        desk.write_all(&ask).unwrap();
        told(&mut desk, |tell| matches!(tell, Notice::Log { .. }).then_some(()));
    }
}

#[test]
fn a_recording_goes_on_while_others_ask_and_stop() {
    recording_goes_on(&[]);
}

/// Somebody records while others upload, ask and stop.
pub(crate) fn recording_goes_on(more: &[&str]) {
    let bench = Bench::new();
    let schedule = bench.short();
    let name = schedule.display().to_string();
    assert!(bench.run(&["rehearse", &name, "--out", "trial", "--json"]).code <= 1);
    let args = ["--key", "d.key", "--listen", "tcp:127.0.0.1:0", "--operator", "--once"];
    let args = [&args[..], &["--speed", "20"], more].concat();
    let (running, port) = bench.stands_in(&schedule, &args);
    let (at, folder) = (port.clone(), bench.path(""));
    let recorder = thread::spawn(move || recorded(&folder, &at));
    while !bench.path("it.firing").exists() {
        thread::sleep(Duration::from_millis(20));
    }
    let firing = saggar_schedule::FiringPlan::load(&schedule, None).unwrap();
    let key = saggar_client::key::read(&bench.path("d.key")).unwrap();
    // Past the clearance: no verdict passes a firing this short.
    let at =
        saggar_client::link::port::PortConfig { address: port.parse().unwrap(), baud: 115_200 };
    let mut desk = saggar_client::link::Client::connect(&at).unwrap();
    let furnace = desk.hello.furnace;
    let task = saggar_client::link::Task::Upload { programme: firing.image.bytes(), furnace };
    desk.order(task, &key).unwrap();
    let since = Instant::now();
    while desk.status().unwrap().step.is_none() {
        assert!(since.elapsed() < DEADLINE, "nobody presses start");
        assert_eq!(bench.run(&["device", "info", "--port", &port]).code, 0);
    }
    let stopped = stop(&bench, &port);
    assert_eq!(stopped.code, 0, "{stopped:#?}");
    let watched = recorder.join().unwrap();
    assert_eq!(watched.code, 0, "{watched:#?}");
    drop(running);
    let replayed = bench.run(&["replay", "it.firing", "--json"]);
    assert_eq!(replayed.code, 0, "{replayed:#?} {watched:#?}");
    let replayed = replayed.json();
    assert_eq!(replayed["gaps"].as_array().unwrap().len(), 0, "{replayed:#}");
    assert_eq!(replayed["stretches"], 2, "before the upload and behind it: {replayed:#}");
    assert!(replayed["compared"].as_u64().unwrap() > 30, "{replayed:#}");
}

/// Records a firing to its end.
fn recorded(folder: &std::path::Path, port: &str) -> RunOutput {
    crate::bench::run_in(
        folder,
        &["device", "watch", "--port", port, "--record", "it.firing", "--until-end", "--json"],
    )
}

#[test]
fn a_subscriber_that_stops_reading_is_not_waited_for() {
    let bench = Bench::new();
    let schedule = docs().join("schedules/infiltrate-alumina.toml");
    let name = schedule.display().to_string();
    assert_eq!(bench.run(&["rehearse", &name, "--out", "trial", "--json"]).code, 0);
    let (running, port) = bench.standin(&schedule, &["--listen", "tcp:127.0.0.1:0"]);
    assert_eq!(bench.upload(&name, &port).code, 0);
    let mut mute = connect(&port);
    let ticks = Query::Subscribe(Subscription { ticks: true, status: true });
    mute.write_all(&frame(&ticks)).unwrap();
    told(&mut mute, |tell| matches!(tell, Notice::Origin(_)).then_some(()));
    let ended = running.end_within(4 * DEADLINE);
    assert_eq!(ended.code, 0, "{ended:#?}");
    drop(mute);
}
