//! Maximum lengths of an encoded snapshot and of encoded furnace data.

use saggar_core::controller::SNAPSHOT_BYTES_MAX;
use saggar_core::furnace::{FURNACE_BYTES_MAX, FURNACE_GROUPS, Furnace, VacuumSystem};
use saggar_core::{Cause, Controller};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::{bytes, restored};
use crate::support::{furnace, image, ramp, step};

/// Some number; every one takes four bytes.
const F: f32 = 1234.5;
const F3: [f32; 3] = [F; 3];

fn encoded(value: &impl Serialize) -> Vec<u8> {
    let mut room = [0; 1024];
    postcard::to_slice(value, &mut room).expect("room").to_vec()
}

/// Every option present, every integer at its maximum. The values are written out field by field, so
/// that a change of the format fails the test.
#[test]
fn the_longest_snapshot() {
    let steps: Vec<_> = (1..=64).map(|index| step(ramp(900 + index, 30))).collect();
    let image = image(&steps);
    let mut core = Controller::new(furnace());
    core.load(image.bytes(), &image.digest()).unwrap();
    let start = bytes(&core);
    let head = postcard::take_from_bytes::<(u8, Option<(u32, u16, bool)>)>(&start);
    let (format, mark) = head.expect("a head").0;
    let (crc, _, _) = mark.expect("a programme");
    assert!(crc >= 1 << 28, "a checksum of five bytes");

    let mark = Some((crc, u16::try_from(image.bytes().len()).unwrap(), true));
    let tracker = Some((F, F, u16::MAX));
    let cause = Some(Cause::ProgrammeChanged);
    let window = Some((u8::MAX, F, F));
    let heater = (u8::MAX, F, F, window, u16::MAX, u16::MAX, Some(F), true);
    let setpoint = (u8::MAX, F, u8::MAX);
    let interlock = (cause, F, u8::MAX, u8::MAX, u16::MAX, u8::MAX, heater, setpoint);
    let drawing = (2u8, u32::MAX, u32::MAX);
    let run = (63u8, u64::MAX, u64::MAX, Some(F3), u32::MAX, u32::MAX, drawing, true, true);
    let sequencer = ((1u8, run), true);
    let trim = (F, -1i8, F, Some(F));
    let heat = Some((trim, F3, F3, u8::MAX));
    let vacuum = (3u8, u8::MAX, true);
    let plan = (true, Some(F3), Some(u32::MAX), true, true, true);
    let told = (Some(u8::MAX), true, true, cause);
    let last = (Some(u64::MAX), [true; 3], plan, Some(F), F, told);
    let burst = u32::MAX;
    let guard = (FURNACE_GROUPS - 1, true);
    let all =
        (format, mark, [tracker; 2], interlock, sequencer, heat, vacuum, burst, last, guard);
    let longest = encoded(&all);
    println!("the longest snapshot has {} bytes", longest.len());
    assert!(longest.len() <= SNAPSHOT_BYTES_MAX);
    let core = restored(&furnace(), Some(&image), &longest).expect("readable");
    assert_eq!(bytes(&core), longest);
}

fn largest_furnace() -> Furnace {
    let mut furnace = furnace();
    let need = furnace.heater.feed_forward[0];
    while furnace.heater.feed_forward.push(need).is_ok() {}
    let gains = furnace.gains[0];
    while furnace.gains.push(gains).is_ok() {}
    furnace.limits.firing_max_s = u32::MAX;
    furnace.heater.conducting_ma = u32::MAX;
    furnace.heater.full_current_ma = Some(u32::MAX);
    furnace.control_sensor.correction_mk = i32::MIN;
    furnace.limit_sensor.correction_mk = i32::MIN;
    furnace.vacuum = Some(VacuumSystem { pressure_min_pa: u32::MAX });
    furnace
}

#[test]
fn the_largest_furnace() {
    assert_eq!(encoded(&largest_furnace()).len(), FURNACE_BYTES_MAX);
}

#[test]
fn a_furnace_has_the_digest_of_its_bytes() {
    let mut all = vec![furnace(), largest_furnace()];
    let mut other = furnace();
    other.limits.overshoot_max_k = f32::from_bits(other.limits.overshoot_max_k.to_bits() + 1);
    all.push(other);
    for furnace in &all {
        let digest: [u8; 32] = Sha256::digest(encoded(furnace)).into();
        assert_eq!(furnace.digest(), digest);
    }
    assert_ne!(all[0].digest(), all[2].digest(), "one bit");
}
