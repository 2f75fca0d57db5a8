//! Several clients at one stand-in, also beside clients without the key that take places, turns or
//! time.

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
use crate::upload::upload_without_clearance;

/// Longest wait for a reply, ample for a busy machine.
const DEADLINE: Duration = Duration::from_secs(60);

fn connect(port: &str) -> TcpStream {
    TcpStream::connect(port.strip_prefix("tcp:").unwrap()).unwrap()
}

fn frame(query: &Query) -> Vec<u8> {
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes = encode_frame(FrameKind::Query, None, query, &mut frame).unwrap();
    frame[..bytes].to_vec()
}

/// Reads notices until `wanted` accepts one.
fn next_notice<T>(
    client: &mut TcpStream,
    mut wanted: impl FnMut(&Notice<'_>) -> Option<T>,
) -> T {
    let (mut frames, mut buffer) = (FrameAssembler::default(), [0; 512]);
    let (mut found, since) = (None, Instant::now());
    client.set_read_timeout(Some(DEADLINE)).unwrap();
    while found.is_none() {
        assert!(since.elapsed() < DEADLINE, "no expected notice before the deadline");
        let read = client.read(&mut buffer).unwrap();
        assert_ne!(read, 0, "the stand-in closed the connection");
        frames.push(&buffer[..read], |frame| {
            let body = decode_frame(frame).unwrap();
            let notice = body.message().unwrap();
            found = found.take().or_else(|| wanted(&notice));
        });
    }
    found.unwrap()
}

/// Clients without the key, connecting from a thread.
struct KeylessClients {
    running: Arc<AtomicBool>,
    connected: Arc<AtomicUsize>,
    thread: Option<JoinHandle<()>>,
}

impl KeylessClients {
    /// Connects one client per `every`; each repeats `message`; the newest `places` stay connected.
    fn connecting_to(port: &str, every: Duration, message: Vec<u8>, places: usize) -> Self {
        let running = Arc::new(AtomicBool::new(true));
        let connected = Arc::new(AtomicUsize::new(0));
        let (run, count, port) =
            (Arc::clone(&running), Arc::clone(&connected), port.to_owned());
        let thread = thread::spawn(move || {
            let mut clients: Vec<TcpStream> = Vec::new();
            while run.load(Ordering::Relaxed) {
                let client = connect(&port);
                client.set_nonblocking(true).unwrap();
                clients.push(client);
                if clients.len() > places {
                    clients.remove(0);
                }
                let mut buffer = [0; 4096];
                for client in &mut clients {
                    // A client that the stand-in has disconnected is replaced by the next.
                    let _ = client.write(&message);
                    let _ = client.read(&mut buffer);
                }
                count.fetch_add(1, Ordering::Relaxed);
                thread::sleep(every);
            }
        });
        Self { running, connected, thread: Some(thread) }
    }

    /// Waits until `count` of them have connected.
    fn wait_for(&self, count: usize) {
        let since = Instant::now();
        while self.connected.load(Ordering::Relaxed) < count {
            assert!(since.elapsed() < DEADLINE, "the clients do not connect");
            thread::sleep(Duration::from_millis(5));
        }
    }
}

impl Drop for KeylessClients {
    fn drop(&mut self) {
        self.running.store(false, Ordering::Relaxed);
        let ended = self.thread.take().map(JoinHandle::join);
        assert!(thread::panicking() || ended.is_none_or(|ended| ended.is_ok()));
    }
}

/// A schedule that is cleared for upload, and an idle stand-in with its port.
fn idle_standin(bench: &Bench) -> (String, Running, String) {
    let schedule = docs().join("schedules/infiltrate-alumina.toml");
    let name = schedule.display().to_string();
    assert_eq!(bench.run(&["rehearse", &name, "--out", "trial", "--json"]).code, 0);
    let args = ["--key", "d.key", "--listen", "tcp:127.0.0.1:0"];
    let (running, port) = bench.spawn_standin(&schedule, &args);
    (name, running, port)
}

fn stop(bench: &Bench, port: &str) -> RunOutput {
    bench.run(&["device", "stop", "--port", port, "--key", "d.key", "--json"])
}

/// The owner stops three times and uploads.
fn owner_gets_through(bench: &Bench, name: &str, port: &str) {
    for _ in 0..3 {
        let stopped = stop(bench, port);
        assert_eq!(stopped.code, 0, "{stopped:#?}");
    }
    // Under a flood an upload may time out, so it is retried, as its message says; a stop must work
    // at once.
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
    let (name, _running, port) = idle_standin(&bench);
    // More connections at once than there are places; they stay open.
    let silent: Vec<TcpStream> = (0..100).map(|_| connect(&port)).collect();
    owner_gets_through(&bench, &name, &port);
    let keyless =
        KeylessClients::connecting_to(&port, Duration::from_millis(20), Vec::new(), 100);
    keyless.wait_for(10);
    owner_gets_through(&bench, &name, &port);
    drop((silent, keyless));
    owner_gets_through(&bench, &name, &port);
}

#[test]
fn endless_hellos_keep_no_client_out() {
    let bench = Bench::new();
    let (name, _running, port) = idle_standin(&bench);
    let hello = frame(&Query::Hello { nonce: [7; NONCE_BYTES] });
    let keyless = KeylessClients::connecting_to(&port, Duration::from_millis(2), hello, 12);
    keyless.wait_for(20);
    owner_gets_through(&bench, &name, &port);
}

#[test]
fn each_client_gets_its_own_replies() {
    let bench = Bench::new();
    let (_, _running, port) = idle_standin(&bench);
    let fetch = |offset: u16| {
        let port = port.clone();
        thread::spawn(move || {
            let mut client = connect(&port);
            for _ in 0..100 {
                client.write_all(&frame(&Query::Furnace { offset })).unwrap();
                let received = next_notice(&mut client, |notice| {
                    let Notice::Furnace(chunk) = notice else {
                        panic!("offset {offset}: {notice:?}")
                    };
                    Some(chunk.offset)
                });
                assert_eq!(received, offset);
            }
        })
    };
    let clients: Vec<_> = (0..4).map(fetch).collect();
    clients.into_iter().for_each(|client| client.join().unwrap());
}

#[test]
fn half_a_frame_is_not_joined_to_the_next() {
    let bench = Bench::new();
    let (_, _running, port) = idle_standin(&bench);
    let query = frame(&Query::Log { from: 0 });
    for half in 1..query.len() - 1 {
        let mut first = connect(&port);
        first.write_all(&query[..half]).unwrap();
        drop(first);
        let mut client = connect(&port);
        client.write_all(&query).unwrap();
        next_notice(&mut client, |notice| matches!(notice, Notice::Log { .. }).then_some(()));
    }
}

#[test]
fn a_recording_goes_on_while_other_clients_query_and_stop() {
    recording_goes_on(&[]);
}

/// One client records while others upload, query and stop.
pub(crate) fn recording_goes_on(more: &[&str]) {
    let bench = Bench::new();
    let schedule = bench.short();
    let name = schedule.display().to_string();
    assert!(bench.run(&["rehearse", &name, "--out", "trial", "--json"]).code <= 1);
    let args = ["--key", "d.key", "--listen", "tcp:127.0.0.1:0", "--operator", "--once"];
    let args = [&args[..], &["--speed", "20"], more].concat();
    let (running, port) = bench.spawn_standin(&schedule, &args);
    let (at, folder) = (port.clone(), bench.path(""));
    let recorder = thread::spawn(move || recorded(&folder, &at));
    while !bench.path("it.firing").exists() {
        thread::sleep(Duration::from_millis(20));
    }
    let mut client = upload_without_clearance(&schedule, &bench.path("d.key"), &port);
    let since = Instant::now();
    while client.status().unwrap().step.is_none() {
        assert!(since.elapsed() < DEADLINE, "the operator does not press start");
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
    assert_eq!(replayed["stretches"], 2, "before the upload and after it: {replayed:#}");
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
    let mut stalled = connect(&port);
    let ticks = Query::Subscribe(Subscription { ticks: true, status: true });
    stalled.write_all(&frame(&ticks)).unwrap();
    next_notice(&mut stalled, |notice| matches!(notice, Notice::Origin(_)).then_some(()));
    let ended = running.end_within(4 * DEADLINE);
    assert_eq!(ended.code, 0, "{ended:#?}");
    drop(stalled);
}
