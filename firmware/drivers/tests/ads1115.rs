//! The slow converters: traffic and faults.

use embedded_hal::i2c::ErrorKind;
use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
use saggar_drivers::ads1115::Ads1115;

const AT: u8 = 0x49;

fn start() -> Transaction {
    Transaction::write(AT, vec![0x01, 0x42, 0x23])
}

fn setting(high: u8, low: u8) -> Transaction {
    Transaction::write_read(AT, vec![0x01], vec![high, low])
}

fn code(code: i16) -> Transaction {
    Transaction::write_read(AT, vec![0x00], code.to_be_bytes().to_vec())
}

fn run(script: &[Transaction], ticks: usize) -> Vec<Option<i16>> {
    let mut bus = Mock::new(script);
    let mut chip = Ads1115::new(AT);
    let read = (0..ticks).map(|_| chip.read(&mut bus)).collect();
    bus.done();
    read
}

/// Busy or idle: the top bit of the configuration says nothing else.
#[test]
fn traffic_is_two_write_reads_a_tick() {
    let script = [start(), setting(0x42, 0x23), code(7), setting(0xC2, 0x23), code(-7)];
    assert_eq!(run(&script, 3), [None, Some(7), Some(-7)]);
}

#[test]
fn a_bus_error_starts_anew() {
    let fail = |step: Transaction| step.with_error(ErrorKind::Other);
    let good = [setting(0x42, 0x23), code(9)];
    let begin = [start(), good[0].clone(), code(9)].to_vec();
    for (failing, ticks) in [
        (vec![fail(start())], 1),
        ([&begin[..], &[fail(setting(0x42, 0x23))]].concat(), 3),
        ([&begin[..], &[setting(0x42, 0x23), fail(code(9))]].concat(), 3),
    ] {
        let read = run(&[&failing[..], &begin[..]].concat(), ticks + 2);
        assert_eq!(read[ticks - 1..], [None, None, Some(9)]);
    }
}

/// After a reset, with a bit wrong, with a line that hangs.
#[test]
fn a_wrong_setting_is_no_reading() {
    for (high, low) in [(0x85, 0x83), (0x43, 0x23), (0x42, 0x22), (0xFF, 0xFF), (0, 0)] {
        let script = [start(), setting(high, low), start(), setting(0x42, 0x23), code(9)];
        assert_eq!(run(&script, 4), [None, None, None, Some(9)]);
    }
}
