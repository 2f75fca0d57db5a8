//! Thins a curve, with a bound on the deviation.
//!
//! A point is dropped if the line between the kept points around it passes within a tolerance. So peaks,
//! and any value read off the line, are correct to within that tolerance.

/// The indices to keep of points in the order of time, so that no point is further than
/// `tolerance` above or below the line through the kept ones. One pass: from the last point
/// kept, the slopes that pass all points since form a cone; when a point leaves it, the one
/// before is kept.
pub(super) fn thin(points: &[(f64, f64)], tolerance: f64) -> Vec<usize> {
    let Some(&first) = points.first() else { return Vec::new() };
    let (mut kept, mut anchor) = (vec![0], first);
    let mut cone = OPEN;
    for index in 1..points.len() {
        let Some((&before, &point)) = points.get(index - 1).zip(points.get(index)) else {
            break;
        };
        if !within(cone, slope(anchor, point)) {
            kept.push(index - 1);
            (anchor, cone) = (before, OPEN);
        }
        cone = narrowed(cone, anchor, point, tolerance);
    }
    if points.len() > 1 {
        kept.push(points.len() - 1);
    }
    kept
}

/// At most about `points_max` of the points: as [`thin`] with up to four times `tolerance`; if a curve
/// is too noisy for that, the lowest and the highest point of each of `points_max / 2` stretches. Gives
/// the distance of the furthest point from the line through the kept ones as well.
pub(super) fn thin_to(
    points: &[(f64, f64)],
    tolerance: f64,
    points_max: usize,
) -> (Vec<usize>, f64) {
    let tries = [1.0, 2.0, 4.0].into_iter().map(|times| thin(points, tolerance * times));
    let kept = tries.into_iter().find(|kept| kept.len() <= points_max);
    let kept = kept.unwrap_or_else(|| extremes(points, points_max));
    let off = deviation(points, &kept);
    (kept, off)
}

/// The ends, and the lowest and the highest point of each of `points_max / 2` stretches.
fn extremes(points: &[(f64, f64)], points_max: usize) -> Vec<usize> {
    let long = points.len().div_ceil((points_max / 2).max(1)).max(1);
    let mut kept = vec![0, points.len().saturating_sub(1)];
    for (nth, stretch) in points.chunks(long).enumerate() {
        let order =
            |a: &(usize, &(f64, f64)), b: &(usize, &(f64, f64))| a.1.1.total_cmp(&b.1.1);
        let lowest = stretch.iter().enumerate().min_by(order);
        let highest = stretch.iter().enumerate().max_by(order);
        kept.extend([lowest, highest].into_iter().flatten().map(|(at, _)| nth * long + at));
    }
    kept.sort_unstable();
    kept.dedup();
    kept
}

/// Largest distance, above or below, of the points from the line through the kept ones.
fn deviation(points: &[(f64, f64)], kept: &[usize]) -> f64 {
    let mut largest = 0.0_f64;
    for pair in kept.windows(2) {
        let [from, to] = pair else { continue };
        let Some(between) = points.get(*from..=*to) else { continue };
        let Some((&first, &last)) = between.first().zip(between.last()) else { continue };
        let steepness = slope(first, last);
        let off = between.iter().map(|p| (first.1 + steepness * (p.0 - first.0) - p.1).abs());
        largest = off.fold(largest, f64::max);
    }
    largest
}

type SlopeRange = (f64, f64);
const OPEN: SlopeRange = (f64::NEG_INFINITY, f64::INFINITY);

fn slope(from: (f64, f64), to: (f64, f64)) -> f64 {
    (to.1 - from.1) / (to.0 - from.0)
}

fn within(cone: SlopeRange, slope: f64) -> bool {
    cone.0 <= slope && slope <= cone.1
}

fn narrowed(
    cone: SlopeRange,
    anchor: (f64, f64),
    point: (f64, f64),
    tolerance: f64,
) -> SlopeRange {
    let below = slope(anchor, (point.0, point.1 - tolerance));
    let above = slope(anchor, (point.0, point.1 + tolerance));
    (cone.0.max(below), cone.1.min(above))
}
