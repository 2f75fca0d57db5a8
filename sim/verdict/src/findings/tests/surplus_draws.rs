//! The likely run of surplus glass against draws of all its inputs.

use rand_core::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use saggar_plant::piece::{Film, InfiltrationPlan};

use super::*;

/// Draws for each case: one standard deviation of the share is at most 0.5 points.
const DRAWS: u32 = 4000;

struct Draws(Xoshiro256PlusPlus);

impl Draws {
    fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Box and Muller.
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (core::f64::consts::TAU * self.uniform()).cos()
    }

    /// The run of the glass (m) with all inputs of the work drawn.
    fn run_m(&mut self, work: &WorkSpec, per_pa: f64) -> f64 {
        let mut work = work.clone();
        let (a, b) = (self.normal(), self.normal());
        let tie = work.body.radius_viscosity_correlation;
        let radius = &mut work.body.pore_radius_m;
        radius.value *= (radius.relative_sd() * a).exp();
        work.body.tortuosity *= (0.05 * self.normal()).exp();
        work.body.porosity *= (0.05 * self.normal()).exp();
        work.wall_m.value *= (work.wall_m.relative_sd() * self.normal()).exp();
        let coat = work.coat.as_mut().unwrap();
        let thickness = &mut coat.thickness_m;
        thickness.value *= (thickness.relative_sd() * self.normal()).exp();
        let estimate = coat.glass.contact_angle_deg;
        coat.glass.contact_angle_deg = loop {
            let angle = estimate + 10.0 * self.normal();
            if (0.0..=89.0).contains(&angle) {
                break angle;
            }
        };
        let log10 = coat.glass.log10_sd * (tie * a + (1.0 - tie * tie).sqrt() * b);
        let plan = InfiltrationPlan::new(&work);
        let film = Film::of_coat(&work, work.coat.as_ref().unwrap());
        let depth_m = |per_pa: f64| plan.map_or(0.0, |plan| plan.depth_m(per_pa));
        film.after(per_pa * 10.0_f64.powf(-log10), depth_m).run_m()
    }
}

/// The share of the draws that stay within the likely run.
fn covered(name: &str, work: &WorkSpec, soak_c: f64, soak_s: u32) -> f64 {
    let (piece, firing) = fire(work, soak_c, soak_s, 5000.0);
    let per_pa = piece.flow.as_ref().unwrap().per_pa();
    let found = assess(work, std::slice::from_ref(&piece), &firing);
    let Subject::Surplus(surplus) = &found.find(is!(Surplus)).unwrap().subject else {
        panic!("{found:?}")
    };
    let mut draws = Draws(Xoshiro256PlusPlus::seed_from_u64(12));
    let stays = |_: &u32| draws.run_m(work, per_pa) <= surplus.likely_run_m;
    let count = (0..DRAWS).filter(stays).count();
    let share = count as f64 / f64::from(DRAWS);
    println!("{name}: {:.2} mm, {share:.3}", 1e3 * surplus.likely_run_m);
    share
}

#[test]
fn nine_draws_of_ten_stay_within_the_likely_run() {
    for (coat_mm, wall_mm, soak_s) in
        [(0.28, 0.5, 1800), (0.38, 0.5, 1800), (0.45, 0.5, 4000), (0.55, 0.8, 4000)]
    {
        for tie in [0.0, 0.9] {
            let mut work = coated();
            work.wall_m = UncertainValue::relative(wall_mm * 1e-3, 0.1);
            work.body.radius_viscosity_correlation = tie;
            let coat = work.coat.as_mut().unwrap();
            coat.thickness_m = UncertainValue::relative(coat_mm * 1e-3, 0.2);
            let name = format!("{coat_mm} mm on {wall_mm} mm, {soak_s} s, tie {tie}");
            let share = covered(&name, &work, 1120.0, soak_s);
            assert!((share - 0.9).abs() < 0.015, "{name}: {share}");
        }
    }
}
