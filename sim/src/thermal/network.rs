//! Nodes that store heat, edges that carry it, and the heat balance of both.
//!
//! Every edge carries `conductance · (T1 − T2) + radiance · (T1⁴ − T2⁴)`. That covers
//! radiation, conduction, and conduction with `k = a + b·T³`, whose integral over the
//! temperature is `a·T + b/4·T⁴`: a layer of fibre board is exact however steep the
//! temperature in it.

use super::elimination::{Elimination, order};
use crate::gas;
use crate::radiation::SIGMA;

/// Most nodes of a network, those of fixed temperature included.
pub const MAX_NODES: usize = 32;

/// Most edges of a network.
pub(super) const MAX_EDGES: usize = 64;

/// Least heat capacity of a volume of gas (J/K). What gas stores never matters, but without a
/// floor it would answer within microseconds once it is thin.
const GAS_FLOOR_J_K: f64 = 0.05;

/// Mean temperature at which the capacity of a volume of gas is taken (K).
const GAS_REFERENCE_K: f64 = 1_000.0;

/// One value per node.
pub(super) type PerNode = [f64; MAX_NODES];

/// A node of a network under construction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NodeId(u8);

/// What surrounds and fills the network.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// Pressure of the gas (Pa).
    pub pressure_pa: f64,
    /// How far the closure is open, 0 to 1.
    pub opening: f64,
}

impl Surroundings {
    /// Shut, at atmospheric pressure.
    pub const SHUT_IN_AIR: Self = Self { pressure_pa: gas::ATMOSPHERE_PA, opening: 0.0 };
}

/// What carries the conductive part of an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Medium {
    /// Something that pressure does not change.
    Solid,
    /// Gas over a gap; the conductance is area over gap (m) and the gas is node `to`.
    Film {
        /// Width of the gap (m).
        gap_m: f64,
    },
    /// A porous solid, of whose conductance the pore gas carries a share.
    Porous {
        /// Share of the pore gas at atmospheric pressure, 0 to 1.
        gas_share: f64,
        /// Size of the pores (m).
        pore_m: f64,
    },
}

/// A path of heat between two nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// One end.
    pub from: NodeId,
    /// The other end.
    pub to: NodeId,
    /// Heat per kelvin (W/K); area over gap (m) through [`Medium::Film`].
    pub conductance: f64,
    /// Heat per kelvin to the fourth (W/K⁴).
    pub radiance: f64,
    /// What conducts.
    pub medium: Medium,
    /// What is left of the path when the closure is shut, 0 to 1.
    pub shut: f64,
    /// What is left of it when the closure is fully open, 0 to 1.
    pub open: f64,
}

impl Edge {
    /// A path of constant conductance (W/K).
    pub fn conduction(from: NodeId, to: NodeId, conductance: f64) -> Self {
        Self {
            from,
            to,
            conductance,
            radiance: 0.0,
            medium: Medium::Solid,
            shut: 1.0,
            open: 1.0,
        }
    }

    /// Radiation over an exchange area (m²).
    pub fn radiation(from: NodeId, to: NodeId, exchange_m2: f64) -> Self {
        Self { radiance: SIGMA * exchange_m2, ..Self::conduction(from, to, 0.0) }
    }

    /// Conduction with `k = k_solid + k_radiative·T³` over area divided by length (m).
    pub fn layer(from: NodeId, to: NodeId, shape_m: f64, k_solid: f64, k_radiative: f64) -> Self {
        Self {
            radiance: shape_m * k_radiative / 4.0,
            ..Self::conduction(from, to, shape_m * k_solid)
        }
    }

    /// Conduction through the gas `to` at the surface `from` (m²), over a gap (m).
    pub fn film(from: NodeId, to: NodeId, area_m2: f64, gap_m: f64) -> Self {
        Self {
            medium: Medium::Film { gap_m },
            ..Self::conduction(from, to, area_m2 / gap_m)
        }
    }

    /// Gives the path a porous medium.
    pub fn porous(self, gas_share: f64, pore_m: f64) -> Self {
        Self { medium: Medium::Porous { gas_share, pore_m }, ..self }
    }

    /// Adds an exchange area (m²) to the path.
    pub fn and_radiation(self, exchange_m2: f64) -> Self {
        Self { radiance: self.radiance + SIGMA * exchange_m2, ..self }
    }

    /// Makes the path depend on the closure.
    pub fn by_closure(self, shut: f64, open: f64) -> Self {
        Self { shut, open, ..self }
    }
}

/// Why a network cannot be built.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NetworkError {
    /// More than [`MAX_NODES`] nodes.
    TooManyNodes,
    /// More edges than the network has room for, or more than elimination can hold.
    TooManyEdges,
    /// A node without a positive heat capacity, or a temperature that is no temperature.
    BadNode,
    /// An edge that joins a node to itself or two fixed temperatures, or a negative one.
    BadEdge,
}

/// What a node stores.
#[derive(Clone, Copy)]
enum Store {
    Mass { j_k: f64 },
    Gas { volume_m3: f64 },
    Fixed,
}

/// Collects nodes and edges.
#[derive(Default)]
pub struct NetworkBuilder {
    nodes: Vec<(Store, f64)>,
    edges: Vec<Edge>,
    heated: Option<NodeId>,
}

impl NetworkBuilder {
    /// Adds a node of a heat capacity (J/K) that starts at a temperature (K).
    pub fn node(&mut self, j_k: f64, start_k: f64) -> NodeId {
        self.push(Store::Mass { j_k }, start_k)
    }

    /// Adds a volume of air (m³) that starts at a temperature (K).
    pub fn gas(&mut self, volume_m3: f64, start_k: f64) -> NodeId {
        self.push(Store::Gas { volume_m3 }, start_k)
    }

    /// Adds a node that keeps its temperature (K) whatever flows into it.
    pub fn fixed(&mut self, kelvin: f64) -> NodeId {
        self.push(Store::Fixed, kelvin)
    }

    /// Adds an edge.
    pub fn edge(&mut self, edge: Edge) {
        self.edges.push(edge);
    }

    /// Says which node the heater heats.
    pub fn heat(&mut self, node: NodeId) {
        self.heated = Some(node);
    }

    fn push(&mut self, store: Store, kelvin: f64) -> NodeId {
        self.nodes.push((store, kelvin));
        NodeId(u8::try_from(self.nodes.len() - 1).unwrap_or(u8::MAX))
    }

    fn check(&self) -> Result<(), NetworkError> {
        if self.nodes.len() > MAX_NODES {
            return Err(NetworkError::TooManyNodes);
        }
        if self.edges.len() > MAX_EDGES {
            return Err(NetworkError::TooManyEdges);
        }
        let bad = |(store, kelvin): &(Store, f64)| {
            let stored = match *store {
                Store::Mass { j_k } => j_k,
                Store::Gas { volume_m3 } => volume_m3,
                Store::Fixed => 1.0,
            };
            !(stored > 0.0 && stored.is_finite() && *kelvin > 0.0 && kelvin.is_finite())
        };
        if self.nodes.is_empty() || self.nodes.iter().any(bad) {
            return Err(NetworkError::BadNode);
        }
        let fixed = |id: NodeId| matches!(self.nodes[usize::from(id.0)].0, Store::Fixed);
        let good = |e: &Edge| {
            e.from != e.to
                && !(fixed(e.from) && fixed(e.to))
                && [e.conductance, e.radiance, e.shut, e.open]
                    .iter()
                    .all(|v| *v >= 0.0 && v.is_finite())
        };
        if self.edges.iter().all(good) { Ok(()) } else { Err(NetworkError::BadEdge) }
    }

    /// Orders the nodes for elimination and makes the network.
    pub fn build(self) -> Result<Network, NetworkError> {
        self.check()?;
        let count = self.nodes.len();
        let free: Vec<usize> =
            (0..count).filter(|i| !matches!(self.nodes[*i].0, Store::Fixed)).collect();
        let place_of = |id: NodeId| free.iter().position(|f| *f == usize::from(id.0));
        let pairs: Vec<(usize, usize)> = self
            .edges
            .iter()
            .filter_map(|e| Some((place_of(e.from)?, place_of(e.to)?)))
            .collect();

        let mut slots = vec![0_u8; count];
        for (slot, place) in order(free.len(), &pairs).into_iter().enumerate() {
            slots[free[place]] = slot as u8;
        }
        let mut next = free.len() as u8;
        for (index, (store, _)) in self.nodes.iter().enumerate() {
            if matches!(store, Store::Fixed) {
                slots[index] = next;
                next += 1;
            }
        }
        Network::assemble(self, slots, free.len())
    }
}

/// A network, its nodes in the order of elimination, those of fixed temperature last.
#[derive(Clone, Debug)]
pub struct Network {
    /// Free nodes.
    pub(super) free: usize,
    /// All nodes.
    pub(super) nodes: usize,
    /// Slot of the node that the heater heats.
    pub(super) heated: usize,
    /// Ends of each edge, by slot.
    pub(super) ends: Vec<[u8; 2]>,
    pub(super) elimination: Elimination,
    slots: Vec<u8>,
    edges: Vec<Edge>,
    start_k: PerNode,
    capacity: PerNode,
    /// Slot and volume of each volume of gas.
    gases: Vec<(u8, f64)>,
    /// The edges whose conduction depends on temperature and pressure.
    films: Vec<(u8, f64)>,
    pores: Vec<(u8, f64, f64)>,
}

/// Conductance (W/K) and radiance (W/K⁴) of every edge, in one state of the closure.
#[derive(Clone, Debug)]
pub(super) struct Paths {
    pub(super) conductance: [f64; MAX_EDGES],
    pub(super) radiance: [f64; MAX_EDGES],
}

impl Network {
    fn assemble(
        builder: NetworkBuilder,
        slots: Vec<u8>,
        free: usize,
    ) -> Result<Self, NetworkError> {
        let slot = |id: NodeId| slots[usize::from(id.0)];
        let ends: Vec<[u8; 2]> =
            builder.edges.iter().map(|e| [slot(e.from), slot(e.to)]).collect();
        let elimination = Elimination::new(free, &ends).ok_or(NetworkError::TooManyEdges)?;
        let mut start_k = [0.0; MAX_NODES];
        let mut capacity = [f64::INFINITY; MAX_NODES];
        let mut gases = Vec::new();
        for ((store, kelvin), &slot) in builder.nodes.iter().zip(&slots) {
            start_k[usize::from(slot)] = *kelvin;
            match *store {
                Store::Mass { j_k } => capacity[usize::from(slot)] = j_k,
                Store::Gas { volume_m3 } => gases.push((slot, volume_m3)),
                Store::Fixed => {}
            }
        }
        let mut films = Vec::new();
        let mut pores = Vec::new();
        for (index, edge) in (0_u8..).zip(&builder.edges) {
            match edge.medium {
                Medium::Solid => {}
                Medium::Film { gap_m } => films.push((index, gap_m)),
                Medium::Porous { gas_share, pore_m } => pores.push((index, gas_share, pore_m)),
            }
        }
        Ok(Self {
            free,
            nodes: slots.len(),
            heated: builder.heated.map_or(0, |id| usize::from(slot(id))),
            ends,
            elimination,
            slots,
            edges: builder.edges,
            start_k,
            capacity,
            gases,
            films,
            pores,
        })
    }

    /// Where a node stands in the arrays of temperatures, rates and flows.
    pub fn slot(&self, node: NodeId) -> usize {
        usize::from(self.slots[usize::from(node.0)])
    }

    /// Temperatures to begin with (K), by slot.
    pub fn start_k(&self) -> [f64; MAX_NODES] {
        self.start_k
    }

    /// Heat capacities (J/K) at a pressure, by slot; infinite where the temperature is fixed.
    pub fn capacities(&self, pressure_pa: f64) -> [f64; MAX_NODES] {
        let mut capacity = self.capacity;
        for &(slot, volume_m3) in &self.gases {
            let kg = pressure_pa * volume_m3 / (gas::AIR_GAS * GAS_REFERENCE_K);
            capacity[usize::from(slot)] = (kg * gas::AIR_CP).max(GAS_FLOOR_J_K);
        }
        capacity
    }

    /// The paths as the closure leaves them; conduction through gas as if it were dense and
    /// of unit conductivity.
    pub(super) fn paths(&self, opening: f64) -> Paths {
        let mut paths =
            Paths { conductance: [0.0; MAX_EDGES], radiance: [0.0; MAX_EDGES] };
        for (index, edge) in self.edges.iter().enumerate() {
            let left = edge.shut + (edge.open - edge.shut) * opening;
            paths.conductance[index] = edge.conductance * left;
            paths.radiance[index] = edge.radiance * left;
        }
        paths
    }

    /// Puts in what the gas carries at these temperatures and this pressure.
    #[inline]
    pub(super) fn fill_gas(
        &self,
        dense: &[f64; MAX_EDGES],
        kelvin: &PerNode,
        pressure_pa: f64,
        conductance: &mut [f64; MAX_EDGES],
    ) {
        for &(index, gap_m) in &self.films {
            let edge = usize::from(index);
            let warm = kelvin[usize::from(self.ends[edge][1])];
            conductance[edge] = dense[edge]
                * gas::air_conductivity(warm)
                * gas::gap_share(warm, pressure_pa, gap_m);
        }
        for &(index, gas_share, pore_m) in &self.pores {
            let edge = usize::from(index);
            let [from, to] = self.ends[edge];
            let warm = 0.5 * (kelvin[usize::from(from)] + kelvin[usize::from(to)]);
            let lost = 1.0 - gas::pore_share(warm, pressure_pa, pore_m);
            conductance[edge] = dense[edge] * (1.0 - gas_share * lost);
        }
    }

    /// Net heat into every node (W), those of fixed temperature included.
    pub fn heat_flows(
        &self,
        kelvin: &[f64; MAX_NODES],
        heater_w: f64,
        around: Surroundings,
    ) -> [f64; MAX_NODES] {
        let paths = self.paths(around.opening);
        let mut conductance = paths.conductance;
        self.fill_gas(&paths.conductance, kelvin, around.pressure_pa, &mut conductance);
        let mut flow = [0.0; MAX_NODES];
        for (index, [from, to]) in self.ends.iter().enumerate() {
            let (from, to) = (usize::from(*from), usize::from(*to));
            let fourth = |t: f64| (t * t) * (t * t);
            let heat = conductance[index] * (kelvin[from] - kelvin[to])
                + paths.radiance[index] * (fourth(kelvin[from]) - fourth(kelvin[to]));
            flow[from] -= heat;
            flow[to] += heat;
        }
        flow[self.heated] += heater_w;
        flow
    }

    /// How fast every temperature changes (K/s): the equations themselves, for any solver.
    pub fn rates(
        &self,
        kelvin: &[f64; MAX_NODES],
        heater_w: f64,
        around: Surroundings,
        rates: &mut [f64; MAX_NODES],
    ) {
        let flow = self.heat_flows(kelvin, heater_w, around);
        let capacity = self.capacities(around.pressure_pa);
        for slot in 0..self.nodes {
            rates[slot] = flow[slot] / capacity[slot];
        }
    }
}
