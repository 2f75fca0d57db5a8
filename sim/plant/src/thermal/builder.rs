//! Collects nodes and edges, checks that they form a network, and orders the nodes.

use super::edge::{Edge, NodeId};
use super::elimination::{MAX_NODES, order};
use super::network::{HeatStore, MAX_EDGES, Network};
use crate::heat_curve::HeatCurve;

/// Temperatures at which a heat capacity must be positive (K): from a cold room to a hot furnace.
const CHECKED_K: [f64; 3] = [250.0, 600.0, 2_000.0];

/// Why a network cannot be built.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NetworkError {
    /// [`MAX_NODES`] nodes or more: one slot stays empty.
    TooManyNodes,
    /// More edges than the capacity of the network or of the elimination.
    TooManyEdges,
    /// A node without a positive heat capacity or temperature, or a heater or water in a missing node.
    BadNode,
    /// An edge from a node to itself, to a missing node or between two fixed temperatures, or one with
    /// a negative conductance.
    BadEdge,
}

/// Collects nodes and edges.
#[derive(Default)]
pub struct NetworkBuilder {
    nodes: Vec<(HeatStore, f64)>,
    edges: Vec<Edge>,
    heated: Option<NodeId>,
    loaded: Vec<NodeId>,
}

impl NetworkBuilder {
    /// Adds a node of a heat capacity (J/K) that starts at a temperature (K).
    pub fn node(&mut self, j_k: f64, start_k: f64) -> NodeId {
        self.push(HeatStore::Mass { j_k }, start_k)
    }

    /// Adds a node whose heat capacity (J/K) depends on its temperature, which starts at a temperature (K).
    pub fn material(&mut self, curve: HeatCurve, start_k: f64) -> NodeId {
        self.push(HeatStore::Material { curve }, start_k)
    }

    /// Adds a volume of air (m³) that starts at a temperature (K).
    pub fn gas(&mut self, volume_m3: f64, start_k: f64) -> NodeId {
        self.push(HeatStore::Gas { volume_m3 }, start_k)
    }

    /// Adds a node of constant temperature (K), whatever heat flows into it.
    pub fn fixed(&mut self, kelvin: f64) -> NodeId {
        self.push(HeatStore::Fixed, kelvin)
    }

    /// Adds an edge.
    pub fn edge(&mut self, edge: Edge) {
        self.edges.push(edge);
    }

    /// Sets the node that the heater heats; without one its power is lost.
    pub fn heat(&mut self, node: NodeId) {
        self.heated = Some(node);
    }

    /// Adds the node that carries the water of a ring of pieces: the first call is for the inner ring.
    pub fn load(&mut self, node: NodeId) {
        self.loaded.push(node);
    }

    fn push(&mut self, store: HeatStore, kelvin: f64) -> NodeId {
        self.nodes.push((store, kelvin));
        NodeId(u8::try_from(self.nodes.len() - 1).unwrap_or(u8::MAX))
    }

    fn check(&self) -> Result<(), NetworkError> {
        if self.nodes.len() >= MAX_NODES {
            return Err(NetworkError::TooManyNodes);
        }
        if self.edges.len() > MAX_EDGES {
            return Err(NetworkError::TooManyEdges);
        }
        let bad = |(store, kelvin): &(HeatStore, f64)| {
            let stored = match *store {
                HeatStore::Mass { j_k } => j_k,
                HeatStore::Material { curve } => {
                    let least = CHECKED_K.map(|kelvin| curve.at(kelvin));
                    least.into_iter().fold(f64::INFINITY, f64::min)
                }
                HeatStore::Gas { volume_m3 } => volume_m3,
                HeatStore::Fixed => 1.0,
            };
            !(stored > 0.0 && stored.is_finite() && *kelvin > 0.0 && kelvin.is_finite())
        };
        if self.nodes.is_empty() || self.nodes.iter().any(bad) {
            return Err(NetworkError::BadNode);
        }
        let known = |id: NodeId| self.nodes.get(usize::from(id.0)).map(|(store, _)| store);
        let free =
            |id: NodeId| known(id).is_some_and(|store| !matches!(store, HeatStore::Fixed));
        if self.heated.iter().chain(&self.loaded).any(|id| !free(*id)) {
            return Err(NetworkError::BadNode);
        }
        let good = |e: &Edge| {
            e.from != e.to
                && known(e.from).and(known(e.to)).is_some()
                && (free(e.from) || free(e.to))
                && [e.conductance, e.radiative_coefficient, e.shut, e.open]
                    .into_iter()
                    .chain(e.wetting.iter().flat_map(|wetting| wetting.factors))
                    .all(|v| v >= 0.0 && v.is_finite())
        };
        if self.edges.iter().all(good) { Ok(()) } else { Err(NetworkError::BadEdge) }
    }

    /// Orders the nodes for elimination and builds the network.
    pub fn build(self) -> Result<Network, NetworkError> {
        self.check()?;
        let count = self.nodes.len();
        let free: Vec<usize> =
            (0..count).filter(|i| !matches!(self.nodes[*i].0, HeatStore::Fixed)).collect();
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
            if matches!(store, HeatStore::Fixed) {
                slots[index] = next;
                next += 1;
            }
        }
        let Self { nodes, edges, heated, loaded } = self;
        Network::assemble(&nodes, edges, heated, &loaded, slots, free.len())
            .ok_or(NetworkError::TooManyEdges)
    }
}
