//! An enclosure of grey surfaces: what they exchange, with all reflections.
//!
//! Gebhart's absorption factors: `B_ij = F_ij ε_j + Σ F_ik (1 − ε_k) B_kj` is the share of the radiation
//! from `i` that `j` absorbs in the end, and `ε_i A_i B_ij` the exchange area, the same from `j` to `i`
//! (Gebhart, Int. J. Heat Mass Transf. 3 (1961) 341, citation from memory).

/// A grey surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Its area (m²).
    pub area_m2: f64,
    /// Its emissivity, above 0.
    pub emissivity: f64,
}

/// Grey surfaces that see each other and nothing else.
#[derive(Clone, Debug)]
pub struct Enclosure {
    surfaces: Vec<Surface>,
    /// Area times view factor (m²), symmetric.
    direct: Vec<Vec<f64>>,
}

impl Enclosure {
    /// Surfaces that do not see each other yet.
    pub fn new(surfaces: Vec<Surface>) -> Self {
        let direct = vec![vec![0.0; surfaces.len()]; surfaces.len()];
        Self { surfaces, direct }
    }

    /// How many surfaces.
    pub fn len(&self) -> usize {
        self.surfaces.len()
    }

    /// Whether there are no surfaces.
    pub fn is_empty(&self) -> bool {
        self.surfaces.is_empty()
    }

    /// A surface.
    pub fn surface(&self, index: usize) -> Surface {
        self.surfaces[index]
    }

    /// Area times emissivity of a surface (m²).
    pub fn emitted_m2(&self, of: usize) -> f64 {
        self.surfaces[of].area_m2 * self.surfaces[of].emissivity
    }

    /// Lets two surfaces see each other, or one itself: area times view factor (m²).
    pub fn see(&mut self, one: usize, other: usize, direct_m2: f64) {
        self.direct[one][other] = direct_m2;
        self.direct[other][one] = direct_m2;
    }

    /// Closes the enclosure: what no surface sees of another is filled by the surface `rest`. Surfaces
    /// that were given more than their area get shares of it, and `rest` is at least as large as what the
    /// others see of it.
    pub fn close(&mut self, rest: usize) {
        for one in (0..self.surfaces.len()).filter(|one| *one != rest) {
            self.see(one, rest, 0.0);
            let (area, seen) =
                (self.surfaces[one].area_m2, self.direct[one].iter().sum::<f64>());
            if seen > area {
                for other in 0..self.surfaces.len() {
                    self.see(one, other, self.direct[one][other] * area / seen);
                }
            }
        }
        for one in (0..self.surfaces.len()).filter(|one| *one != rest) {
            let seen: f64 = self.direct[one].iter().sum();
            self.see(one, rest, (self.surfaces[one].area_m2 - seen).max(0.0));
        }
        self.see(rest, rest, 0.0);
        let seen: f64 = self.direct[rest].iter().sum();
        let area = self.surfaces[rest].area_m2.max(seen);
        self.surfaces[rest].area_m2 = area;
        self.see(rest, rest, area - seen);
    }

    /// Share of the radiation from one surface that falls directly on another.
    pub fn view_factor(&self, from: usize, to: usize) -> f64 {
        self.direct[from][to] / self.surfaces[from].area_m2
    }

    /// Exchange areas of all pairs (m²), with the reflections of all surfaces. The diagonal is the
    /// radiation that a surface absorbs again.
    pub fn exchange_m2(&self) -> Vec<Vec<f64>> {
        let count = self.surfaces.len();
        // Row by row: I − F ρ on the left, F ε on the right.
        let mut rows: Vec<Vec<f64>> = (0..count)
            .map(|i| {
                let left = self.surfaces.iter().enumerate().map(|(k, surface)| {
                    let identity = if i == k { 1.0 } else { 0.0 };
                    identity - self.view_factor(i, k) * (1.0 - surface.emissivity)
                });
                let right = self.surfaces.iter().enumerate();
                let right = right.map(|(j, s)| self.view_factor(i, j) * s.emissivity);
                left.chain(right).collect()
            })
            .collect();
        // The rows are dominated by their diagonals, so no pivot is searched.
        for pivot in 0..count {
            let own = rows[pivot][pivot];
            rows[pivot].iter_mut().for_each(|value| *value /= own);
            let pivot_row = rows[pivot].clone();
            for (_, row) in rows.iter_mut().enumerate().filter(|(i, _)| *i != pivot) {
                let factor = row[pivot];
                row.iter_mut().zip(&pivot_row).for_each(|(value, p)| *value -= factor * p);
            }
        }
        rows.iter()
            .zip(&self.surfaces)
            .map(|(row, s)| row[count..].iter().map(|b| s.emissivity * s.area_m2 * b).collect())
            .collect()
    }
}
