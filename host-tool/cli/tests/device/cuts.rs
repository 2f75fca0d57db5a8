//! An upload over a line that is cut: what the tool says of the programme is what is so.

use std::io::{Read as _, Write as _};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::thread;
use std::time::Duration;

use serde_json::Value;

use crate::bench::Bench;

/// A line between the tool and a device that dies after so many frames, both ways together. A
/// connection that is made afterwards is whole, unless the line is to stay dead.
fn cut_line(device: SocketAddr, frames: u32, stays_dead: bool) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = listener.local_addr().unwrap();
    thread::spawn(move || {
        let mut left = frames;
        while let Ok((desk, _)) = listener.accept() {
            if left == 0 && stays_dead {
                continue;
            }
            let device = TcpStream::connect(device).unwrap();
            let budget = Arc::new(AtomicU32::new(if left > 0 { left } else { u32::MAX }));
            left = 0;
            for (from, to) in [(&desk, &device), (&device, &desk)] {
                let (from, to) = (from.try_clone().unwrap(), to.try_clone().unwrap());
                let budget = Arc::clone(&budget);
                thread::spawn(move || carry(from, to, &budget));
            }
        }
    });
    at
}

/// Carries frames as long as the budget lasts; then neither side hears anything any more.
fn carry(mut from: TcpStream, mut to: TcpStream, budget: &AtomicU32) {
    let mut room = [0; 512];
    while let Ok(bytes @ 1..) = from.read(&mut room) {
        for piece in room[..bytes].split_inclusive(|byte| *byte == 0) {
            let ends = piece.last() == Some(&0);
            let whole = !ends
                || budget
                    .fetch_update(Ordering::Relaxed, Ordering::Relaxed, |left| {
                        left.checked_sub(1)
                    })
                    .is_ok();
            if !whole || to.write_all(piece).is_err() {
                let _ = (from.shutdown(Shutdown::Both), to.shutdown(Shutdown::Both));
                return;
            }
        }
    }
    let _ = (from.shutdown(Shutdown::Both), to.shutdown(Shutdown::Both));
}

fn active(bench: &Bench, port: &str) -> Value {
    let said = bench.run(&["device", "info", "--json", "--port", port]);
    assert_eq!(said.code, 0, "{said:#?}");
    let info: Value = serde_json::from_str(&said.out).unwrap();
    info["device"]["programme"].clone()
}

/// Wherever the line is cut, the exit code and the words are those of what the device has.
#[test]
fn an_upload_that_is_cut_says_what_the_device_has() {
    let bench = Bench::new();
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml"]).code, 0);
    let mut wrong = Vec::new();
    let (mut there, mut not_there) = (0, 0);
    for frames in 1..=40 {
        let device = bench.device(Duration::from_millis(1));
        let at = cut_line(device.at, frames, false);
        let port = format!("tcp:{at}");
        let upload =
            ["device", "upload", "schedules/job.toml", "--key", "bench.key", "--port", &port];
        let said = bench.run(&upload);
        let changed = active(&bench, &device.port()) != Value::Null;
        let words = format!("{}{}", said.out, said.err).replace("\n    ", " ");
        let words = words.replace("\n  ", " ");
        let true_words = match (changed, said.code) {
            (true, 0) => words.contains("uploaded to"),
            (false, 1 | 2) => !words.contains("is the active one"),
            (true | false, _) => false,
        };
        if !true_words {
            wrong.push((frames, changed, said));
        } else if changed {
            there += 1;
        } else {
            not_there += 1;
        }
    }
    println!("{there} arrived, {not_there} did not");
    assert!(wrong.is_empty(), "{} of 40: {wrong:#?}", wrong.len());
    assert!(there > 5 && not_there > 5, "{there} {not_there}: the cuts show nothing");
}

/// A line that dies with the last order and stays dead: what is so is not known, and is not said.
#[test]
fn the_outcome_is_unknown_when_the_connection_stays_dead() {
    let bench = Bench::new();
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml"]).code, 0);
    let bench = &bench;
    let try_at = move |frames| {
        let device = bench.device(Duration::from_millis(1));
        let port = format!("tcp:{}", cut_line(device.at, frames, true));
        let upload =
            ["device", "upload", "schedules/job.toml", "--key", "bench.key", "--port", &port];
        (bench.run(&upload), active(bench, &device.port()) != Value::Null)
    };
    let all: Vec<_> = thread::scope(|scope| {
        let runs: Vec<_> = (4..=16).map(|frames| scope.spawn(move || try_at(frames))).collect();
        runs.into_iter().map(|run| run.join().unwrap()).collect()
    });
    let mut unknown = 0;
    for (said, changed) in &all {
        let err = said.err.replace("\n  ", " ");
        match said.code {
            0 => assert!(*changed && said.out.contains("uploaded to"), "{said:#?}"),
            3 => {
                assert!(err.contains("is not known") && err.contains("saggar device info"));
                unknown += 1;
            }
            _ => assert!(said.code == 2 && !changed, "{said:#?}"),
        }
    }
    assert!(unknown > 0 && unknown < 4, "{unknown} of {}: {all:#?}", all.len());
}
