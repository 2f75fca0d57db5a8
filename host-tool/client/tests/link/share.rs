//! How much of the line an upload uses.

use std::time::Duration;

use saggar_device::wire::Answer;

use crate::simulated::{Harm, RATE, Simulated, key};

/// Share of the line that is at least to be used while a programme is sent.
const SHARE_MIN: f64 = 0.95;

/// The line is busy for all but a little of the time from the first piece to the last.
#[test]
fn an_upload_keeps_the_link_busy() {
    for bytes in [1024, 60_000] {
        for latency_ms in [1, 2, 4, 8, 16] {
            let latency = Duration::from_millis(latency_ms);
            let mut line = Simulated::new(latency, Harm::default(), 1);
            let programme: Vec<u8> = (0..bytes).map(|i| (i % 251) as u8).collect();
            let answer = line.upload(&programme, &key()).unwrap();
            assert!(matches!(answer, Answer::Committed { .. }) && line.again == 0);
            assert_eq!(line.fake.programme, programme);
            let from = line.pieces.first().unwrap().0;
            let to = line.pieces.last().unwrap().1;
            let sent: usize = line.pieces.iter().map(|piece| piece.2).sum();
            let took = (to - from).as_secs_f64();
            let share = sent as f64 / RATE / took;
            let own = bytes as f64 / RATE / took;
            println!(
                "{bytes} bytes, {latency_ms} ms: {share:.4} of the line, {own:.4} with the \
                 programme's own bytes"
            );
            assert!(share >= SHARE_MIN, "{bytes} bytes at {latency_ms} ms: {share}");
        }
    }
}

/// The measure can fail: one piece at a time does not fill the line.
#[test]
fn a_window_of_one_leaves_the_link_idle() {
    let mut line = Simulated::new(Duration::from_millis(16), Harm::default(), 1);
    line.fake.window = 1;
    line.upload(&[5; 6000], &key()).unwrap();
    let from = line.pieces.first().unwrap().0;
    let to = line.pieces.last().unwrap().1;
    let sent: usize = line.pieces.iter().map(|piece| piece.2).sum();
    assert!(sent as f64 / RATE / (to - from).as_secs_f64() < 0.5);
}
