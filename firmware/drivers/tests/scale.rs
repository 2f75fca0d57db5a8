//! Codes to pressure and current.

use saggar_drivers::scale::{CurrentScale, PressureScale};

const GAUGE: PressureScale =
    PressureScale { zero_mv: 500, pa_per_mv: 40, lowest_mv: 400, highest_mv: 3900 };

#[test]
fn pressure_is_linear_above_the_live_zero() {
    for (code, pascals) in [
        (4000, Some(0)),
        (4001, Some(5)),
        (4008, Some(40)),
        (24_800, Some(104_000)),
        // Just below its zero a gauge still lives.
        (3999, Some(0)),
        (3200, Some(0)),
        (3199, None),
        (0, None),
        (-1, None),
        (i16::MIN, None),
        (31_200, Some(136_000)),
        (31_201, None),
        (i16::MAX, None),
    ] {
        assert_eq!(GAUGE.pascals(code), pascals, "{code}");
    }
}

/// Scales at the limits of their types.
#[test]
fn absurd_gauge_data_do_not_overflow() {
    for zero_mv in [i16::MIN, 0, i16::MAX] {
        let gauge = PressureScale {
            zero_mv,
            pa_per_mv: u16::MAX,
            lowest_mv: i16::MIN,
            highest_mv: i16::MAX,
        };
        for code in [i16::MIN, -1, 0, 1, i16::MAX] {
            let exact = (f64::from(code) - 8.0 * f64::from(zero_mv)).max(0.0) * 65535.0 / 8.0;
            let scaled = f64::from(gauge.pascals(code).unwrap());
            // Where 32 bits end the answer stays at their end.
            assert!(
                (scaled - exact.min(536_870_911.0)).abs() <= 0.5,
                "{zero_mv} {code}: {scaled} {exact}"
            );
        }
    }
}

#[test]
fn current_is_linear_up_to_full_scale() {
    let sensor = CurrentScale { ma_per_mv: 20 };
    for (code, milliamperes) in [
        (0, Some(0)),
        (-16, Some(0)),
        (-17, None),
        (1, Some(3)),
        (8, Some(20)),
        (i16::MAX, Some(81_918)),
        (i16::MIN, None),
    ] {
        assert_eq!(sensor.milliamperes(code), milliamperes, "{code}");
    }
}
