//! Stress of a layer on a body that contracts differently, against Timoshenko's bimetal (J. Opt. Soc. Am. 11
//! (1925) 233), solved here for two layers that bend and stretch together, and against Selsing's pressure on
//! a round inclusion (J. Am. Ceram. Soc. 44 (1961) 419, from memory) as a check of the magnitude.

use saggar_plant::piece::mismatch_pa;
use saggar_plant::spec::GlassSpec;

use super::lanthanum;

const BODY_PER_K: f64 = 7.3e-6;

/// Mean stress (Pa) in a layer of `layer_m` on one face of a body of `body_m` that may bend, both biaxial:
/// forces and moments of `E/(1−ν) (ε + κ z − α ΔT)` vanish.
fn bimetal_pa(glass: &GlassSpec, layer_m: f64, body_m: f64, body_pa: f64) -> f64 {
    let glass_pa = glass.young_pa / (1.0 - glass.poisson);
    let cooling_k = 20.0 - glass.transition_c;
    // Each layer: modulus, ends along z, free strain.
    let layers = [
        (body_pa, 0.0, body_m, BODY_PER_K * cooling_k),
        (glass_pa, body_m, body_m + layer_m, glass.expansion_per_k * cooling_k),
    ];
    let (mut a, mut b, mut d, mut force, mut moment) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (modulus, from, to, strain) in layers {
        let (first, second) =
            ((to * to - from * from) / 2.0, (to.powi(3) - from.powi(3)) / 3.0);
        a += modulus * (to - from);
        b += modulus * first;
        d += modulus * second;
        force += modulus * strain * (to - from);
        moment += modulus * strain * first;
    }
    let determinant = a * d - b * b;
    let (strain, curvature) =
        ((force * d - moment * b) / determinant, (a * moment - b * force) / determinant);
    let (_, _, _, free) = layers[1];
    glass_pa * (strain + curvature * (body_m + 0.5 * layer_m) - free)
}

#[test]
fn a_thin_layer_has_the_stress_of_timoshenkos_bimetal() {
    let body_pa = 260.0e9 / 0.75;
    for expansion_per_k in [6.997e-6, 8.0e-6] {
        let glass = GlassSpec { expansion_per_k, ..lanthanum() };
        let thin = mismatch_pa(&glass, BODY_PER_K);
        let ratio = |layer_m: f64| bimetal_pa(&glass, layer_m, 0.5e-3, body_pa) / thin;
        assert!((ratio(0.5e-7) - 1.0).abs() < 1e-3, "{}", ratio(0.5e-7));
        // The thin layer is the worst case: thicker ones bend the body and carry less.
        assert!((0.7..0.9).contains(&ratio(0.06e-3)), "{}", ratio(0.06e-3));
        println!("0.06 mm on 0.5 mm: {:.3}", ratio(0.06e-3));
        // Tension where the glass contracts more.
        assert_eq!(thin > 0.0, expansion_per_k > BODY_PER_K);
    }
}

#[test]
fn a_layer_and_a_round_inclusion_have_stresses_of_one_size() {
    // Alumina grains in glass: `Δα ΔT / ((1 + ν)/(2 E) + (1 − 2 ν)/E)`.
    let (young, poisson, strain) = (80.0e9_f64, 0.25, 1.1e-6 * 615.0);
    let selsing = strain / ((1.0 + poisson) / (2.0 * young) + (1.0 - 2.0 * 0.23) / 400.0e9);
    assert!((selsing / 1e6 - 73.8336_f64).abs() < 1e-3, "{selsing}");
    let expansion_per_k = BODY_PER_K + 1.1e-6;
    let glass = GlassSpec { young_pa: young, poisson, expansion_per_k, ..lanthanum() };
    let layer = mismatch_pa(&glass, BODY_PER_K);
    assert!((layer / selsing - 1.0).abs() < 0.05, "{layer} {selsing}");
}
