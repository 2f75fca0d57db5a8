//! View factors and grey exchange against published formulas.
//!
//! * A sphere and a disc: solid angles by Paxton's formula with complete and incomplete elliptic integrals
//!   (Rev. Sci. Instrum. 30 (1959) 254, formula from memory), computed with mpmath to ten digits; one of
//!   them also by a double integral over the disc.
//! * Equal spheres: 0.0756 when they touch is the published value (from memory); the others by quadrature
//!   of the same measure of lines in mpmath, and within 1 % of 200,000 rays cast elsewhere.
//! * Discs on one axis, and the closed cylinder with three grey surfaces: Incropera, chapter 13, worked out
//!   to all digits given here.
//! * A thin cylinder on the axis of a disc: `atan(R/h)/π`, the integral of the form for an element.

use std::f64::consts::PI;

use saggar_plant::radiation::{
    Enclosure, SIGMA, Surface, cylinder_to_disc, cylinder_to_sphere, disc_to_disc, enclosed,
    sphere_to_disc, sphere_to_sphere,
};

#[track_caller]
fn assert_near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not {expected} ± {within}");
}

#[test]
fn a_sphere_sees_a_disc_under_the_published_solid_angle() {
    for (height, off_axis, radius, steradian) in [
        (15.0, 0.0, 36.0, 3.866_575_574),
        (15.0, 12.6, 36.0, 3.694_654_237),
        (15.0, 27.0, 36.0, 2.885_987_736),
        (65.0, 12.6, 40.0, 0.902_542_019_4),
        (0.5, 0.2, 1.0, 3.418_442_767),
        (0.5, 0.6, 1.0, 2.918_516_654),
        (1.0, 0.8, 1.0, 1.348_829_89),
        (2.0, 0.4, 1.0, 0.637_048_888_3),
    ] {
        let found = 4.0 * PI * sphere_to_disc(height, off_axis, radius);
        assert_near(found, steradian, 2e-7);
    }
    // On the axis, the closed form.
    assert_near(sphere_to_disc(15.0, 0.0, 36.0), 0.5 * (1.0 - 15.0 / 39.0), 1e-12);
}

#[test]
fn equal_spheres_see_each_other_as_published() {
    for (distance, expected) in [
        (2.0, 0.075_586_818),
        (2.5, 0.044_118_933),
        (3.0, 0.029_590_312),
        (10.0, 0.002_512_659),
    ] {
        assert_near(sphere_to_sphere(1.0, distance), expected, 2e-3 * expected);
    }
}

#[test]
fn a_pin_sees_its_table_and_what_it_carries() {
    for (height, radius) in [(10.8, 36.0), (1.0, 1.0), (3.0, 0.5)] {
        let expected = f64::atan(radius / height) / PI;
        assert_near(cylinder_to_disc([0.0, height], 0.0, radius), expected, 1e-12);
    }
    // An element 5 over a disc of 36 and 27 from its axis: a double integral over the disc.
    assert_near(cylinder_to_disc([4.999, 5.001], 27.0, 36.0), 0.346_166_96, 1e-6);
    // A disc and a sphere that fill the same cone look the same: at 2 from its centre, a sphere of 1.
    let cone = f64::tan(PI / 6.0);
    let disc = cylinder_to_disc([2.0, 2.0 + 1e-6], 0.0, 2.0 * cone);
    assert_near(cylinder_to_sphere([2.0, 2.0], 1.0), disc, 1e-6);
}

#[test]
fn discs_on_one_axis_see_each_other_as_published() {
    assert_near(disc_to_disc(45.0, 45.0, 80.0), 0.201_660_33, 1e-8);
    // Reciprocity of unequal discs, and the disc as a part of a plane.
    let (small, large) = (disc_to_disc(30.0, 40.0, 50.0), disc_to_disc(40.0, 30.0, 50.0));
    assert_near(small * 900.0, large * 1600.0, 1e-9);
    assert_near(disc_to_disc(1e-4, 40.0, 30.0), 0.64, 1e-9);
}

/// A closed cylinder of radius 45 and height 80 mm: top, bottom, side.
fn cylinder(emissivities: [f64; 3]) -> Enclosure {
    const RADIUS: f64 = 0.045;
    const HEIGHT: f64 = 0.080;
    let disc = PI * RADIUS * RADIUS;
    let areas = [disc, disc, 2.0 * PI * RADIUS * HEIGHT];
    let surface = |(area_m2, emissivity)| Surface { area_m2, emissivity };
    let mut cylinder =
        Enclosure::new(areas.into_iter().zip(emissivities).map(surface).collect());
    cylinder.see(0, 1, disc * disc_to_disc(RADIUS, RADIUS, HEIGHT));
    cylinder.close(2);
    cylinder
}

#[test]
fn a_closed_cylinder_has_the_published_views_and_heats() {
    let enclosure = cylinder([0.8, 0.7, 0.9]);
    assert_near(enclosure.view_factor(0, 2), 0.798_339_67, 1e-8);
    assert_near(enclosure.view_factor(2, 2), 0.550_933_94, 1e-8);
    let fourth = [1_173.15_f64, 1_073.15, 1_473.15].map(|kelvin| kelvin.powi(4));
    let exchange = enclosure.exchange_m2();
    for (i, (heat, radiosity)) in [
        (-637.802_436, 132_469.402_4),
        (-709.941_099, 123_032.891_2),
        (1_347.743_535, 260_433.953_9),
    ]
    .into_iter()
    .enumerate()
    {
        let leaves: f64 =
            (0..3).map(|j| SIGMA * exchange[i][j] * (fourth[i] - fourth[j])).sum();
        assert_near(leaves, heat, 1e-5);
        // q = ε/(1 − ε) (σ T⁴ − J).
        let Surface { area_m2, emissivity } = enclosure.surface(i);
        let found = SIGMA * fourth[i] - leaves / area_m2 * (1.0 - emissivity) / emissivity;
        assert_near(found, radiosity, 1e-3);
    }
}

#[test]
fn an_adiabatic_bottom_floats_to_the_published_temperature() {
    let exchange = cylinder([0.8, 0.7, 0.9]).exchange_m2();
    let (top, side) = (1_173.15_f64.powi(4), 1_473.15_f64.powi(4));
    let (to_top, to_side) = (exchange[1][0], exchange[1][2]);
    let bottom = (to_top * top + to_side * side) / (to_top + to_side);
    assert_near(bottom.powf(0.25), 1_431.231_476, 1e-5);
    let side_heat = SIGMA * (exchange[2][0] * (side - top) + exchange[2][1] * (side - bottom));
    assert_near(side_heat, 767.310_062, 1e-5);
}

#[test]
fn an_enclosure_of_two_surfaces_is_the_form_for_an_enclosed_body() {
    let inner = Surface { area_m2: 0.002, emissivity: 0.4 };
    let outer = Surface { area_m2: 0.03, emissivity: 0.6 };
    let mut enclosure = Enclosure::new(vec![outer, inner]);
    enclosure.close(0);
    assert_near(enclosure.exchange_m2()[1][0], enclosed(0.002, 0.4, 0.03, 0.6), 1e-15);
}
