//! Nodes that store heat, edges that carry it, and the heat balance of both.

use std::array::from_fn;

use super::edge::{Edge, Medium, NodeId};
use super::elimination::{Elimination, MAX_NODES};
use crate::constants::ATMOSPHERE_PA;
use crate::gas;
use crate::heat_curve::HeatCurve;

/// Largest number of edges in a network.
pub(super) const MAX_EDGES: usize = 64;

/// Smallest heat capacity of a volume of gas (J/K). The heat stored in gas is negligible, but without
/// this floor thin gas would respond within microseconds.
const GAS_FLOOR_J_K: f64 = 0.05;

/// Mean temperature at which the capacity of a volume of gas is taken (K).
const GAS_REFERENCE_K: f64 = 1_000.0;

/// One value per node.
pub(super) type PerNode = [f64; MAX_NODES];

/// The heat capacity of a node.
#[derive(Clone, Copy)]
pub(super) enum HeatStore {
    Mass {
        j_k: f64,
    },
    /// Heat capacity over temperature (J/K).
    Material {
        curve: HeatCurve,
    },
    Gas {
        volume_m3: f64,
    },
    Fixed,
}

/// Pressure and opening of the chamber.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChamberState {
    /// Pressure of the gas (Pa).
    pub pressure_pa: f64,
    /// How far the closure is open, 0 to 1.
    pub opening: f64,
}

impl ChamberState {
    /// Shut, at atmospheric pressure.
    pub const SHUT_IN_AIR: Self = Self { pressure_pa: ATMOSPHERE_PA, opening: 0.0 };
}

/// A network, its nodes in the order of elimination, those of fixed temperature last.
#[derive(Clone, Debug)]
pub struct Network {
    /// Free nodes.
    pub(super) free: usize,
    /// All nodes.
    pub(super) nodes: usize,
    /// Slot of the node that the heater heats; an unused slot if there is no heater.
    pub(super) heated: usize,
    /// Ends of each edge, by slot.
    pub(super) ends: Vec<[u8; 2]>,
    pub(super) elimination: Elimination,
    slots: Vec<u8>,
    edges: Vec<Edge>,
    start_k: PerNode,
    capacity: PerNode,
    materials: Vec<Material>,
    gases: Vec<GasVolume>,
    films: Vec<GasFilm>,
    pores: Vec<PorousEdge>,
    /// The loaded nodes and their water.
    loads: Vec<(u8, RingLoad)>,
}

/// The water of a ring of pieces, in its node.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct RingLoad {
    /// How wet the surface is, 0 to 1.
    pub wetness: f64,
    /// Heat capacity of the water (J/K).
    pub water_j_k: f64,
    /// Heat that its evaporation takes (W).
    pub taken_w: f64,
}

/// A node whose heat capacity depends on its temperature (J/K).
#[derive(Clone, Copy, Debug)]
struct Material {
    slot: u8,
    curve: HeatCurve,
}

/// A node that is a volume of gas; its heat capacity depends on the pressure.
#[derive(Clone, Copy, Debug)]
struct GasVolume {
    slot: u8,
    volume_m3: f64,
}

/// An edge through a gas film; its conductance depends on temperature and pressure.
#[derive(Clone, Copy, Debug)]
struct GasFilm {
    edge: u8,
    gap_m: f64,
}

/// An edge through a porous solid; the share of its pore gas depends on temperature and pressure.
#[derive(Clone, Copy, Debug)]
struct PorousEdge {
    edge: u8,
    gas_share: f64,
    pore_m: f64,
}

/// Conductance (W/K) and radiative coefficient (W/K⁴) of every edge, at one opening of the closure.
#[derive(Clone, Debug)]
pub(super) struct Paths {
    pub(super) conductance: [f64; MAX_EDGES],
    pub(super) radiative_coefficient: [f64; MAX_EDGES],
}

impl Network {
    /// Builds a network of nodes with their first temperatures (K) and edges; the `free` nodes have
    /// the first slots. `None` if there are more edges than elimination can hold.
    pub(super) fn assemble(
        stores: &[(HeatStore, f64)],
        edges: Vec<Edge>,
        heated: Option<NodeId>,
        loaded: &[NodeId],
        slots: Vec<u8>,
        free: usize,
    ) -> Option<Self> {
        let slot = |id: NodeId| slots[usize::from(id.0)];
        let ends: Vec<[u8; 2]> = edges.iter().map(|e| [slot(e.from), slot(e.to)]).collect();
        let elimination = Elimination::new(free, &ends)?;
        let mut start_k = [0.0; MAX_NODES];
        let mut capacity = [f64::INFINITY; MAX_NODES];
        let mut materials = Vec::new();
        let mut gases = Vec::new();
        for ((store, kelvin), &slot) in stores.iter().zip(&slots) {
            start_k[usize::from(slot)] = *kelvin;
            match *store {
                HeatStore::Mass { j_k } => capacity[usize::from(slot)] = j_k,
                HeatStore::Material { curve } => materials.push(Material { slot, curve }),
                HeatStore::Gas { volume_m3 } => gases.push(GasVolume { slot, volume_m3 }),
                HeatStore::Fixed => {}
            }
        }
        let mut films = Vec::new();
        let mut pores = Vec::new();
        for (edge, path) in (0_u8..).zip(&edges) {
            match path.medium {
                Medium::Solid => {}
                Medium::Film { gap_m } => films.push(GasFilm { edge, gap_m }),
                Medium::Porous { gas_share, pore_m } => {
                    pores.push(PorousEdge { edge, gas_share, pore_m });
                }
            }
        }
        Some(Self {
            free,
            nodes: slots.len(),
            heated: heated.map_or(MAX_NODES - 1, |id| usize::from(slot(id))),
            loads: loaded.iter().map(|id| (slot(*id), RingLoad::default())).collect(),
            ends,
            elimination,
            slots,
            edges,
            start_k,
            capacity,
            materials,
            gases,
            films,
            pores,
        })
    }

    /// Index of a node in the arrays of temperatures, rates and flows.
    pub fn slot(&self, node: NodeId) -> usize {
        usize::from(self.slots[usize::from(node.0)])
    }

    /// Temperatures to begin with (K), by slot.
    pub fn start_k(&self) -> [f64; MAX_NODES] {
        self.start_k
    }

    /// The water of a ring of pieces.
    pub fn load(&self, ring: usize) -> RingLoad {
        self.loads.get(ring).map_or(RingLoad::default(), |(_, load)| *load)
    }

    /// Sets the water of a ring of pieces.
    pub(super) fn set_load(&mut self, ring: usize, load: RingLoad) {
        if let Some((_, own)) = self.loads.get_mut(ring) {
            *own = load;
        }
    }

    /// Takes the heat of evaporation (W) from what flows into the nodes.
    pub(super) fn take_evaporation(&self, flow: &mut PerNode) {
        for (slot, load) in &self.loads {
            flow[usize::from(*slot)] -= load.taken_w;
        }
    }

    /// Heat capacities (J/K) at a pressure and at these temperatures (K), by slot; infinite where the
    /// temperature is fixed.
    pub fn capacities(&self, pressure_pa: f64, kelvin: &[f64; MAX_NODES]) -> [f64; MAX_NODES] {
        let mut capacity = self.capacity;
        for &GasVolume { slot, volume_m3 } in &self.gases {
            let kg = pressure_pa * volume_m3 / (gas::AIR_GAS * GAS_REFERENCE_K);
            capacity[usize::from(slot)] = (kg * gas::AIR_CP).max(GAS_FLOOR_J_K);
        }
        self.set_material_capacities(kelvin, &mut capacity);
        capacity
    }

    /// Sets the heat capacities that depend on temperature, those of loaded nodes among them.
    #[inline]
    pub(super) fn set_material_capacities(&self, kelvin: &PerNode, capacity: &mut PerNode) {
        for &Material { slot, curve } in &self.materials {
            let slot = usize::from(slot);
            capacity[slot] = curve.at(kelvin[slot]);
        }
        for (slot, load) in &self.loads {
            capacity[usize::from(*slot)] += load.water_j_k;
        }
    }

    /// Conductances and radiative coefficients at this opening of the closure and with the present water. Edges through gas still
    /// lack the factors for conductivity and pressure.
    pub(super) fn paths(&self, opening: f64) -> Paths {
        let wetness = from_fn(|ring| self.load(ring).wetness);
        let mut paths =
            Paths { conductance: [0.0; MAX_EDGES], radiative_coefficient: [0.0; MAX_EDGES] };
        for (index, edge) in self.edges.iter().enumerate() {
            let factor = edge.factor(opening, wetness);
            paths.conductance[index] = edge.conductance * factor;
            paths.radiative_coefficient[index] = edge.radiative_coefficient * factor;
        }
        paths
    }

    /// Sets the conductance of the edges through gas at these temperatures and this pressure.
    #[inline]
    pub(super) fn set_gas_conductance(
        &self,
        dense: &[f64; MAX_EDGES],
        kelvin: &PerNode,
        pressure_pa: f64,
        conductance: &mut [f64; MAX_EDGES],
    ) {
        for &GasFilm { edge, gap_m } in &self.films {
            let edge = usize::from(edge);
            let warm = kelvin[usize::from(self.ends[edge][1])];
            conductance[edge] = dense[edge]
                * gas::air_conductivity(warm)
                * gas::gap_share(warm, pressure_pa, gap_m);
        }
        for &PorousEdge { edge, gas_share, pore_m } in &self.pores {
            let edge = usize::from(edge);
            let [from, to] = self.ends[edge];
            let warm = 0.5 * (kelvin[usize::from(from)] + kelvin[usize::from(to)]);
            let lost_share = 1.0 - gas::pore_share_of_air(warm, pressure_pa, pore_m);
            conductance[edge] = dense[edge] * (1.0 - gas_share * lost_share);
        }
    }

    /// Net heat into every node (W), those of fixed temperature included.
    pub fn heat_flows(
        &self,
        kelvin: &[f64; MAX_NODES],
        heater_w: f64,
        chamber: ChamberState,
    ) -> [f64; MAX_NODES] {
        let paths = self.paths(chamber.opening);
        let mut conductance = paths.conductance;
        self.set_gas_conductance(
            &paths.conductance,
            kelvin,
            chamber.pressure_pa,
            &mut conductance,
        );
        let mut flow = [0.0; MAX_NODES];
        for (index, [from, to]) in self.ends.iter().enumerate() {
            let (from, to) = (usize::from(*from), usize::from(*to));
            let fourth = |t: f64| (t * t) * (t * t);
            let heat = conductance[index] * (kelvin[from] - kelvin[to])
                + paths.radiative_coefficient[index]
                    * (fourth(kelvin[from]) - fourth(kelvin[to]));
            flow[from] -= heat;
            flow[to] += heat;
        }
        flow[self.heated] += heater_w;
        self.take_evaporation(&mut flow);
        flow
    }

    /// The rate of every temperature (K/s), for any solver.
    pub fn rates(
        &self,
        kelvin: &[f64; MAX_NODES],
        heater_w: f64,
        chamber: ChamberState,
        rates: &mut [f64; MAX_NODES],
    ) {
        let flow = self.heat_flows(kelvin, heater_w, chamber);
        let capacity = self.capacities(chamber.pressure_pa, kelvin);
        for slot in 0..self.nodes {
            rates[slot] = flow[slot] / capacity[slot];
        }
    }
}
