//! Nodes and weights of Gaussian quadrature.

/// A value and its weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Node {
    pub(super) at: f64,
    pub(super) weight: f64,
}

/// The Gauss-Legendre rule with eight nodes on -1 to 1: the positive ones, and their weights (Abramowitz and
/// Stegun, Handbook of Mathematical Functions, table 25.4; values from memory, and tested).
const RULE: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_3),
];

/// The rule on each half of an interval: weights add up to its length.
pub(super) fn nodes(low: f64, high: f64) -> impl Iterator<Item = Node> {
    let quarter = 0.25 * (high - low);
    let middles = [low + quarter, high - quarter];
    middles.into_iter().flat_map(move |middle| eight_nodes(middle - quarter, middle + quarter))
}

/// The rule with eight nodes on an interval: weights add up to its length.
pub(super) fn eight_nodes(low: f64, high: f64) -> impl Iterator<Item = Node> {
    let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
    RULE.into_iter().flat_map(move |(x, weight)| {
        [-x, x].map(|x| Node { at: middle + half * x, weight: half * weight })
    })
}

/// The Gaussian rule with three nodes for a symmetric distribution around zero: it has the first five
/// moments of the distribution, whose second and fourth are given.
pub(super) fn three_nodes(second: f64, fourth: f64) -> [Node; 3] {
    if second <= 0.0 {
        return [Node { at: 0.0, weight: 1.0 / 3.0 }; 3];
    }
    let (at, weight) = ((fourth / second).sqrt(), 0.5 * second * second / fourth);
    [
        Node { at: -at, weight },
        Node { at: 0.0, weight: 1.0 - 2.0 * weight },
        Node { at, weight },
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_is_exact_for_polynomials() {
        // Eight nodes are exact up to the fifteenth power.
        for power in 0..16_i32 {
            let sum = |nodes: &mut dyn Iterator<Item = Node>| -> f64 {
                nodes.map(|node| node.weight * node.at.powi(power)).sum()
            };
            let exact = 2.0_f64.powi(power + 1) / f64::from(power + 1);
            for found in [sum(&mut eight_nodes(0.0, 2.0)), sum(&mut nodes(0.0, 2.0))] {
                assert!((found / exact - 1.0).abs() < 1e-13, "{power} {found} {exact}");
            }
        }
    }

    #[test]
    fn three_nodes_have_the_moments_of_a_normal_variable() {
        // Gauss-Hermite: 0 and the root of three, two thirds and a sixth.
        let [low, middle, high] = three_nodes(1.0, 3.0);
        assert!((high.at - 3.0_f64.sqrt()).abs() < 1e-15 && (low.at + high.at).abs() < 1e-15);
        assert!((high.weight - 1.0 / 6.0).abs() < 1e-15);
        assert!((middle.weight - 2.0 / 3.0).abs() < 1e-15);
    }
}
