//! The share of the link's rate that an upload uses.

use std::time::Duration;

use saggar_device::wire::Answer;

use crate::simulated::{Impairment, RATE, Simulated, key};

/// Smallest share of the link's rate that must be used while chunks are sent.
const SHARE_MIN: f64 = 0.95;

/// The link is busy for nearly all of the time from the first chunk to the last.
#[test]
fn an_upload_keeps_the_link_busy() {
    for bytes in [1024, 60_000] {
        for latency_ms in [1, 2, 4, 8, 16] {
            let latency = Duration::from_millis(latency_ms);
            let mut link = Simulated::new(latency, Impairment::default(), 1);
            let programme: Vec<u8> = (0..bytes).map(|i| (i % 251) as u8).collect();
            let answer = link.upload(&programme, &key()).unwrap();
            assert!(matches!(answer, Answer::Committed { .. }) && link.resent_orders == 0);
            assert_eq!(link.fake.programme, programme);
            let from = link.chunks.first().unwrap().0;
            let to = link.chunks.last().unwrap().1;
            let sent: usize = link.chunks.iter().map(|chunk| chunk.2).sum();
            let took = (to - from).as_secs_f64();
            let share = sent as f64 / RATE / took;
            let own = bytes as f64 / RATE / took;
            println!(
                "{bytes} bytes, {latency_ms} ms: {share:.4} of the link, {own:.4} with the \
                 programme's own bytes"
            );
            assert!(share >= SHARE_MIN, "{bytes} bytes at {latency_ms} ms: {share}");
        }
    }
}

/// The test of the share can fail: with one chunk at a time the link idles.
#[test]
fn a_window_of_one_leaves_the_link_idle() {
    let mut link = Simulated::new(Duration::from_millis(16), Impairment::default(), 1);
    link.fake.window = 1;
    link.upload(&[5; 6000], &key()).unwrap();
    let from = link.chunks.first().unwrap().0;
    let to = link.chunks.last().unwrap().1;
    let sent: usize = link.chunks.iter().map(|chunk| chunk.2).sum();
    assert!(sent as f64 / RATE / (to - from).as_secs_f64() < 0.5);
}
