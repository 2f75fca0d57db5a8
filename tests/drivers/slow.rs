//! Pressure and current over their ranges and beyond.

use saggar_bench::chips::ChipFault;
use saggar_core::sensors::ThermocoupleType;

use super::board;
use super::wires::Chips;

/// Reads after the voltages were converted.
fn told(gauge_mv: f64, sensor_mv: f64) -> (Option<u32>, Option<u32>) {
    let chips = Chips::new();
    let mut board = board(&chips, ThermocoupleType::K);
    chips.gauge.borrow_mut().set(gauge_mv, ChipFault::None);
    chips.sensor.borrow_mut().set(sensor_mv, ChipFault::None);
    assert_eq!(board.read().pressure_pa, None, "nothing before the first conversion");
    chips.tick();
    let inputs = board.read();
    (inputs.pressure_pa, inputs.heater_current_ma)
}

/// A step of the converter is an eighth of a millivolt: 5 Pa, 2.5 mA.
#[test]
fn pressure_and_current_agree_within_a_converter_step() {
    for n in 0..=1000 {
        let pascals = f64::from(n) * 120.37;
        let milliamperes = f64::from(n) * 70.11;
        let (pressure, current) = told(500.0 + pascals / 40.0, milliamperes / 20.0);
        let off = f64::from(pressure.unwrap()) - pascals;
        assert!(off.abs() <= 5.0, "{pascals} Pa: {pressure:?}");
        let off = f64::from(current.unwrap()) - milliamperes;
        assert!(off.abs() <= 3.0, "{milliamperes} mA: {current:?}");
    }
}

#[test]
fn gauge_outside_its_live_range_gives_no_pressure() {
    for (gauge_mv, pressure) in [
        (0.0, None),
        (399.0, None),
        (401.0, Some(0)),
        (500.0, Some(0)),
        (3899.0, Some(135_960)),
        (3901.0, None),
        (5000.0, None),
        (-100.0, None),
    ] {
        assert_eq!(told(gauge_mv, 0.0).0, pressure, "{gauge_mv} mV");
    }
}

/// Beyond its range the converter reports the end of the range.
#[test]
fn current_is_limited_to_the_converters_range() {
    assert_eq!(told(1000.0, 5000.0).1, Some(81_918));
    assert_eq!(told(1000.0, -1.0).1, Some(0));
    assert_eq!(told(1000.0, -3.0).1, None);
}

/// The core gets the crossings since the last read, or nothing where they are not counted.
#[test]
fn crossings_are_read_once() {
    let chips = Chips::new();
    let mut board = board(&chips, ThermocoupleType::K);
    for crossings in [0, 10, 9, 0] {
        for _ in 0..crossings {
            board.zero_crossing();
        }
        assert_eq!(board.read().mains_crossings, Some(crossings));
    }
}
