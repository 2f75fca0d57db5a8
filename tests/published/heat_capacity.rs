//! Heat capacities of the bodies against the NIST WebBook.
//!
//! The figures are worked out elsewhere from Shomate's equation with the WebBook's coefficients; those of
//! alumina are within 0.7 % of JANAF's table of 1998, which is given here, too.

use saggar_plant::heat_curve::HeatCurve;
use saggar_plant::spec::BodySpec;

#[track_caller]
fn assert_within(found: f64, expected: f64, share: f64) {
    assert!((found / expected - 1.0).abs() <= share, "{found} is not {expected}");
}

/// J/(kg K) at a temperature (K).
#[test]
fn values_of_the_webbook() {
    for (kelvin, expected) in [
        (298.15, 772.885),
        (500.0, 1040.831),
        (773.15, 1167.705),
        (1000.0, 1224.862),
        (1273.15, 1270.495),
        (1373.15, 1283.303),
        (1473.15, 1294.612),
    ] {
        assert_within(HeatCurve::ALUMINA.at(kelvin), expected, 1e-6);
    }
    for (kelvin, zirconia, spinel) in
        [(300.0, 457.13, 819.93), (1000.0, 614.73, 1255.79), (1373.15, 642.86, 1361.27)]
    {
        assert_within(HeatCurve::ZIRCONIA.at(kelvin), zirconia, 2e-5);
        assert_within(HeatCurve::SPINEL.at(kelvin), spinel, 2e-5);
    }
}

/// Heat from 298.15 K, kJ/kg: the integral of the WebBook's equation.
#[test]
fn enthalpies_of_alumina() {
    for (kelvin, expected) in [(1273.15, 1105.739), (1373.15, 1233.443), (1473.15, 1362.350)] {
        assert_within(HeatCurve::ALUMINA.heat(298.15, kelvin), expected * 1e3, 1e-6);
        // The value that the chamber uses adds up to the same heat.
        let steps = 2000;
        let width = (kelvin - 298.15) / f64::from(steps);
        let middles = (0..steps).map(|i| 298.15 + (f64::from(i) + 0.5) * width);
        let sum: f64 = middles.map(|middle| HeatCurve::ALUMINA.at(middle) * width).sum();
        assert_within(sum, expected * 1e3, 1e-6);
    }
}

/// JANAF's table of alumina, J/(mol K), M 101.9613 g/mol.
#[test]
fn alumina_is_near_the_janaf_table() {
    for (kelvin, expected) in [
        (298.15, 79.015),
        (400.0, 96.086),
        (600.0, 112.545),
        (800.0, 120.135),
        (1000.0, 124.771),
        (1200.0, 128.252),
        (1400.0, 131.081),
    ] {
        assert_within(HeatCurve::ALUMINA.at(kelvin) * 0.101_961_3, expected, 7e-3);
    }
}

/// The bodies of the library have these curves; the toughened one is 43.4 % of zirconia by mass.
#[test]
fn bodies_follow_their_materials() {
    let at = |name: &str, kelvin: f64| {
        BodySpec::named(name).expect("a body of the library").heat_capacity().at(kelvin)
    };
    for kelvin in [330.0, 1000.0, 1400.0] {
        assert_within(at("alumina", kelvin), HeatCurve::ALUMINA.at(kelvin), 1e-3);
        assert_within(at("spinel", kelvin), HeatCurve::SPINEL.at(kelvin), 1e-3);
        let (alumina, zirconia) =
            (HeatCurve::ALUMINA.at(kelvin), HeatCurve::ZIRCONIA.at(kelvin));
        let mixed = 0.566 * alumina + 0.434 * zirconia;
        assert_within(at("zirconia-toughened", kelvin), mixed, 2e-3);
    }
}
