//! Target `programme`: arbitrary bytes as a programme for a device, or as a log for the host.

use saggar_bench::replay::Replayer;
use saggar_client::logfile::{LogRecord, MAGIC, Reader};
use saggar_core::Controller;
use saggar_core::checksum::CRC;
use saggar_core::furnace::Furnace;
use saggar_core::io::Buttons;
use saggar_core::programme::{ProgrammeImage, Timeline, verify};
use saggar_device::store::Store;

use crate::example::PROFILE;
use crate::memory::layout;
use crate::setup::{Setup, provisioned};

/// Ticks of a firing: long enough for the first steps to begin.
const TICKS: u32 = 200;

/// The first byte selects the kind of input: 0 is a log, 1 a log without the checksums of its records,
/// which no fuzzer would guess, and any other value a programme.
pub fn programme(input: &[u8]) {
    match input.split_first() {
        Some((0, log)) => replay(log),
        Some((1, records)) => replay(&with_checksums(records)),
        Some((_, bytes)) => image(bytes),
        None => {}
    }
}

fn with_checksums(mut records: &[u8]) -> Vec<u8> {
    let mut log = MAGIC.to_vec();
    while let [_, low, high, rest @ ..] = records {
        let length = usize::from(u16::from_le_bytes([*low, *high])).min(rest.len());
        let (record, after) = records.split_at(3 + length);
        log.extend(record);
        log.extend(CRC.checksum(record).to_le_bytes());
        records = after;
    }
    log
}

/// A programme is either rejected, or its steps are consistent and the controller accepts it exactly if it
/// has no violations.
fn image(input: &[u8]) {
    let Ok(image) = ProgrammeImage::from_bytes(input) else { return };
    assert_eq!(image.steps().count(), usize::from(image.len()));
    assert_eq!(
        ProgrammeImage::from_bytes_with_digest(image.bytes(), &image.digest()).as_ref(),
        Ok(&image)
    );
    let mut timeline = Timeline::new();
    for step in image.steps() {
        timeline.advance(&step.action);
    }
    let violations = verify(&image, &PROFILE.furnace);
    let mut core = Controller::new(PROFILE.furnace.clone());
    let loaded = core.load(image.bytes(), &image.digest());
    assert_eq!(
        loaded.is_ok(),
        violations.is_empty(),
        "the controller and the verification disagree"
    );
    if loaded.is_ok() {
        fire(&image);
    }
}

/// Fires a valid programme.
fn fire(image: &ProgrammeImage) {
    let flash = provisioned(false);
    let mut store = Store::open(flash.clone(), layout()).expect("memory reads");
    store.begin_upload(image.bytes().len() as u16).expect("erases");
    store.write_chunk(0, image.bytes()).expect("writes");
    store.commit(&image.digest()).expect("commits");
    let mut setup = Setup::boot(flash).expect("boots");
    for buttons in [
        Buttons { confirm: true, ..Buttons::default() },
        Buttons::default(),
        Buttons { start: true, ..Buttons::default() },
    ] {
        setup.tick(buttons);
    }
    for _ in 0..TICKS {
        setup.tick(Buttons::default());
    }
}

/// Reads a log up to its first damaged record, and replays it.
fn replay(input: &[u8]) {
    let Ok(mut reader) = Reader::on(input) else { return };
    let Ok(furnace) = postcard::from_bytes::<Furnace>(&reader.head.furnace) else { return };
    let mut replayer = Replayer::new(furnace);
    while let Ok(Some(record)) = reader.record() {
        match record {
            LogRecord::Programme(bytes) => replayer.set_programme(bytes),
            LogRecord::Origin { number, programme, memory } => {
                if replayer.begin_at_origin(number, programme, &memory).is_err() {
                    return;
                }
            }
            LogRecord::Tick(tick) => {
                replayer.replay_tick(&tick);
            }
        }
    }
    replayer.finish();
}
