//! The control thermocouple's converter: traffic, order of conversions, faults.

use saggar_core::io::ThermocoupleSample;
use saggar_core::sensors::ThermocoupleType;
use saggar_drivers::ads1220::Ads1220;

use crate::support::{Breaking, Frame, bus, levels};

const EMF: u8 = 0x00;
const TERMINALS: u8 = 0x02;
/// 25 °C in the upper 14 of 24 bits.
const WARM: i32 = 0x0320 << 10;

fn start(gain: u8, mode: u8) -> Frame {
    let sent = vec![0x43, gain, mode, 0x10, 0, 0x23, 0, 0, 0, 0, 0x08];
    let answer = vec![0, 0, 0, 0, 0, 0, gain, mode, 0x10, 0, 0];
    Frame { sent, answer }
}

fn tick(gain: u8, was: u8, next: u8, code: i32) -> Frame {
    let [_, high, mid, low] = code.to_be_bytes();
    let sent = vec![0x10, 0, 0, 0, 0x23, 0, 0, 0, 0, 0x44, next, 0x08];
    let answer = vec![0, high, mid, low, 0, gain, was, 0x10, 0, 0, 0, 0];
    Frame { sent, answer }
}

/// The transaction of the n-th tick after a start.
fn scripted(n: u32, code: i32) -> Frame {
    match n {
        0 => start(0x0C, TERMINALS),
        n if n % 10 == 1 => tick(0x0C, TERMINALS, EMF, WARM),
        n if n % 10 == 0 => tick(0x0C, EMF, TERMINALS, code),
        _ => tick(0x0C, EMF, EMF, code),
    }
}

/// The same after a restart with a known cold junction.
fn restarted(n: u32, code: i32) -> Frame {
    match n {
        0 => start(0x0C, EMF),
        1 => tick(0x0C, EMF, TERMINALS, code),
        2 => tick(0x0C, TERMINALS, EMF, WARM),
        _ => tick(0x0C, EMF, EMF, code),
    }
}

fn sample(emf_nv: i32, age_ms: u16) -> Option<ThermocoupleSample> {
    Some(ThermocoupleSample { emf_nv, cold_junction_mc: 25_000, open: false, age_ms })
}

/// Runs `ticks` ticks from power-on against a script and returns the last sample.
fn last(
    script: &[Frame],
    pin: &str,
    nth: Option<usize>,
    ticks: usize,
) -> Vec<Option<ThermocoupleSample>> {
    let mut spi = bus(script);
    let mut ready = levels(pin);
    let breaking = Breaking::new(&spi, nth);
    let mut chip = Ads1220::new(breaking, ready.clone(), ThermocoupleType::S);
    let read = (0..ticks).map(|_| chip.read()).collect();
    spi.done();
    ready.done();
    read
}

/// First the cold junction, then voltages; in the eleventh tick the cold junction again, when the
/// sample repeats the voltage of the tick before with its age.
#[test]
fn cold_junction_is_converted_every_tenth_tick() {
    let mut script: Vec<_> = (0..14).map(|n| scripted(n, 4096 * n as i32)).collect();
    // A warmer cold junction the second time.
    script[11] = tick(0x0C, TERMINALS, EMF, (0x0320 + 1) << 10);
    let read = last(&script, &format!("H{}", "LH".repeat(13)), None, 14);
    assert_eq!(read[..2], [None, None]);
    for (step, sample_read) in (2..11).zip(&read[2..]) {
        assert_eq!(*sample_read, sample(15_625 * step, 100), "tick {step}");
    }
    let warmer = |emf_nv, age_ms| {
        let cold_junction_mc = 25_031;
        Some(ThermocoupleSample { emf_nv, cold_junction_mc, open: false, age_ms })
    };
    assert_eq!(read[11], warmer(156_250, 200));
    assert_eq!(read[12], warmer(187_500, 100));
    assert_eq!(read[13], warmer(203_125, 100));
}

/// Each transaction in turn fails: no sample in that tick, in which the chip is set up again, and the
/// next voltage comes with the old cold junction.
#[test]
fn bus_error_costs_one_sample() {
    for nth in 2..14 {
        let before = (0..nth).map(|n| scripted(n, 4096));
        let script: Vec<_> = before.chain((0..4).map(|n| restarted(n, 8192))).collect();
        let pin = format!("H{}", "LH".repeat(nth as usize + 3));
        let read = last(&script, &pin, Some(nth as usize), nth as usize + 4);
        let after = [None, sample(31_250, 100), sample(31_250, 200), sample(31_250, 100)];
        assert_eq!(read[nth as usize..], after, "{nth}");
    }
}

/// Without a cold junction that is converted first; a failed setup is retried in the next tick.
#[test]
fn bus_error_during_setup_is_retried_next_tick() {
    for (nth, pin, ticks) in [(0, "HLHLH", 4), (1, "HLHLHLH", 4)] {
        let before = (0..nth).map(|n| scripted(n, 4096));
        let script: Vec<_> = before.chain((0..3).map(|n| scripted(n, 8192))).collect();
        let read = last(&script, pin, Some(nth as usize), ticks);
        assert_eq!(read, [None, None, None, sample(31_250, 100)], "{nth}");
    }
}

/// A chip that answers only every other tick never converts its cold junction again: the old one is
/// used for 25 ticks and no longer.
#[test]
fn cold_junction_expires_after_25_ticks() {
    let mut script: Vec<_> = (0..3).map(|n| scripted(n, 4096)).collect();
    let bad = tick(0x0C, EMF, EMF, 0).with(5, 1);
    // Ticks 3 to 26: wrong registers and a new start, then one voltage.
    for _ in 0..12 {
        script.extend([bad.clone(), start(0x0C, EMF), tick(0x0C, EMF, TERMINALS, 8192)]);
    }
    // Tick 27: now the cold junction comes first.
    script.extend([bad, start(0x0C, TERMINALS)]);
    let read = last(&script, &format!("H{}", "LH".repeat(27)), None, 28);
    let pair = [None, sample(31_250, 100)];
    assert_eq!(read[2], sample(15_625, 100));
    assert_eq!(read[3..], [pair.repeat(12), vec![None]].concat());
}

/// Each register in turn reads back wrong, during setup and in a tick.
#[test]
fn wrong_register_gives_no_sample() {
    for at in 0..4 {
        let script = [start(0x0C, TERMINALS).with(6 + at, 1), scripted(0, 0)];
        assert_eq!(last(&script, "H", None, 2), [None, None]);
        let mut script: Vec<_> = (0..3).map(|n| scripted(n, 4096)).collect();
        script.push(scripted(3, 4096).with(5 + at, 1));
        script.extend((0..2).map(|n| restarted(n, 8192)));
        let read = last(&script, "HLHLHLHLH", None, 5);
        assert_eq!(read[2..], [sample(15_625, 100), None, sample(31_250, 100)]);
    }
}

/// A data line stuck high or low. The chip is asked again in the next two ticks, and then set up anew, with the
/// cold junction that is known.
#[test]
fn line_stuck_at_one_level_gives_no_sample() {
    for level in [0x00, 0xFF] {
        let dead = start(0x0C, TERMINALS).hanging(level);
        assert_eq!(last(&[dead.clone(), dead], "", None, 2), [None, None]);
        let mut script: Vec<_> = (0..3).map(|n| scripted(n, 4096)).collect();
        script.push(scripted(3, 4096).hanging(level));
        let mut short = script.clone();
        short.push(tick(0x0C, EMF, EMF, 8192));
        let read = last(&short, "HLHLHLLH", None, 5);
        assert_eq!(read[3..], [None, sample(31_250, 200)]);
        script.extend([3, 3].map(|n| scripted(n, 4096).hanging(level)));
        script.extend((0..2).map(|n| restarted(n, 8192)));
        let read = last(&script, "HLHLHLLLHLH", None, 8);
        assert_eq!(read[3..], [None, None, None, None, sample(31_250, 100)]);
    }
}

/// After a tick without an answer the register tells whether the chip heard of its next input.
#[test]
fn the_next_input_is_told_by_the_register_after_a_silence() {
    for heard in [false, true] {
        let mut script: Vec<_> = (0..10).map(|n| scripted(n, 4096)).collect();
        script.push(scripted(10, 4096).hanging(0xFF));
        let (was, code) = if heard { (TERMINALS, WARM) } else { (EMF, 8192) };
        script.extend([tick(0x0C, was, TERMINALS, code), tick(0x0C, TERMINALS, EMF, WARM)]);
        let read = last(&script, &format!("H{}LLHLH", "LH".repeat(9)), None, 13);
        let next =
            if heard { [(15_625, 300), (15_625, 400)] } else { [(31_250, 200), (31_250, 300)] };
        assert_eq!(read[10], None);
        assert_eq!(read[11..], next.map(|(emf_nv, age_ms)| sample(emf_nv, age_ms)), "{heard}");
    }
    // Without a silence the other input is wrong.
    let mut script: Vec<_> = (0..3).map(|n| scripted(n, 4096)).collect();
    script.extend([tick(0x0C, TERMINALS, EMF, WARM), start(0x0C, EMF)]);
    assert_eq!(last(&script, "HLHLHLH", None, 4)[3], None);
}

/// The data-ready pin shows no conversion, cannot be read, or is stuck low.
#[test]
fn without_data_ready_there_is_no_sample() {
    for (pin, frames) in [("HLHLHH", 3), ("HLHLHx", 3), ("HLHLHLL", 4), ("HLHLHLx", 4)] {
        let mut script: Vec<_> = (0..frames).map(|n| scripted(n, 4096)).collect();
        script.extend((0..2).map(|n| restarted(n, 8192)));
        let read = last(&script, &format!("{pin}HLH"), None, 5);
        assert_eq!(read[2..], [sample(15_625, 100), None, sample(31_250, 100)], "{pin}");
    }
}

#[test]
fn code_at_either_rail_means_open() {
    for (code, open) in [
        (0x7F_FFFF, true),
        (-0x80_0000, true),
        (0x7F_FFFE, false),
        (-0x7F_FFFF, false),
        (0, false),
    ] {
        let script: Vec<_> = (0..3).map(|n| scripted(n, code)).collect();
        let read = last(&script, "HLHLH", None, 3)[2].unwrap();
        assert_eq!(read.open, open, "{code}");
    }
}

/// Full scale is the reference over the gain.
#[test]
fn full_scale_is_right_for_both_gains() {
    for kind in ThermocoupleType::ALL {
        let noble =
            matches!(kind, ThermocoupleType::S | ThermocoupleType::R | ThermocoupleType::B);
        let (gain, half_scale_nv) = if noble { (0x0C, 16_000_000) } else { (0x0A, 32_000_000) };
        let script = [
            start(gain, TERMINALS),
            tick(gain, TERMINALS, EMF, -25 << 15),
            tick(gain, EMF, EMF, 0x40_0000),
        ];
        let mut spi = bus(&script);
        let mut ready = levels("HLHLH");
        let mut chip = Ads1220::new(spi.clone(), ready.clone(), kind);
        let read = [chip.read(), chip.read(), chip.read()][2].unwrap();
        assert_eq!((read.emf_nv, read.cold_junction_mc), (half_scale_nv, -25_000));
        spi.done();
        ready.done();
    }
}
