//! Seeds that a fuzzer would not find: valid programmes and a log in the current formats.

use std::path::Path;

use saggar_client::logfile::LogHeader;
use saggar_core::io::Buttons;
use saggar_device::wire::{FrameKind, Notice, Query, Subscription, decode_frame};

use crate::example::{IMAGES, PROFILE};
use crate::link::frame;
use crate::setup::{Setup, provisioned};

/// A record of a log without its checksum.
fn record(kind: u8, bytes: &[u8]) -> Vec<u8> {
    let length = u16::try_from(bytes.len()).expect("short");
    [&[kind], length.to_le_bytes().as_slice(), bytes].concat()
}

/// A log of the beginning of a firing, as a client records it.
fn log() -> Vec<u8> {
    let furnace = postcard::to_stdvec(&PROFILE.furnace).expect("plain data");
    let head = LogHeader { device: *b"fuzzbeds", image: [0, 1, 0], began_s: 0, furnace };
    let mut log = vec![1];
    log.extend(record(0, &postcard::to_stdvec(&head).expect("plain data")));
    log.extend(record(1, IMAGES[0].bytes()));
    let mut setup = Setup::boot(provisioned(true)).expect("boots");
    let subscription = Subscription { ticks: true, status: false };
    let query = frame(FrameKind::Query, None, &Query::Subscribe(subscription));
    setup.device.receive(setup.now(), &query);
    for tick in 0..40 {
        let buttons = Buttons { confirm: tick == 5, start: tick == 10, stop: false };
        setup.tick(buttons);
        for mut frame in setup.transmit() {
            frame.pop();
            let body = decode_frame(&mut frame).expect("a valid frame");
            let bytes = match body.message::<Notice<'_>>() {
                Ok(Notice::Origin(origin)) => record(2, &postcard::to_stdvec(&origin).unwrap()),
                Ok(Notice::Tick(tick)) => record(3, &postcard::to_stdvec(&tick).unwrap()),
                _ => continue,
            };
            log.extend(bytes);
        }
    }
    log
}

/// Writes the seeds. Run it by name after a change of a format.
#[test]
#[ignore = "writes seeds into the corpus"]
fn write_seeds() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/programme");
    for (index, image) in IMAGES.iter().enumerate() {
        let bytes = [&[2], image.bytes()].concat();
        std::fs::write(folder.join(format!("seed-programme-{index}")), bytes).expect("writes");
    }
    std::fs::write(folder.join("seed-log"), log()).expect("writes");
}
