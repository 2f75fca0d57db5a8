//! Uploads over a connection that is cut: the tool reports the device's true programme.

use std::io::{Read as _, Write as _};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::thread;
use std::time::Duration;

use serde_json::Value;

use crate::bench::Bench;

/// A proxy between the tool and a device. Its first connection is cut after this number of frames,
/// counted in both directions; later ones work, unless it is to stay dead.
fn cutting_proxy(device: SocketAddr, frames: u32, stays_dead: bool) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = listener.local_addr().unwrap();
    thread::spawn(move || {
        let mut left = frames;
        while let Ok((client, _)) = listener.accept() {
            if left == 0 && stays_dead {
                continue;
            }
            let device = TcpStream::connect(device).unwrap();
            let budget = Arc::new(AtomicU32::new(if left > 0 { left } else { u32::MAX }));
            left = 0;
            for (from, to) in [(&client, &device), (&device, &client)] {
                let (from, to) = (from.try_clone().unwrap(), to.try_clone().unwrap());
                let budget = Arc::clone(&budget);
                thread::spawn(move || forward(from, to, &budget));
            }
        }
    });
    at
}

/// Forwards frames as long as the budget lasts, then closes both ends.
fn forward(mut from: TcpStream, mut to: TcpStream, budget: &AtomicU32) {
    let mut buffer = [0; 512];
    while let Ok(bytes @ 1..) = from.read(&mut buffer) {
        for piece in buffer[..bytes].split_inclusive(|byte| *byte == 0) {
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
    let result = bench.run(&["device", "info", "--json", "--port", port]);
    assert_eq!(result.code, 0, "{result:#?}");
    let info: Value = serde_json::from_str(&result.out).unwrap();
    info["device"]["programme"].clone()
}

/// Wherever the connection is cut, exit code and message agree with the programme in the device.
#[test]
fn an_upload_that_is_cut_says_what_the_device_has() {
    let bench = Bench::new();
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml"]).code, 0);
    let mut wrong = Vec::new();
    let (mut arrived, mut not_arrived) = (0, 0);
    for frames in 1..=40 {
        let device = bench.device(Duration::from_millis(1));
        let at = cutting_proxy(device.at, frames, false);
        let port = format!("tcp:{at}");
        let upload =
            ["device", "upload", "schedules/job.toml", "--key", "bench.key", "--port", &port];
        let result = bench.run(&upload);
        let changed = active(&bench, &device.port()) != Value::Null;
        let words = format!("{}{}", result.out, result.err).replace("\n    ", " ");
        let words = words.replace("\n  ", " ");
        let true_words = match (changed, result.code) {
            (true, 0) => words.contains("uploaded to"),
            (false, 1 | 2) => !words.contains("is the active one"),
            (true | false, _) => false,
        };
        if !true_words {
            wrong.push((frames, changed, result));
        } else if changed {
            arrived += 1;
        } else {
            not_arrived += 1;
        }
    }
    println!("{arrived} arrived, {not_arrived} did not");
    assert!(wrong.is_empty(), "{} of 40: {wrong:#?}", wrong.len());
    assert!(
        arrived > 5 && not_arrived > 5,
        "{arrived} {not_arrived}: not both outcomes were tested"
    );
}

/// The connection dies with the last order and stays dead, so the tool cannot know the outcome.
#[test]
fn the_outcome_is_unknown_when_the_connection_stays_dead() {
    let bench = Bench::new();
    assert_eq!(bench.run(&["rehearse", "schedules/job.toml"]).code, 0);
    let bench = &bench;
    let try_at = move |frames| {
        let device = bench.device(Duration::from_millis(1));
        let port = format!("tcp:{}", cutting_proxy(device.at, frames, true));
        let upload =
            ["device", "upload", "schedules/job.toml", "--key", "bench.key", "--port", &port];
        (bench.run(&upload), active(bench, &device.port()) != Value::Null)
    };
    let all: Vec<_> = thread::scope(|scope| {
        let runs: Vec<_> = (4..=16).map(|frames| scope.spawn(move || try_at(frames))).collect();
        runs.into_iter().map(|run| run.join().unwrap()).collect()
    });
    let mut unknown = 0;
    for (result, changed) in &all {
        let err = result.err.replace("\n  ", " ");
        match result.code {
            0 => assert!(*changed && result.out.contains("uploaded to"), "{result:#?}"),
            3 => {
                assert!(err.contains("is not known") && err.contains("saggar device info"));
                unknown += 1;
            }
            _ => assert!(result.code == 2 && !changed, "{result:#?}"),
        }
    }
    assert!(unknown > 0 && unknown < 4, "{unknown} of {}: {all:#?}", all.len());
}
