//! Piecewise polynomials: the form in which thermocouple tables are published.

/// Coefficients that a piece has room for.
const TERMS: usize = 12;

/// A polynomial over a range of its argument, constant term first.
#[derive(Clone, Copy)]
pub(super) struct Polynomial<F> {
    from: F,
    to: F,
    terms: [F; TERMS],
}

impl Polynomial<f64> {
    /// The polynomial with these coefficients, from `from` to `to`.
    #[expect(clippy::indexing_slicing, clippy::arithmetic_side_effects, reason = "const only")]
    pub(super) const fn new(from: f64, to: f64, coefficients: &[f64]) -> Self {
        let mut terms = [0.0; TERMS];
        let mut i = 0;
        while i < coefficients.len() {
            terms[i] = coefficients[i];
            i += 1;
        }
        Self { from, to, terms }
    }

    /// The value by Horner's rule in double precision.
    fn exact(&self, x: f64) -> f64 {
        self.terms.iter().rev().fold(0.0, |sum, c| sum * x + c)
    }

    /// The same, rounded: the tick runs on a processor that computes in single precision.
    #[expect(clippy::cast_possible_truncation, reason = "rounded on purpose")]
    #[expect(clippy::indexing_slicing, clippy::arithmetic_side_effects, reason = "const only")]
    const fn rounded(&self) -> Polynomial<f32> {
        let mut terms = [0.0; TERMS];
        let mut i = 0;
        while i < TERMS {
            terms[i] = self.terms[i] as f32;
            i += 1;
        }
        Polynomial { from: self.from as f32, to: self.to as f32, terms }
    }
}

impl Polynomial<f32> {
    /// The value by Estrin's scheme in single precision: the same number of operations on every
    /// machine, in the same order, and short chains where a processor can overlap them.
    fn quick(&self, x: f32) -> f32 {
        let [c0, c1, c2, c3, c4, c5, c6, c7, c8, c9, c10, c11] = self.terms;
        let x2 = x * x;
        let x4 = x2 * x2;
        let low = (c0 + c1 * x) + (c2 + c3 * x) * x2;
        let mid = (c4 + c5 * x) + (c6 + c7 * x) * x2;
        let high = (c8 + c9 * x) + (c10 + c11 * x) * x2;
        low + (mid + high * x4) * x4
    }
}

/// The first `N` pieces, rounded. A table that needs fewer than are published costs no room for
/// the rest.
#[expect(clippy::indexing_slicing, clippy::arithmetic_side_effects, reason = "const only")]
pub(super) const fn rounded<const N: usize>(
    pieces: &[Polynomial<f64>],
) -> [Polynomial<f32>; N] {
    let mut quick = [Polynomial { from: 0.0, to: 0.0, terms: [0.0; TERMS] }; N];
    let mut i = 0;
    while i < N {
        quick[i] = pieces[i].rounded();
        i += 1;
    }
    quick
}

/// Where the pieces begin and end.
pub(super) const fn range(pieces: &[Polynomial<f64>]) -> (f64, f64) {
    match (pieces.first(), pieces.last()) {
        (Some(first), Some(last)) => (first.from, last.to),
        (_, None) | (None, _) => (0.0, 0.0),
    }
}

/// The value in double precision, or `None` outside all pieces.
pub(super) fn exact(pieces: &[Polynomial<f64>], x: f64) -> Option<f64> {
    if !(pieces.first()?.from <= x) {
        return None;
    }
    pieces.iter().find(|piece| x <= piece.to).map(|piece| piece.exact(x))
}

/// The value in single precision, or `None` outside all pieces. Where pieces overlap the later
/// one counts: in the published tables it is the more exact.
pub(super) fn quick(pieces: &[Polynomial<f32>], x: f32) -> Option<f32> {
    let piece = pieces.iter().rev().find(|piece| piece.from <= x)?;
    (x <= piece.to).then(|| piece.quick(x))
}
