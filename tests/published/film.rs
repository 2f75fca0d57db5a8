//! Film drainage against closed forms, through the real piece.
//!
//! * Huppert, Nature 300 (1982) 427: a fixed volume on a slope, here a vertical wall, reaches
//!   `(9 A² ρ g t / (4 η))^⅓`, and its front is 3/2 of its mean thickness.
//! * Jeffreys, Proc. Camb. Phil. Soc. 26 (1930) 204: a draining wall keeps `√(η x / (ρ g t))`.
//! * Nusselt's film: a front of even thickness moves at `ρ g h² / (3 η)` until the thinning from above
//!   reaches it (the kinematic wave of the same equation).
//! * Retention by the wetting line: Furmidge, J. Colloid Sci. 17 (1962) 309, from memory.
//! * Without a closed form, above drinking pores: a solution of the lubrication equation by finite
//!   volumes, written for this test.

use saggar_plant::piece::{Film, Front, Piece};
use saggar_plant::spec::{BodySpec, CoatSpec, GlassSpec, UncertainValue, WorkSpec};

use super::{alumina, even, lanthanum};

const GRAVITY: f64 = 9.80665;
const ETA: f64 = 40.0;
const DENSITY: f64 = 3000.0;
const TENSION: f64 = 0.3;

fn exactly(value: f64) -> UncertainValue {
    UncertainValue::relative(value, 0.0)
}

/// A wall 8 mm high under glass of one viscosity at every temperature.
fn work(glass_mm: f64, angle: f64, infiltrated: bool) -> WorkSpec {
    let glass = GlassSpec {
        vft_a: ETA.log10(),
        vft_b_k: 0.0,
        vft_t0_c: 0.0,
        contact_angle_deg: angle,
        surface_tension_n_m: TENSION,
        density_kg_m3: DENSITY,
        ..lanthanum()
    };
    WorkSpec {
        count: 1,
        purpose: None,
        wall_within_m: 0.0,
        wall_m: exactly(0.5e-3),
        area_m2: 16.0e-3 * 16.0e-3,
        body: BodySpec { porosity: 0.3, ..alumina() },
        coat: Some(CoatSpec {
            thickness_m: exactly(glass_mm * 1e-3),
            bare_rim_m: 2.0e-3,
            glass_share: 1.0,
            water_share: 0.0,
            glass,
        }),
        lubricant_share: 0.0,
        moisture_share: 0.0,
        infiltrated,
        roughness_m: 0.0,
    }
}

const HEIGHT: f64 = 8.0e-3;

/// The films after each of these times, increasing.
fn films(work: &WorkSpec, times_s: &[f64]) -> Vec<Film> {
    let mut piece = Piece::new(work);
    piece.step(0.0, &even(1100.0, 5000.0));
    let mut at = |time_s: &f64| {
        while piece.elapsed_s < time_s - 0.5 {
            piece.step(1.0, &even(1100.0, 5000.0));
        }
        piece.film.expect("the work has a coat")
    };
    times_s.iter().map(&mut at).collect()
}

#[test]
fn a_front_of_even_thickness_moves_as_a_nusselt_film() {
    let glass_m = 0.3e-3;
    let speed = DENSITY * GRAVITY * glass_m * glass_m / (3.0 * ETA);
    // The thinning from above arrives when the front is half of the height below the coat.
    let caught_s = 0.5 * HEIGHT / speed;
    assert!((181.0..182.0).contains(&caught_s), "{caught_s}");
    let times = [20.0, 60.0, 120.0, 180.0];
    for (film, t) in films(&work(0.3, 0.0, true), &times).iter().zip(times) {
        assert!((film.run_m() / (speed * t) - 1.0).abs() < 1e-9, "{} at {t}", film.run_m());
        assert!((film.front_thickness_m() / glass_m - 1.0).abs() < 1e-9);
    }
}

#[test]
fn a_thinning_front_follows_huppert_and_jeffreys() {
    let area = 0.3e-3 * HEIGHT;
    let times = [200.0, 400.0, 1000.0, 3000.0, 10_000.0];
    for (film, t) in films(&work(0.3, 0.0, true), &times).iter().zip(times) {
        let reached = HEIGHT + film.run_m();
        let huppert = (9.0 * area * area * DENSITY * GRAVITY * t / (4.0 * ETA)).cbrt();
        assert!((reached / huppert - 1.0).abs() < 5e-3, "{reached} of {huppert} at {t}");
        let jeffreys = (ETA * reached / (DENSITY * GRAVITY * t)).sqrt();
        let front = film.front_thickness_m();
        assert!((front / jeffreys - 1.0).abs() < 1e-2, "{front} of {jeffreys} at {t}");
        assert!((front - 1.5 * area / reached).abs() < 1e-12);
    }
}

#[test]
fn the_wetting_line_holds_a_film_below_the_critical_volume() {
    let angle = 30.0_f64;
    let critical_mm =
        1e3 * TENSION * (1.0 - angle.to_radians().cos()) / (DENSITY * GRAVITY * HEIGHT);
    assert!((critical_mm - 0.17077).abs() < 1e-4, "{critical_mm}");
    let run_mm =
        |glass_mm: f64| 1e3 * films(&work(glass_mm, angle, true), &[7200.0])[0].run_m();
    assert!(run_mm(0.999 * critical_mm) < 1e-12);
    assert!(run_mm(1.001 * critical_mm) > 1e-3);
    // Well above it, the line takes its share of the weight: here 0.17077 of 0.3 mm.
    let film = films(&work(0.3, angle, true), &[60.0])[0];
    let speed = DENSITY * GRAVITY * 0.3e-3 * 0.3e-3 / (3.0 * ETA) * (1.0 - critical_mm / 0.3);
    assert!((film.run_m() / (60.0 * speed) - 1.0).abs() < 1e-9, "{}", film.run_m());
}

#[test]
fn glass_is_on_the_wall_or_in_the_pores() {
    for angle in [0.0, 30.0] {
        let work = work(0.3, angle, false);
        let mut piece = Piece::new(&work);
        for _ in 0..600 {
            piece.step(1.0, &even(1100.0, 5000.0));
            let film = piece.film.unwrap();
            let depth = piece.front.as_ref().map_or(0.0, Front::depth_m);
            let on_wall = film.thickness_m() * (HEIGHT + film.run_m());
            let in_pores = 0.3 * depth * HEIGHT;
            assert!(((on_wall + in_pores) / (0.3e-3 * HEIGHT) - 1.0).abs() < 1e-12);
        }
    }
}

/// The front (m) by the lubrication equation `∂h/∂t + ∂(ρ g h³ / 3 η)/∂x = −drunk`, upwind, from the top
/// of the wall. Every wet part gives the pores the same share of its glass, so that the volume is that of
/// the model.
fn lubrication_run_m(work: &WorkSpec, depth_m: impl Fn(f64) -> f64, end_s: f64) -> f64 {
    let (cell, dt) = (0.02e-3, 0.05);
    let coat_m = work.coat.as_ref().expect("a coat").thickness_m.value;
    let mut film = vec![0.0_f64; 2000];
    film.iter_mut().take(400).for_each(|h| *h = coat_m);
    let (mut t, mut left) = (0.0, coat_m);
    while t < end_s {
        t += dt;
        let mut above = 0.0;
        let next_left = (coat_m - work.body.porosity * depth_m(t)).max(0.0);
        for h in &mut film {
            let flux = DENSITY * GRAVITY * h.powi(3) / (3.0 * ETA);
            *h = (*h + dt / cell * (above - flux)) * next_left / left;
            above = flux;
        }
        left = next_left;
    }
    // The foremost cell that holds half of the thickest film.
    let most = film.iter().copied().fold(0.0, f64::max);
    let last = film.iter().rposition(|h| *h > 0.5 * most).expect("a film");
    cell * (last + 1) as f64 - HEIGHT
}

#[test]
fn drinking_pores_slow_the_film_as_in_the_lubrication_equation() {
    for (glass_mm, end_s) in [(0.3, 200.0), (0.3, 500.0), (0.5, 200.0)] {
        let work = work(glass_mm, 0.0, false);
        let film = films(&work, &[end_s])[0];
        let front = Piece::new(&work).front.unwrap();
        let depth = |t: f64| front.plan().predicted_depth_m(t / ETA).min(0.5e-3);
        let reference = lubrication_run_m(&work, depth, end_s);
        let (run_mm, reference_mm) = (1e3 * film.run_m(), 1e3 * reference);
        println!(
            "{glass_mm} mm of glass, {end_s} s: {run_mm:.3} mm, reference {reference_mm:.3}"
        );
        assert!((run_mm / reference_mm - 1.0).abs() < 0.02, "{run_mm} of {reference_mm} mm");
    }
}

#[test]
fn a_film_after_a_flow_is_that_of_the_firing_with_the_same_flow() {
    for angle in [0.0, 30.0] {
        let work = work(0.3, angle, false);
        let film = films(&work, &[600.0])[0];
        let piece = Piece::new(&work);
        let plan = *piece.front.unwrap().plan();
        let depth = |per_pa: f64| plan.depth_m(per_pa);
        let again = piece.film.unwrap().after(600.0 / ETA, depth);
        let (once, twice) = (film.run_m(), again.run_m());
        assert!(once > 1e-3 && (once / twice - 1.0).abs() < 2e-3, "{once} {twice}");
    }
}

/// The same equation where each place of the wall drinks from the moment at which it is wetted, the bare rim
/// too, as much as it gets.
fn local_run_m(work: &WorkSpec, depth_m: impl Fn(f64) -> f64, end_s: f64) -> f64 {
    let (cell, dt) = (0.1e-3, 0.05);
    let coat_m = work.coat.as_ref().expect("a coat").thickness_m.value;
    let mut film = vec![0.0_f64; 400];
    film.iter_mut().take(80).for_each(|h| *h = coat_m);
    let mut wetted_s: Vec<Option<f64>> =
        film.iter().map(|h| (*h > 0.0).then_some(0.0)).collect();
    let mut drunk_m = vec![0.0_f64; film.len()];
    let mut t = 0.0;
    while t < end_s {
        let mut above = 0.0;
        for ((h, since), drunk) in film.iter_mut().zip(&mut wetted_s).zip(&mut drunk_m) {
            let flux = DENSITY * GRAVITY * h.powi(3) / (3.0 * ETA);
            *h += dt / cell * (above - flux);
            above = flux;
            if since.is_none() && *h > 1e-6 {
                *since = Some(t);
            }
            let room = since
                .map_or(0.0, |since| work.body.porosity * depth_m(t + dt - since) - *drunk);
            let taken = room.clamp(0.0, h.max(0.0));
            *h -= taken;
            *drunk += taken;
        }
        t += dt;
    }
    let most = film.iter().copied().fold(0.0, f64::max);
    let last = film.iter().rposition(|h| *h > 0.3 * most).expect("a film");
    cell * (last + 1) as f64 - HEIGHT
}

#[test]
fn a_rim_that_drinks_too_holds_the_film_back_so_the_model_is_on_the_safe_side() {
    for (glass_mm, end_s) in [(0.3, 200.0), (0.3, 1000.0), (0.5, 200.0)] {
        let work = work(glass_mm, 0.0, false);
        let film = films(&work, &[end_s])[0];
        let front = Piece::new(&work).front.unwrap();
        let depth = |t: f64| front.plan().predicted_depth_m(t / ETA).min(0.5e-3);
        let local_mm = 1e3 * local_run_m(&work, depth, end_s);
        let run_mm = 1e3 * film.run_m();
        println!("{glass_mm} mm, {end_s} s: {run_mm:.2} mm, {local_mm:.2} mm with the rim");
        assert!(local_mm > 0.3 * run_mm && local_mm < run_mm, "{local_mm} of {run_mm} mm");
    }
}
