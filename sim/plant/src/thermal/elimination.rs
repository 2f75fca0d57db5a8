//! Gaussian elimination of a sparse matrix whose pattern never changes, four matrices at once.
//!
//! The order of elimination and every index are fixed when the network is built. The four
//! matrices differ only in their diagonals, so they share the indices, and their four lanes
//! hide each other's latency.

/// Slots for the nodes of a network, those of fixed temperature included. One stays empty.
pub const MAX_NODES: usize = 32;

/// Matrices eliminated at once.
pub(super) const LANES: usize = 4;

/// One value of each matrix.
pub(super) type Lane = [f64; LANES];

/// Two right-hand sides of each matrix: the solution at one node.
pub(super) type Pair = [f64; 2 * LANES];

/// Diagonal first, then the off-diagonal entries; the last one is a dummy that is never read.
const VALUES: usize = 256;

/// Index of the dummy entry.
const NOWHERE: u8 = 255;

/// A set of nodes, one bit per node.
type Set = u64;

fn members(set: Set) -> impl Iterator<Item = usize> {
    (0..MAX_NODES).filter(move |i| set >> i & 1 == 1)
}

/// The values of the four matrices, later of their factors.
#[derive(Clone, Debug)]
pub(super) struct Values(pub(super) [Lane; VALUES]);

impl Values {
    pub(super) fn new() -> Self {
        Self([[0.0; LANES]; VALUES])
    }
}

/// An elimination order with little fill-in: always the remaining node with the fewest new entries and
/// neighbours.
pub(super) fn order(nodes: usize, pairs: &[(usize, usize)]) -> Vec<usize> {
    let mut near = vec![0 as Set; nodes];
    for &(a, b) in pairs {
        near[a] |= 1 << b;
        near[b] |= 1 << a;
    }
    let mut left: Set = (0..nodes).fold(0, |set, i| set | 1 << i);
    let mut order = Vec::with_capacity(nodes);
    while left != 0 {
        let cost = |k: usize| {
            let around = near[k] & left;
            let degree = around.count_ones();
            let fill: u32 =
                members(around).map(|i| degree - 1 - (near[i] & around).count_ones()).sum();
            (fill + degree, k)
        };
        let Some(pick) = members(left).min_by_key(|k| cost(*k)) else { break };
        left &= !(1 << pick);
        let around = near[pick] & left;
        for i in members(around) {
            near[i] |= around & !(1 << i);
        }
        order.push(pick);
    }
    order
}

/// An entry off the diagonal and its mirror image.
#[derive(Clone, Copy, Debug)]
struct OffDiagonal {
    pivot: u8,
    row: u8,
    /// Index of the entry (row, pivot).
    below: u8,
    /// Index of the entry (pivot, row).
    above: u8,
}

/// `values[target] -= values[left] * values[right]`.
#[derive(Clone, Copy, Debug)]
struct Update {
    target: u8,
    left: u8,
    right: u8,
}

/// Ends of the entries and of the updates of a pivot.
#[derive(Clone, Copy, Debug)]
struct Pivot {
    entries: u16,
    updates: u16,
}

/// The sparsity pattern and the operations for it.
#[derive(Clone, Debug)]
pub(super) struct Elimination {
    entries: Vec<OffDiagonal>,
    updates: Vec<Update>,
    pivots: Vec<Pivot>,
    /// For each edge of the network, the indices of the entries (from, to) and (to, from).
    pub(super) places: Vec<[u8; 2]>,
}

impl Elimination {
    /// Plans the elimination of nodes `0..free`, in that order, joined by `ends`. `None` if
    /// there are more entries than the capacity.
    pub(super) fn new(free: usize, ends: &[[u8; 2]]) -> Option<Self> {
        let mut later = vec![0 as Set; free];
        for [a, b] in ends.iter().map(|e| e.map(usize::from)) {
            if a < free && b < free {
                later[a.min(b)] |= 1 << a.max(b);
            }
        }
        let mut at = vec![[NOWHERE; MAX_NODES]; MAX_NODES];
        at.iter_mut().enumerate().for_each(|(i, row)| row[i] = i as u8);
        let mut plan = Self {
            entries: Vec::new(),
            updates: Vec::new(),
            pivots: Vec::new(),
            places: Vec::new(),
        };
        for pivot in 0..free {
            for row in members(later[pivot]) {
                later[row] |= later[pivot] & !(((2 as Set) << row) - 1);
                let below = u8::try_from(MAX_NODES + 2 * plan.entries.len()).ok()?;
                let above = below.checked_add(1).filter(|place| *place < NOWHERE)?;
                at[row][pivot] = below;
                at[pivot][row] = above;
                plan.entries.push(OffDiagonal {
                    pivot: pivot as u8,
                    row: row as u8,
                    below,
                    above,
                });
            }
        }
        let mut entries = 0;
        for (pivot, set) in later.iter().enumerate() {
            for row in members(*set) {
                for column in members(*set) {
                    plan.updates.push(Update {
                        target: at[row][column],
                        left: at[row][pivot],
                        right: at[pivot][column],
                    });
                }
            }
            entries += set.count_ones() as u16;
            plan.pivots.push(Pivot { entries, updates: plan.updates.len() as u16 });
        }
        plan.places = ends
            .iter()
            .map(|&[a, b]| {
                [at[usize::from(a)][usize::from(b)], at[usize::from(b)][usize::from(a)]]
            })
            .collect();
        Some(plan)
    }

    /// Clears the off-diagonal entries.
    #[inline]
    pub(super) fn clear(&self, values: &mut Values) {
        let end = MAX_NODES + 2 * self.entries.len();
        for lane in &mut values.0[MAX_NODES..end] {
            *lane = [0.0; LANES];
        }
    }

    /// Replaces the matrices by their factors: unit lower triangle, reciprocal of the
    /// diagonal, unit upper triangle.
    #[inline]
    pub(super) fn factor(&self, values: &mut Values) {
        let v = &mut values.0;
        let (mut entry, mut update) = (0, 0);
        for (k, pivot) in self.pivots.iter().enumerate() {
            let reciprocal = v[k].map(|d| 1.0 / d);
            v[k] = reciprocal;
            for e in &self.entries[entry..usize::from(pivot.entries)] {
                let below = &mut v[usize::from(e.below)];
                for l in 0..LANES {
                    below[l] *= reciprocal[l];
                }
            }
            for u in &self.updates[update..usize::from(pivot.updates)] {
                let (left, right) = (v[usize::from(u.left)], v[usize::from(u.right)]);
                let target = &mut v[usize::from(u.target)];
                for l in 0..LANES {
                    target[l] -= left[l] * right[l];
                }
            }
            entry = usize::from(pivot.entries);
            update = usize::from(pivot.updates);
        }
        for e in &self.entries {
            let reciprocal = v[usize::from(e.pivot)];
            let above = &mut v[usize::from(e.above)];
            for l in 0..LANES {
                above[l] *= reciprocal[l];
            }
        }
    }

    /// Solves for two right-hand sides of each matrix, in place.
    #[inline]
    pub(super) fn solve(&self, values: &Values, x: &mut [Pair; MAX_NODES]) {
        let v = &values.0;
        for e in &self.entries {
            let (factor, known) = (v[usize::from(e.below)], x[usize::from(e.pivot)]);
            subtract(&mut x[usize::from(e.row)], factor, known);
        }
        for (node, diagonal) in x.iter_mut().zip(v).take(self.pivots.len()) {
            for l in 0..LANES {
                node[l] *= diagonal[l];
                node[LANES + l] *= diagonal[l];
            }
        }
        for e in self.entries.iter().rev() {
            let (factor, known) = (v[usize::from(e.above)], x[usize::from(e.row)]);
            subtract(&mut x[usize::from(e.pivot)], factor, known);
        }
    }
}

#[inline(always)]
fn subtract(target: &mut Pair, factor: Lane, known: Pair) {
    for l in 0..LANES {
        target[l] -= factor[l] * known[l];
        target[LANES + l] -= factor[l] * known[LANES + l];
    }
}
