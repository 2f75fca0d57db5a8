//! The limit thermocouple's converter: traffic, freshness, faults.

use saggar_core::io::ThermocoupleSample;
use saggar_core::sensors::ThermocoupleType;
use saggar_drivers::max31856::{MainsFrequency, Max31856};

use crate::support::{Breaking, Frame, bus, levels};

const REST: [u8; 8] = [0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80, 0x00, 0x00];

fn written(sent: Vec<u8>) -> Frame {
    Frame { sent, answer: vec![] }
}

fn start() -> [Frame; 2] {
    let mut table = vec![0x80, 0x11, 0x0C];
    table.extend(REST);
    [written(table), written(vec![0x80, 0x91])]
}

/// A burst: the cold junction at 25.5 °C.
fn burst(code: i32, sr: u8) -> Frame {
    let mut answer = vec![0, 0x91, 0x0C];
    answer.extend(REST);
    answer.extend([0x19, 0x80]);
    answer.extend(&(code << 13).to_be_bytes()[..3]);
    answer.push(sr);
    Frame { sent: vec![0; 17], answer }
}

fn sample(emf_nv: i32, age_ms: u16) -> Option<ThermocoupleSample> {
    Some(ThermocoupleSample { emf_nv, cold_junction_mc: 25_500, open: false, age_ms })
}

fn run(
    script: &[Frame],
    pin: &str,
    nth: Option<usize>,
    ticks: usize,
) -> Vec<Option<ThermocoupleSample>> {
    let mut spi = bus(script);
    let mut ready = levels(pin);
    let breaking = Breaking::new(&spi, nth);
    let mut chip =
        Max31856::new(breaking, ready.clone(), ThermocoupleType::S, MainsFrequency::Hz50);
    let read = (0..ticks).map(|_| chip.read()).collect();
    spi.done();
    ready.done();
    read
}

/// No sample before the first conversion; then one burst per tick.
#[test]
fn each_tick_takes_one_burst() {
    let [a, b] = start();
    let script = [a, b, burst(0, 0), burst(65_536, 0), burst(-65_536, 0)];
    let read = run(&script, "HLL", None, 4);
    assert_eq!(read, [None, None, sample(9_765_625, 200), sample(-9_765_625, 200)]);
}

/// A conversion without a newer one ages, and is then dropped.
#[test]
fn conversion_without_successor_expires() {
    let [a, b] = start();
    let mut script = vec![a.clone(), b.clone()];
    // What stands in the registers while the pin is high is not believed.
    script.extend([burst(65_536, 0), burst(1, 0), burst(1, 0), burst(1, 0), burst(1, 0), a, b]);
    let read = run(&script, "LHHHH", None, 6);
    let ages = [200, 300, 400, 500].map(|age_ms| sample(9_765_625, age_ms));
    assert_eq!(read[1..5], ages);
    assert_eq!([read[0], read[5]], [None, None]);
}

/// A chip that never converts is set up again and again and gives no sample.
#[test]
fn stopped_chip_gives_no_sample() {
    let [a, b] = start();
    let mut script = vec![a.clone(), b.clone()];
    for _ in 0..3 {
        script.extend(std::iter::repeat_n(burst(0, 0), 4));
        script.extend([a.clone(), b.clone()]);
    }
    assert_eq!(run(&script, &"H".repeat(12), None, 13), [None; 13]);
}

/// Each transaction in turn fails: no sample in that tick. A failed setup is retried in the next; a
/// failed burst is only repeated, since its registers show whether more is needed.
#[test]
fn bus_error_costs_one_sample() {
    let [a, b] = start();
    for nth in 0..2 {
        let begun = [a.clone()].into_iter().take(nth);
        let script: Vec<_> = begun.chain([a.clone(), b.clone(), burst(131, 0)]).collect();
        assert_eq!(run(&script, "L", Some(nth), 3), [None, None, sample(19_521, 200)]);
    }
    for nth in 2..6 {
        let bursts = std::iter::repeat_n(burst(65_536, 0), nth - 2);
        let mut script: Vec<_> = [a.clone(), b.clone()].into_iter().chain(bursts).collect();
        script.push(burst(131, 0));
        let read = run(&script, &"L".repeat(nth), Some(nth), nth + 1);
        assert_eq!(read[nth - 1..], [None, sample(19_521, 200)], "{nth}");
    }
}

/// The last conversion ages over the ticks in which the bus fails.
#[test]
fn bus_error_ages_the_last_conversion() {
    let [a, b] = start();
    let script = [a, b, burst(65_536, 0), burst(65_536, 0)];
    let read = run(&script, "LLH", Some(3), 4);
    assert_eq!(read[1..], [sample(9_765_625, 200), None, sample(9_765_625, 400)]);
}

/// Each bit of each configuration register in turn reads back wrong.
#[test]
fn wrong_register_gives_no_sample() {
    let [a, b] = start();
    for byte in 1..=10 {
        for bit in 0..8 {
            let good = burst(65_536, 0);
            let bad = good.with(byte, 1 << bit);
            let script = [a.clone(), b.clone(), good.clone(), bad, a.clone(), b.clone(), good];
            let read = run(&script, "LLL", None, 4);
            let known = sample(9_765_625, 200);
            assert_eq!(read, [None, known, None, known], "{byte}.{bit}");
        }
    }
}

/// The chip is left alone meanwhile, and set up again after four ticks.
#[test]
fn line_stuck_at_one_level_gives_no_sample() {
    let [a, b] = start();
    for level in [0x00, 0xFF] {
        let dead = burst(0, 0).hanging(level);
        let good = burst(65_536, 0);
        let script = [a.clone(), b.clone(), dead.clone(), good];
        let read = run(&script, "LL", None, 3);
        assert_eq!(read, [None, None, sample(9_765_625, 200)]);
        let dead = std::iter::repeat_n(dead, 4);
        let again = [a.clone(), b.clone()];
        let script: Vec<_> = again.clone().into_iter().chain(dead).chain(again).collect();
        assert_eq!(run(&script, "LLLL", None, 5), [None; 5]);
    }
}

/// An unreadable pin does not prove a new conversion.
#[test]
fn unreadable_data_ready_counts_as_no_conversion() {
    let [a, b] = start();
    let script = [a, b, burst(65_536, 0), burst(1, 0)];
    assert_eq!(run(&script, "Lx", None, 3)[2], sample(9_765_625, 300));
}

/// Bits of the status register. Those on the thermocouple's temperature are meaningless in voltage
/// mode, and the cold junction's thresholds are set outside its range.
#[test]
fn status_bits_are_reported() {
    for (sr, open) in [
        (0x01, Some(true)),
        (0x02, None),
        (0x80, None),
        (0x81, None),
        (0x40, Some(false)),
        (0x0C, Some(false)),
    ] {
        let [a, b] = start();
        let script = [a, b, burst(65_536, sr), burst(65_536, 0)];
        let read = run(&script, "LL", None, 3);
        assert_eq!(read[1].map(|sample| sample.open), open, "{sr:#04x}");
        // A fault that goes needs no new start.
        assert_eq!(read[2], sample(9_765_625, 200));
    }
}

#[test]
fn code_at_either_rail_means_open() {
    for (code, open) in [
        (131_071, true),
        (131_070, false),
        (-131_072, true),
        (-131_071, false),
        (262_143, true),
    ] {
        let [a, b] = start();
        let read = run(&[a, b, burst(code, 0)], "L", None, 2);
        assert_eq!(read[1].unwrap().open, open, "{code}");
    }
}

#[test]
fn gain_and_filter_follow_sensor_and_mains() {
    for (kind, mains, cr0, cr1) in [
        (ThermocoupleType::K, MainsFrequency::Hz60, 0x10, 0x08),
        (ThermocoupleType::N, MainsFrequency::Hz50, 0x11, 0x08),
        (ThermocoupleType::R, MainsFrequency::Hz60, 0x10, 0x0C),
        (ThermocoupleType::B, MainsFrequency::Hz50, 0x11, 0x0C),
    ] {
        let mut table = vec![0x80, cr0, cr1];
        table.extend(REST);
        let mut spi = bus(&[written(table), written(vec![0x80, cr0 | 0x80])]);
        let mut ready = levels("");
        let mut chip = Max31856::new(spi.clone(), ready.clone(), kind, mains);
        assert_eq!(chip.read(), None);
        spi.done();
        ready.done();
    }
}
