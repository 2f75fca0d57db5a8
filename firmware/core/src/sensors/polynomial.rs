//! Piecewise polynomials: the form in which thermocouple tables are published.

/// Coefficients that a piece has room for.
const TERMS: usize = 12;

/// A polynomial over a range of its argument, constant term first.
#[derive(Clone, Copy)]
pub(super) struct Piece {
    from: f64,
    to: f64,
    quick_from: f32,
    quick_to: f32,
    exact: [f64; TERMS],
    /// The same, rounded: the tick runs on a processor that computes in single precision.
    quick: [f32; TERMS],
}

impl Piece {
    /// The polynomial with these coefficients, from `from` to `to`.
    #[expect(clippy::cast_possible_truncation, reason = "rounded on purpose")]
    #[expect(clippy::indexing_slicing, clippy::arithmetic_side_effects, reason = "const only")]
    pub(super) const fn new(from: f64, to: f64, coefficients: &[f64]) -> Self {
        let mut piece = Self {
            from,
            to,
            quick_from: from as f32,
            quick_to: to as f32,
            exact: [0.0; TERMS],
            quick: [0.0; TERMS],
        };
        let mut i = 0;
        while i < coefficients.len() {
            piece.exact[i] = coefficients[i];
            piece.quick[i] = coefficients[i] as f32;
            i += 1;
        }
        piece
    }

    /// The value by Horner's rule in double precision.
    fn exact(&self, x: f64) -> f64 {
        self.exact.iter().rev().fold(0.0, |sum, c| sum * x + c)
    }

    /// The value by Estrin's scheme in single precision: the same number of operations on every
    /// machine, in the same order, and short chains where a processor can overlap them.
    fn quick(&self, x: f32) -> f32 {
        let [c0, c1, c2, c3, c4, c5, c6, c7, c8, c9, c10, c11] = self.quick;
        let x2 = x * x;
        let x4 = x2 * x2;
        let low = (c0 + c1 * x) + (c2 + c3 * x) * x2;
        let mid = (c4 + c5 * x) + (c6 + c7 * x) * x2;
        let high = (c8 + c9 * x) + (c10 + c11 * x) * x2;
        low + (mid + high * x4) * x4
    }
}

/// The value in double precision, or `None` outside all pieces.
pub(super) fn exact(pieces: &[Piece], x: f64) -> Option<f64> {
    if !(pieces.first()?.from <= x) {
        return None;
    }
    pieces.iter().find(|piece| x <= piece.to).map(|piece| piece.exact(x))
}

/// The value in single precision, or `None` outside all pieces. Where pieces overlap the later
/// one counts: in the published tables it is the more exact.
pub(super) fn quick(pieces: &[Piece], x: f32) -> Option<f32> {
    let piece = pieces.iter().rev().find(|piece| piece.quick_from <= x)?;
    (x <= piece.quick_to).then(|| piece.quick(x))
}
