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

/// Each transaction in turn fails: the chip is set up again in the same tick. If that failed as well, the next
/// tick finds the chip as it was set up before.
#[test]
fn bus_error_costs_one_reading() {
    let fail = |step: Transaction| step.with_error(ErrorKind::Other);
    let good = || [setting(0x42, 0x23), code(9)];
    for failing in [
        vec![fail(setting(0x42, 0x23)), start()],
        vec![setting(0x42, 0x23), fail(code(8)), start()],
        vec![fail(setting(0x42, 0x23)), fail(start())],
    ] {
        let script = [&[start()], &good()[..], &failing[..], &good()[..]].concat();
        assert_eq!(run(&script, 4), [None, Some(9), None, Some(9)]);
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
