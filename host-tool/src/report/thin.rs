//! Fewer points for the same curve, with a bound on what is lost.
//!
//! A point goes if the straight line between the points kept around it passes it within a
//! tolerance. Peaks stay to within that tolerance, and so does any value read off the line.

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

/// As [`thin`], with a tolerance that doubles until at most `most` points are left. Gives the
/// tolerance that did it.
pub(super) fn thin_to(points: &[(f64, f64)], tolerance: f64, most: usize) -> (Vec<usize>, f64) {
    let mut tolerance = tolerance;
    // Thirty doublings are a factor of a thousand million: no curve needs more.
    for _ in 0..30 {
        let kept = thin(points, tolerance);
        if kept.len() <= most {
            return (kept, tolerance);
        }
        tolerance *= 2.0;
    }
    (thin(points, tolerance), tolerance)
}

type Cone = (f64, f64);
const OPEN: Cone = (f64::NEG_INFINITY, f64::INFINITY);

fn slope(from: (f64, f64), to: (f64, f64)) -> f64 {
    (to.1 - from.1) / (to.0 - from.0)
}

fn within(cone: Cone, slope: f64) -> bool {
    cone.0 <= slope && slope <= cone.1
}

fn narrowed(cone: Cone, anchor: (f64, f64), point: (f64, f64), tolerance: f64) -> Cone {
    let below = slope(anchor, (point.0, point.1 - tolerance));
    let above = slope(anchor, (point.0, point.1 + tolerance));
    (cone.0.max(below), cone.1.min(above))
}
