//! Pressure and current over their ranges, and where they end.

use saggar_bench::chips::ChipFault;
use saggar_core::sensors::ThermocoupleType;

use super::board;
use super::wires::Chips;

/// Reads once the voltages have been converted.
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
fn pressure_and_current_come_through_within_a_step() {
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
fn a_gauge_outside_its_live_range_says_nothing() {
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

/// Too much current for the converter is told as the most that it can tell.
#[test]
fn current_ends_at_the_converters_end() {
    assert_eq!(told(1000.0, 5000.0).1, Some(81_918));
    assert_eq!(told(1000.0, -1.0).1, Some(0));
    assert_eq!(told(1000.0, -3.0).1, None);
}
