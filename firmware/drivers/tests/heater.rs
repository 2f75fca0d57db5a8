//! Burst firing: whole cycles, in the order that was asked, and off when nothing is.

use saggar_drivers::heater::BurstHeater;

use crate::support::Pin;

/// The pin after each of `n` crossings.
fn crossings(heater: &mut BurstHeater<Pin>, pin: &Pin, n: usize) -> String {
    let half = |_| {
        assert_eq!(heater.zero_crossing(), Ok(()));
        if pin.high.get() { '1' } else { '0' }
    };
    (0..n).map(half).collect()
}

#[test]
fn patterns_conduct_in_whole_cycles() {
    let pin = Pin::default();
    let mut heater = BurstHeater::new(pin.clone());
    for (pattern, count, halves) in [
        (0b10110, 5, "0011110011"),
        (0b11111, 5, "1111111111"),
        (0b00001, 5, "1100000000"),
        (0b00000, 5, "0000000000"),
        (0b100000, 6, "000000000011"),
        (0xFF, 8, "1111111111111111"),
    ] {
        heater.load(pattern, count).unwrap();
        assert_eq!(crossings(&mut heater, &pin, 2 * usize::from(count)), halves, "{pattern:b}");
        // Used up: low, for as long as no tick comes.
        assert_eq!(crossings(&mut heater, &pin, 4), "0000", "{pattern:b}");
    }
}

#[test]
fn cycles_beyond_the_count_do_not_conduct() {
    let pin = Pin::default();
    let mut heater = BurstHeater::new(pin.clone());
    heater.load(0xFF, 3).unwrap();
    assert_eq!(crossings(&mut heater, &pin, 8), "11111100");
    heater.load(0xFF, 200).unwrap();
    assert_eq!(crossings(&mut heater, &pin, 18), "111111111111111100");
}

/// Wherever in a cycle the tick falls, every run of conduction is an even number of half-cycles.
#[test]
fn tick_at_any_phase_draws_no_direct_current() {
    for between in 1..24 {
        let pin = Pin::default();
        let mut heater = BurstHeater::new(pin.clone());
        let mut halves = String::new();
        for tick in 0..40u8 {
            heater.load(tick.wrapping_mul(37) >> 1, 5).unwrap();
            halves += &crossings(&mut heater, &pin, between);
        }
        heater.load(0, 5).unwrap();
        halves += &crossings(&mut heater, &pin, 2);
        let runs: Vec<usize> = halves.split('0').map(str::len).collect();
        assert!(runs.iter().any(|run| *run > 0), "{between}: {halves}");
        assert!(runs.iter().all(|run| run % 2 == 0), "{between}: {halves}");
    }
}

/// The mains detector fails while the pin is high.
#[test]
fn without_crossings_the_pin_goes_low() {
    let pin = Pin::default();
    let mut heater = BurstHeater::new(pin.clone());
    heater.load(0b11111, 5).unwrap();
    assert_eq!(crossings(&mut heater, &pin, 3), "111");
    heater.load(0b11111, 5).unwrap();
    assert!(pin.high.get(), "there were crossings in this tick");
    heater.load(0b11111, 5).unwrap();
    assert!(!pin.high.get());
    // They come back, and with them the heat.
    assert_eq!(crossings(&mut heater, &pin, 2), "11");
}

#[test]
fn failing_pin_is_reported_and_drops_the_pattern() {
    let pin = Pin::default();
    let mut heater = BurstHeater::new(pin.clone());
    heater.load(0b11111, 5).unwrap();
    pin.broken.set(true);
    heater.zero_crossing().unwrap_err();
    assert_eq!(*pin.history.borrow(), [true, false], "low was tried");
    pin.broken.set(false);
    assert_eq!(crossings(&mut heater, &pin, 4), "0000", "what was loaded is gone");
}

#[test]
fn off_acts_at_once() {
    let pin = Pin::default();
    let mut heater = BurstHeater::new(pin.clone());
    heater.load(0b11111, 5).unwrap();
    assert_eq!(crossings(&mut heater, &pin, 1), "1");
    heater.off().unwrap();
    assert!(!pin.high.get());
    assert_eq!(crossings(&mut heater, &pin, 4), "0000");
}

#[test]
fn crossings_are_counted_until_they_are_taken() {
    let pin = Pin::default();
    let mut heater = BurstHeater::new(pin.clone());
    heater.load(0b11111, 5).unwrap();
    crossings(&mut heater, &pin, 9);
    assert_eq!((heater.take_crossings(), heater.take_crossings()), (9, 0));
    // Without a pattern they are counted as well, and they do not wrap.
    crossings(&mut heater, &pin, 300);
    assert_eq!(heater.take_crossings(), 255);
}
