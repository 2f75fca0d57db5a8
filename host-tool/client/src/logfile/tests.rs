//! Logs of a real controller, intact, cut and altered.

use saggar_bench::replay::{Gap, ReplayResult, Replayer};
use saggar_core::Controller;
use saggar_core::io::{ClosureContacts, Inputs, ThermocoupleSample};
use saggar_core::units::Instant;
use saggar_device::wire::{Origin, Tick};

use super::*;

/// A furnace of the examples.
fn furnace() -> saggar_core::furnace::Furnace {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/furnaces/lift-vacuum.toml");
    saggar_schedule::profile::Profile::load(std::path::Path::new(path)).unwrap().furnace
}

/// The bytes of a log of this number of ticks, without the ticks in `lose`; a new origin follows ten
/// ticks after each.
fn log(ticks: u32, lose: &[u32]) -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.firing");
    let furnace = furnace();
    let head = LogHeader {
        device: *b"kiln-7\0\0",
        image: [0, 1, 0],
        began_s: 0,
        furnace: postcard::to_stdvec(&furnace).unwrap(),
    };
    let mut writer = Writer::create(&path, &head).unwrap();
    let mut core = Controller::new(furnace);
    for number in 1..=ticks {
        if number == 1 || lose.iter().any(|lost| lost + 10 == number) {
            let mut buffer = [0; 250];
            let used = core.save_snapshot(&mut buffer).unwrap();
            let memory = &buffer[..used];
            writer.origin(&Origin { number: number - 1, programme: None, memory }).unwrap();
        }
        let inputs = inputs(number);
        let at_ms = u64::from(number) * 100;
        let outputs = core.step(Instant::from_millis(at_ms), &inputs);
        if !lose.contains(&number) {
            writer.tick(&Tick::new(number, at_ms, &inputs, &outputs)).unwrap();
        }
    }
    writer.flush().unwrap();
    assert!(Writer::create(&path, &head).is_err(), "an existing recording is never replaced");
    std::fs::read(&path).unwrap()
}

/// A cold furnace whose control sensor opens at tick 40: the core trips, and its outputs change.
fn inputs(number: u32) -> Inputs {
    let sample = |open| ThermocoupleSample {
        emf_nv: 1000 + i32::try_from(number % 7).unwrap(),
        cold_junction_mc: 23_000,
        open,
        age_ms: 0,
    };
    Inputs {
        control: Some(sample(number >= 40)),
        limit: Some(sample(false)),
        pressure_pa: Some(101_325),
        closure: ClosureContacts { shut: true, open: false },
        ..Inputs::default()
    }
}

/// Replays a log. Returns the result, and where it is damaged.
fn replayed(mut reader: Reader<&[u8]>) -> (ReplayResult, Option<LogDamage>) {
    let furnace = postcard::from_bytes(&reader.head.furnace).unwrap();
    let mut replayer = Replayer::new(furnace);
    loop {
        match reader.record() {
            Ok(Some(LogRecord::Programme(bytes))) => replayer.set_programme(bytes),
            Ok(Some(LogRecord::Origin { number, programme, memory })) => {
                replayer.begin_at_origin(number, programme, &memory).unwrap();
            }
            Ok(Some(LogRecord::Tick(tick))) => drop(replayer.replay_tick(&tick)),
            Ok(None) => return (replayer.finish(), None),
            Err(damage) => return (replayer.finish(), Some(damage)),
        }
    }
}

fn replay(bytes: &[u8]) -> ReplayResult {
    let (replay, damage) = replayed(Reader::on(bytes).unwrap());
    assert_eq!(damage, None);
    replay
}

#[test]
fn a_log_replays_bit_for_bit() {
    let replay = replay(&log(100, &[]));
    let wanted = ReplayResult { stretches: 1, compared: 100, ..ReplayResult::default() };
    assert_eq!(replay, wanted);
}

#[test]
fn one_altered_bit_is_found_and_named() {
    let mut bytes = log(100, &[]);
    // Alter an output of tick 60 and correct the checksum, so that only the replay can notice.
    let mut at = MAGIC.len();
    let mut ticks = 0;
    loop {
        let length = usize::from(u16::from_le_bytes([bytes[at + 1], bytes[at + 2]]));
        let unchecked = 3 + length;
        if bytes[at] == TICK {
            ticks += 1;
            if ticks == 60 {
                let tick: Tick = postcard::from_bytes(&bytes[at + 3..at + unchecked]).unwrap();
                let mut outputs = tick.outputs();
                outputs.contactor = !outputs.contactor;
                let other = Tick::new(tick.number, tick.at_ms, &tick.inputs(), &outputs);
                let other = record(TICK, &postcard::to_stdvec(&other).unwrap());
                bytes.splice(at..at + unchecked + 4, other);
                break;
            }
        }
        at += unchecked + 4;
    }
    let replay = replay(&bytes);
    let differs = replay.difference.unwrap();
    assert_eq!((differs.tick, differs.at_ms, differs.output), (60, 6000, "contactor"));
    assert_ne!(differs.recorded, differs.replayed);
    assert_eq!(replay.compared, 60);
}

#[test]
fn a_gap_ends_a_stretch_and_an_origin_begins_another() {
    let replay = replay(&log(100, &[30]));
    assert_eq!(replay.gaps, [Gap { after: 29, before: 31, is_restart: false }]);
    assert_eq!((replay.stretches, replay.compared, replay.skipped), (2, 29 + 61, 9));
    assert_eq!(replay.difference, None);
}

/// A restarted device counts ticks from the beginning, as in the same log twice in a row.
#[test]
fn a_restart_begins_another_stretch() {
    let once = log(50, &[]);
    let head = MAGIC.len() + 3 + 4 + {
        let at = MAGIC.len();
        usize::from(u16::from_le_bytes([once[at + 1], once[at + 2]]))
    };
    let twice = [&once[..], &once[head..]].concat();
    let replay = replay(&twice);
    assert_eq!(replay.gaps, [Gap { after: 50, before: 1, is_restart: true }]);
    assert_eq!((replay.stretches, replay.compared, replay.skipped), (2, 100, 0));
}

#[test]
fn a_log_cut_at_any_byte_is_readable_up_to_its_last_intact_record() {
    let intact = log(20, &[]);
    let mut noticed = 0;
    for cut in 0..intact.len() {
        let Ok(reader) = Reader::on(&intact[..cut]) else { continue };
        let (replay, damage) = replayed(reader);
        assert_eq!(replay.difference, None);
        if let Some(at) = damage {
            assert!(!at.corrupt && at.intact_bytes <= cut as u64, "{cut}: {at:?}");
            noticed += 1;
        }
    }
    assert!(noticed > intact.len() / 2, "{noticed} of {} cuts were noticed", intact.len());
}

#[test]
fn a_tick_with_a_flipped_bit_is_never_accepted() {
    let intact = log(20, &[]);
    for at in 0..intact.len() {
        let mut bytes = intact.clone();
        bytes[at] ^= 0x10;
        let Ok(reader) = Reader::on(&bytes[..]) else { continue };
        let (replay, damage) = replayed(reader);
        assert!(damage.is_some() && replay.difference.is_none(), "byte {at}");
    }
}

#[test]
fn no_tick_is_longer_than_its_limit() {
    let inputs = Inputs {
        control: Some(ThermocoupleSample {
            emf_nv: i32::MIN,
            cold_junction_mc: i32::MIN,
            open: true,
            age_ms: u16::MAX,
        }),
        limit: Some(ThermocoupleSample {
            emf_nv: i32::MIN,
            cold_junction_mc: i32::MIN,
            open: true,
            age_ms: u16::MAX,
        }),
        pressure_pa: Some(u32::MAX),
        heater_current_ma: Some(u32::MAX),
        ..inputs(1)
    };
    let outputs = saggar_core::io::Outputs {
        heater_cycles: u8::MAX,
        lamp: true,
        buzzer: true,
        ..Default::default()
    };
    let tick = Tick::new(u32::MAX, u64::MAX, &inputs, &outputs);
    let bytes = record(TICK, &postcard::to_stdvec(&tick).unwrap()).len() as u64;
    assert_eq!(bytes, RECORDED_TICK_BYTES_MAX);
}
