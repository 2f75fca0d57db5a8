//! Piecewise polynomials, the form in which thermocouple functions are published.

/// Maximum number of coefficients of a polynomial.
const TERMS: usize = 12;

/// A polynomial over a range of its argument, constant term first.
#[derive(Clone, Copy)]
pub(super) struct Polynomial<F> {
    from: F,
    to: F,
    terms: [F; TERMS],
}

impl Polynomial<f64> {
    /// The polynomial with these coefficients, valid from `from` to `to`.
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

    /// The value in double precision, by Horner's rule.
    fn value(&self, x: f64) -> f64 {
        self.terms.iter().rev().fold(0.0, |sum, c| sum * x + c)
    }

    /// The polynomial in single precision, for a processor without a double-precision FPU.
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
    /// The value in single precision, by Estrin's scheme. The order of operations is fixed, so that
    /// every machine computes the same bits, and the dependency chains are shorter than Horner's.
    fn value(&self, x: f32) -> f32 {
        let [c0, c1, c2, c3, c4, c5, c6, c7, c8, c9, c10, c11] = self.terms;
        let x2 = x * x;
        let x4 = x2 * x2;
        let low = (c0 + c1 * x) + (c2 + c3 * x) * x2;
        let mid = (c4 + c5 * x) + (c6 + c7 * x) * x2;
        let high = (c8 + c9 * x) + (c10 + c11 * x) * x2;
        low + (mid + high * x4) * x4
    }
}

/// The first `N` pieces in single precision; the others take no space in the image.
#[expect(clippy::indexing_slicing, clippy::arithmetic_side_effects, reason = "const only")]
pub(super) const fn rounded<const N: usize>(
    pieces: &[Polynomial<f64>],
) -> [Polynomial<f32>; N] {
    let mut out = [Polynomial { from: 0.0, to: 0.0, terms: [0.0; TERMS] }; N];
    let mut i = 0;
    while i < N {
        out[i] = pieces[i].rounded();
        i += 1;
    }
    out
}

/// The range that the pieces cover.
pub(super) const fn range(pieces: &[Polynomial<f64>]) -> (f64, f64) {
    match (pieces.first(), pieces.last()) {
        (Some(first), Some(last)) => (first.from, last.to),
        (_, None) | (None, _) => (0.0, 0.0),
    }
}

/// The value in double precision, or `None` outside all pieces.
pub(super) fn value_f64(pieces: &[Polynomial<f64>], x: f64) -> Option<f64> {
    if !(pieces.first()?.from <= x) {
        return None;
    }
    pieces.iter().find(|piece| x <= piece.to).map(|piece| piece.value(x))
}

/// The value in single precision, or `None` outside all pieces. Where pieces overlap, the later one
/// is used: in the published tables it is the more accurate.
pub(super) fn value_f32(pieces: &[Polynomial<f32>], x: f32) -> Option<f32> {
    let piece = pieces.iter().rev().find(|piece| piece.from <= x)?;
    (x <= piece.to).then(|| piece.value(x))
}
