//! View factors: the share of the radiation from one surface that falls directly on another.
//!
//! A sphere radiates like a point source, so its view factor to a disc is the solid angle of the disc
//! over 4π; the disc must lie outside the sphere. From a point over the disc, the edge of the disc in one
//! direction is at the angle `α` from the vertical, so the solid angle is the integral of `1 − cos α` over
//! the directions. The radiation of a thin upright cylinder is spread as `sin α`, which makes its view
//! factor the integral of `(α − sin α cos α)/π`: on the axis that is the form `(atan X − X/(1 + X²))/π`
//! for a plane element whose plane passes through the axis, with `X` the disc's radius over its distance
//! (Howell's catalogue of configuration factors, from memory). Its integral over the height is
//! `height · α / π`. Directions are taken at equal angles, which converges fast for a periodic function.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Directions of the integrals round a point.
const DIRECTIONS: u32 = 64;

/// Steps of the integrals along a line.
const STEPS: u32 = 32;

/// Mean over all directions of a function of the angle between the vertical and the disc's edge. The point
/// is at a height over the disc and at a distance from its axis, smaller than the radius (m).
fn round_the_edge(
    height_m: f64,
    off_axis_m: f64,
    radius_m: f64,
    of: impl Fn(f64) -> f64,
) -> f64 {
    let at = |direction: u32| {
        let angle = (f64::from(direction) + 0.5) * TAU / f64::from(DIRECTIONS);
        let across = off_axis_m * libm::sin(angle);
        let beside = (radius_m * radius_m - across * across).max(0.0).sqrt();
        let edge_m = beside - off_axis_m * libm::cos(angle);
        of(libm::atan2(edge_m, height_m))
    };
    (0..DIRECTIONS).map(at).sum::<f64>() / f64::from(DIRECTIONS)
}

/// Mean of a function over the steps between two values.
fn mean_between(low: f64, high: f64, of: impl Fn(f64) -> f64) -> f64 {
    let at = |step: u32| of(low + (high - low) * (f64::from(step) + 0.5) / f64::from(STEPS));
    (0..STEPS).map(at).sum::<f64>() / f64::from(STEPS)
}

/// From an element of a thin cylinder to what fills a cone round its axis, of this half-angle.
fn cylinder_to_cone(half_angle: f64) -> f64 {
    (half_angle - libm::sin(half_angle) * libm::cos(half_angle)) / PI
}

/// From a sphere to a disc, whose plane it does not cut. Its centre is at a height over the disc and at a
/// distance from the axis of the disc, smaller than the radius (m).
pub fn sphere_to_disc(height_m: f64, off_axis_m: f64, radius_m: f64) -> f64 {
    0.5 * round_the_edge(height_m, off_axis_m, radius_m, |angle| 1.0 - libm::cos(angle))
}

/// From a thin upright cylinder between two heights over a disc (m), the lower one first, to the disc; its
/// distance from the axis is smaller than the radius (m).
pub fn cylinder_to_disc(heights_m: [f64; 2], off_axis_m: f64, radius_m: f64) -> f64 {
    let [low, high] = heights_m;
    let below =
        |height: f64| height / PI * round_the_edge(height, off_axis_m, radius_m, |angle| angle);
    (below(high) - below(low)) / (high - low)
}

/// From a thin cylinder on a line through the centre of a sphere, between two distances from the centre
/// (m), not inside the sphere.
pub fn cylinder_to_sphere(distances_m: [f64; 2], radius_m: f64) -> f64 {
    let [near, far] = distances_m;
    mean_between(near, far, |distance| {
        cylinder_to_cone(libm::asin((radius_m / distance).min(1.0)))
    })
}

/// From a disc to another on the same axis, at a distance (m) (Incropera, table 13.2).
pub fn disc_to_disc(radius_m: f64, other_m: f64, distance_m: f64) -> f64 {
    let (own, other) = (radius_m / distance_m, other_m / distance_m);
    let s = 1.0 + (1.0 + other * other) / (own * own);
    let ratio = other / own;
    // The published form, (s − root)/2, without its cancellation.
    2.0 * ratio * ratio / (s + (s * s - 4.0 * ratio * ratio).max(0.0).sqrt())
}

/// Between equal spheres whose centres are a distance apart (m), at least two radii.
///
/// Exact, from the measure of the lines that meet both: seen along any direction they are two discs, and
/// the area in which these overlap is the share of that direction.
pub fn sphere_to_sphere(radius_m: f64, distance_m: f64) -> f64 {
    // The discs' centres are 2 r sin(u) apart; the overlap is r² (π − 2u − sin 2u).
    let share = mean_between(0.0, FRAC_PI_2, |u| {
        let apart = 2.0 * radius_m * libm::sin(u);
        let overlap = PI - 2.0 * u - libm::sin(2.0 * u);
        let along = (distance_m * distance_m - apart * apart).max(0.0).sqrt();
        apart * overlap * 2.0 * radius_m * libm::cos(u) / (distance_m * along)
    });
    share * FRAC_PI_2 / TAU
}
