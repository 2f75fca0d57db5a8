//! Uncertainties of the guides to their expression, by the code that adds those of an infiltration.
//!
//! * JCGM 100:2008, H.1: calibration of an end gauge. Its components were compared with those that an
//!   independent program gives for the same example.
//! * JCGM 101:2008, 9.2: an additive model of four quantities. Values from memory; those for four rectangular
//!   quantities also follow from the exact distribution of their sum: `2 √3 (2 − (3/5)^(1/4))`.

use saggar_verdict::Distribution;

fn sum(parts: &[Distribution]) -> Distribution {
    parts.iter().fold(Distribution::normal(0.0), |sum, part| sum.plus(part))
}

/// The standard, the measured difference, the difference of expansion and that of temperature (nm).
#[test]
fn an_end_gauge() {
    let combined = sum(&[25.0, 9.7, 2.9, 16.6].map(Distribution::normal)).sd();
    assert!((combined - 32.0).abs() < 0.5, "{combined}");
}

/// Four quantities of deviation 1: deviation 2, and 95 % between ±3.92 for normal ones, but between ±3.88
/// for rectangular ones. Rectangular parts are summed as points, so a small normal part smooths the steps, as
/// others do in a firing; it widens the interval by 0.005.
#[test]
fn an_additive_model() {
    let normal = sum(&[1.0; 4].map(Distribution::normal));
    let rectangular = sum(&[3.0_f64.sqrt(); 4].map(Distribution::rectangular));
    assert!((rectangular.sd() - 2.0).abs() < 1e-9, "{}", rectangular.sd());
    let rectangular = rectangular.plus(&Distribution::normal(0.1));
    for (sum, limit, wrong) in [(normal, 3.92, 3.88), (rectangular, 3.885, 3.92)] {
        assert!((sum.sd() - 2.0).abs() < 3e-3 && sum.mean().abs() < 1e-12, "{}", sum.sd());
        let inside = |limit: f64| sum.cdf(limit) - sum.cdf(-limit);
        assert!((inside(limit) - 0.95).abs() < 5e-4, "{limit}: {}", inside(limit));
        assert!((inside(wrong) - 0.95).abs() > 1.5e-3, "{wrong}: {}", inside(wrong));
    }
}

/// One rectangular quantity that is much larger than the rest: JCGM 101:2008, 9.2.4. 95 % are between ±17.0,
/// and not between the ±19.9 of a normal sum with the same deviation.
#[test]
fn an_additive_model_with_a_dominant_quantity() {
    let root = 3.0_f64.sqrt();
    let sum = sum(&[root, root, root, 10.0 * root].map(Distribution::rectangular));
    assert!((sum.sd() - 103.0_f64.sqrt()).abs() < 1e-9, "{}", sum.sd());
    let inside = |limit: f64| sum.cdf(limit) - sum.cdf(-limit);
    assert!((inside(17.0) - 0.95).abs() < 5e-3, "{}", inside(17.0));
    assert!(inside(19.9) > 0.995, "{}", inside(19.9));
}
