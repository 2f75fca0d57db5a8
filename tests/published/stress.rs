//! Thermal stress against plate theory: steady ramp and quench of a plate held flat (Timoshenko
//! and Goodier, Theory of Elasticity; Kingery, J. Am. Ceram. Soc. 38 (1955) 3), and the
//! resistance parameters R and R'. Moduli and strengths of porous bodies are only roughly known, but
//! here they are inputs.

use saggar_plant::piece::{
    AMBIENT_VAPOUR_SHARE, Piece, PieceConditions, faces_c, pa_per_k, resistance_k,
};
use saggar_plant::spec::{BodySpec, UncertainValue, WorkSpec};

use super::alumina;

struct Solid {
    strength: f64,
    young: f64,
    poisson: f64,
    expansion: f64,
    k: f64,
}

fn body(s: &Solid) -> BodySpec {
    BodySpec {
        strength_pa: s.strength,
        young_pa: s.young,
        poisson: s.poisson,
        expansion_per_k: s.expansion,
        k_w_m_k: s.k,
        ..alumina()
    }
}

fn bare(body: BodySpec) -> WorkSpec {
    WorkSpec {
        count: 1,
        purpose: None,
        wall_within_m: 0.0,
        wall_m: UncertainValue::relative(1.0e-3, 0.0),
        area_m2: 2.0e-4,
        body,
        coat: None,
        lubricant_share: 0.0,
        moisture_share: 0.0,
        infiltrated: false,
        roughness_m: 0.0,
    }
}

/// Averages of a profile over the four quarters of a wall, `x` from -1 to 1, by Simpson's rule
/// on a fine grid.
fn quarters(profile: impl Fn(f64) -> f64) -> [f64; 4] {
    let average = |from: f64| {
        let n = 200;
        let h = 0.5 / f64::from(n);
        let sum: f64 = (0..n)
            .map(|i| {
                let x = from + f64::from(i) * h;
                (profile(x) + 4.0 * profile(x + 0.5 * h) + profile(x + h)) / 6.0
            })
            .sum();
        sum / f64::from(n)
    };
    [average(-1.0), average(-0.5), average(0.0), average(0.5)]
}

const PRESINTERED: Solid =
    Solid { strength: 20.0e6, young: 30.0e9, poisson: 0.2, expansion: 8.1e-6, k: 2.5 };

/// A plate of half thickness L that heats at β: `T = T_surface - β (L² - x²) / (2 κ)`, surface
/// stress `E α β L² / (3 κ (1 - ν))`, half of it with the other sign in the middle. 2.5 K/s and
/// κ 9e-7 m²/s: 0.0703125 MPa at L 0.5 mm, 7.03125 MPa at L 5 mm.
#[test]
fn steady_ramp_of_a_plate() {
    for (half, expected_pa) in [(0.5e-3, 0.070_312_5e6), (5.0e-3, 7.031_25e6)] {
        let depth_k = 2.5 * half * half / (2.0 * 9.0e-7);
        for sign in [1.0, -1.0] {
            let layers_c = quarters(|x| 600.0 - sign * depth_k * (1.0 - x * x));
            let mut piece = Piece::new(&bare(body(&PRESINTERED)));
            piece.step(
                1.0,
                &PieceConditions {
                    layers_c,
                    pressure_pa: 101_325.0,
                    vapour_share: AMBIENT_VAPOUR_SHARE,
                },
            );
            let stress = piece.stress;
            // Heating compresses the surface, cooling puts it under tension.
            let (surface, other) = if sign > 0.0 {
                (stress.compression, stress.tension)
            } else {
                (stress.tension, stress.compression)
            };
            assert!((surface.value / expected_pa - 1.0).abs() < 1e-6, "{surface:?}");
            assert!(other.value < 1e-6 * expected_pa);
        }
    }
}

/// Quench of a plate at Biot number 1: the maximum of mean minus surface is 0.208258 of the step, at
/// Fourier number 0.1922 (exact series). The eigenvalues are those of Incropera's appendix B.3. Four
/// layers do not resolve the steep profile at the face: the piece is 3.7 % low, at most 4 % is accepted.
#[test]
fn quench_of_a_plate() {
    let zeta = [0.860_334, 3.425_618, 6.437_298, 9.529_334];
    let theta = |x: f64| -> f64 {
        zeta.iter()
            .map(|z: &f64| {
                let c = 4.0 * z.sin() / (2.0 * z + (2.0 * z).sin());
                c * (-z * z * 0.1922).exp() * (z * x).cos()
            })
            .sum()
    };
    // From 120 °C into 20 °C.
    let layers_c = quarters(|x| 20.0 + 100.0 * theta(x));
    let mut piece = Piece::new(&bare(body(&PRESINTERED)));
    piece.step(
        1.0,
        &PieceConditions {
            layers_c,
            pressure_pa: 101_325.0,
            vapour_share: AMBIENT_VAPOUR_SHARE,
        },
    );
    let expected = pa_per_k(&body(&PRESINTERED)) * 20.8258;
    let found = piece.stress.tension.value;
    assert!((0.96..1.0).contains(&(found / expected)), "{found} {expected}");
}

/// The extrapolation to the faces is exact for a parabola, at both faces.
#[test]
fn faces_of_a_parabola() {
    let profile = |x: f64| 700.0 + 12.0 * x - 5.0 * x * x;
    let (outer, inner) = faces_c(&quarters(profile));
    assert!((outer - profile(-1.0)).abs() < 1e-9 && (inner - profile(1.0)).abs() < 1e-9);
}

/// Resistance parameters `R = σ (1 - ν) / (E α)` and `R' = R k` of four solids.
#[test]
fn resistance_parameters() {
    let table = [
        (380.0e6, 416.0e9, 0.231, 7.1e-6, 33.0, 98.9369, 3264.9),
        (20.0e6, 30.0e9, 0.2, 8.1e-6, 2.5, 65.8436, 164.609),
        (450.0e6, 260.0e9, 0.25, 7.3e-6, 4.0, 177.8188, 711.275),
        (96.0e6, 80.0e9, 0.25, 7.0e-6, 1.2, 128.5714, 154.286),
    ];
    for (strength, young, poisson, expansion, k, r, r_prime) in table {
        let body = body(&Solid { strength, young, poisson, expansion, k });
        let found = resistance_k(&body);
        assert!((found / r - 1.0).abs() < 1e-5, "{found} {r}");
        assert!((found * body.k_w_m_k / r_prime - 1.0).abs() < 1e-5);
    }
}

/// Shop practice: a thin coping does not crack from a furnace's ramp.
#[test]
fn no_ramp_cracks_a_thin_wall() {
    let depth_k = 2.5 * 0.5e-3 * 0.5e-3 / (2.0 * 9.0e-7);
    let layers_c = quarters(|x| 600.0 + depth_k * (1.0 - x * x));
    let mut piece = Piece::new(&bare(body(&PRESINTERED)));
    piece.step(
        1.0,
        &PieceConditions {
            layers_c,
            pressure_pa: 101_325.0,
            vapour_share: AMBIENT_VAPOUR_SHARE,
        },
    );
    assert!(piece.stress.tension.value < 20.0e6 / 100.0);
}
