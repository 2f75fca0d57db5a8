//! Maximum lengths of an encoded snapshot and of encoded furnace data.

use saggar_core::controller::{SNAPSHOT_BYTES_MAX, StartError};
use saggar_core::events::{Channel, Wait};
use saggar_core::furnace::{FURNACE_BYTES_MAX, FURNACE_PASS_TICKS, Furnace, VacuumSystem};
use saggar_core::{Cause, Controller};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::{bytes, restored};
use crate::support::{furnace, image, ramp, step};

/// Some number; every one takes four bytes.
const F: f32 = 1234.5;
const F3: [f32; 3] = [F; 3];
const F4: [f32; 4] = [F; 4];
/// A coast.
const COAST: [f32; 2] = [F; 2];

fn encoded(value: &impl Serialize) -> Vec<u8> {
    let mut room = [0; 1024];
    postcard::to_slice(value, &mut room).expect("room").to_vec()
}

const CAUSE: Option<Cause> = Some(Cause::ProgrammeChanged);

fn bookmark() -> impl Serialize {
    Some((63u8, u16::MAX, i16::MIN, u8::MAX))
}

fn interlock() -> impl Serialize {
    let effect = Some((u8::MAX, F, F));
    let no_rise = Some((u16::MAX, F, F));
    let settled = Some((F, Some(F)));
    let heater = (F, effect, no_rise, u16::MAX, settled, CAUSE);
    let code = (i32::MIN, true, u16::MAX, Some(F), Some(F));
    let counts = [u16::MAX; 3];
    let element = Some(F);
    let asked = (Some(F), F, F, u16::MAX);
    let channels =
        (element, asked, u16::MAX, u16::MAX, counts, [code; 2], Some(Channel::Limit));
    let (clock, contactor) = ((u16::MAX, u16::MAX), u16::MAX);
    let current = (counts, (F, true, F), CAUSE, u8::MAX);
    let setpoint = u8::MAX;
    let isolation = (u8::MAX, u32::MAX, u32::MAX);
    let pump_down = (u8::MAX, u32::MAX, true, true);
    let gauge = (u16::MAX, u16::MAX, u32::MAX);
    let vacuum = (isolation, pump_down, (u8::MAX, u32::MAX), gauge);
    let buckets = [u8::MAX; 3];
    let second = (u8::MAX, F, F);
    (CAUSE, F, buckets, second, heater, channels, clock, contactor, current, setpoint, vacuum)
}

fn sequencer() -> impl Serialize {
    let cooling = (true, Some((u16::MAX, F)));
    let drawing = (2u8, u32::MAX, u32::MAX, true);
    let returning = Some((i32::MIN, u32::MAX));
    let run = (
        (63u8, u64::MAX, u32::MAX, u64::MAX, Some(F4), cooling),
        (u32::MAX, u32::MAX, drawing, returning, [true; 3], u8::MAX),
    );
    ((1u8, run), true)
}

fn heat() -> impl Serialize {
    let trim = (F, -1i8, F, Some(F));
    let renewed = (F4, F3, F, COAST);
    (Some((trim, renewed)), (Some(F), F, u8::MAX))
}

fn vacuum() -> impl Serialize {
    let hold = (Some(u32::MAX), u8::MAX, true, u8::MAX, u32::MAX, true);
    (3u8, u8::MAX, true, hold)
}

fn previous() -> impl Serialize {
    let demand = (true, Some(F4), Some(u32::MAX), [true; 4], Some(Wait::Air), Some(2u8));
    let outputs = (u8::MAX, [true; 7]);
    let start_error = Some(StartError::Tripped(Cause::ProgrammeChanged));
    let contact = (true, u8::MAX, true);
    // At most two minutes of a lift.
    let travel = (1_100u16, u8::MAX);
    let alarm = (Some(Wait::Air), u16::MAX, u8::MAX, true);
    let told = (Some(u8::MAX), true, true, CAUSE, true);
    (
        (Some(u64::MAX), [true; 3], demand, outputs, Some(F), Some(F), F),
        (start_error, contact, travel, alarm, true, told),
    )
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
    let all = (
        format,
        mark,
        [Some((F, F, u16::MAX)); 2],
        interlock(),
        sequencer(),
        heat(),
        vacuum(),
        u32::MAX,
        previous(),
        (bookmark(), true, Some((63u8, true, u64::MAX))),
        (FURNACE_PASS_TICKS - 1, true),
    );
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
