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

/// The top bit of the configuration reads as busy or idle and is ignored.
#[test]
fn each_tick_takes_two_write_reads() {
    let script = [start(), setting(0x42, 0x23), code(7), setting(0xC2, 0x23), code(-7)];
    assert_eq!(run(&script, 3), [None, Some(7), Some(-7)]);
}

/// Each transaction in turn fails: the chip is set up again in the same tick, or in the next if
/// that failed.
#[test]
fn bus_error_costs_one_reading() {
    let fail = |step: Transaction| step.with_error(ErrorKind::Other);
    let good = || [setting(0x42, 0x23), code(9)];
    for (failing, starts) in [
        (vec![fail(setting(0x42, 0x23)), start()], 0),
        (vec![setting(0x42, 0x23), fail(code(8)), start()], 0),
        (vec![fail(setting(0x42, 0x23)), fail(start()), start()], 1),
    ] {
        let script = [&[start()], &good()[..], &failing[..], &good()[..]].concat();
        let mut expected = vec![None, Some(9), None, Some(9)];
        expected.splice(2..2, std::iter::repeat_n(None, starts));
        assert_eq!(run(&script, expected.len()), expected);
    }
    assert_eq!(
        run(&[&[fail(start()), start()], &good()[..]].concat(), 3),
        [None, None, Some(9)]
    );
}

/// After a reset, with a wrong bit, with a stuck line.
#[test]
fn wrong_configuration_gives_no_reading() {
    for (high, low) in [(0x85, 0x83), (0x43, 0x23), (0x42, 0x22), (0xFF, 0xFF), (0, 0)] {
        let script = [start(), setting(high, low), start(), setting(0x42, 0x23), code(9)];
        assert_eq!(run(&script, 3), [None, None, Some(9)]);
    }
}
