//! The furnace's network with its nodes by name.

use super::builder::NetworkError;
use super::edge::NodeId;
use super::elimination::MAX_NODES;
use super::furnace::{FurnaceNodes, furnace_network};
use super::network::{ChamberState, Network, RingLoad};
use super::node_temperatures::{NodeTemperatures, PIECE};
use super::piece_thermal::PieceThermal;
use super::stepper::Stepper;
use crate::constants::KELVIN;
use crate::spec::FurnaceSpec;

/// The chamber of a furnace with a piece in it.
#[derive(Clone, Debug)]
pub struct Chamber {
    stepper: Stepper,
    nodes: FurnaceNodes,
}

fn mean(layers_c: &[f64; PIECE]) -> f64 {
    layers_c.iter().sum::<f64>() / PIECE as f64
}

/// The chamber temperatures that other modules use (°C).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Temperatures {
    /// The heating element.
    pub element_c: f64,
    /// The muffle.
    pub muffle_c: f64,
    /// The wall of the piece from outside to inside, on the inner ring of places.
    pub piece_c: [f64; PIECE],
    /// The same on the outer ring, if there are pieces.
    pub outer_piece_c: Option<[f64; PIECE]>,
}

impl Temperatures {
    /// Mean over the wall of the piece on the inner ring (°C).
    pub fn piece_mean_c(&self) -> f64 {
        mean(&self.piece_c)
    }

    /// Mean over the wall of the piece on the outer ring (°C).
    pub fn outer_piece_mean_c(&self) -> Option<f64> {
        self.outer_piece_c.as_ref().map(mean)
    }

    /// The walls on all rings that have pieces, the inner one first.
    pub fn pieces_c(&self) -> impl Iterator<Item = [f64; PIECE]> {
        [Some(self.piece_c), self.outer_piece_c].into_iter().flatten()
    }
}

impl Chamber {
    /// A furnace with its work, all at one temperature (°C).
    pub fn new(
        spec: &FurnaceSpec,
        piece: &PieceThermal,
        start_c: f64,
    ) -> Result<Self, NetworkError> {
        Self::starting_at(spec, piece, &NodeTemperatures::even(start_c))
    }

    /// A furnace with its work, each node at its own temperature.
    pub fn starting_at(
        spec: &FurnaceSpec,
        piece: &PieceThermal,
        start: &NodeTemperatures,
    ) -> Result<Self, NetworkError> {
        let (network, nodes) = furnace_network(spec, piece, start)?;
        let stepper = Stepper::new(network, [nodes.control_sensor, nodes.limit_sensor]);
        Ok(Self { stepper, nodes })
    }

    /// Advances a tenth of a second with a heater power (W), a pressure (Pa) and an opening
    /// of the closure, 0 to 1.
    #[inline]
    pub fn step(&mut self, heater_w: f64, pressure_pa: f64, opening: f64) {
        self.stepper.step(heater_w, ChamberState { pressure_pa, opening });
    }

    /// Temperature of the control thermocouple's tip (°C); cheap to read.
    #[inline]
    pub fn control_sensor_c(&self) -> f64 {
        let [control, _] = self.stepper.watched_k();
        control - KELVIN
    }

    /// Temperature of the limit thermocouple's tip (°C); cheap to read.
    #[inline]
    pub fn limit_sensor_c(&self) -> f64 {
        let [_, limit] = self.stepper.watched_k();
        limit - KELVIN
    }

    /// The temperatures. Costs as much as a tick; meant for once a second.
    pub fn temperatures(&self) -> Temperatures {
        let (kelvin, network) = (self.kelvin(), self.network());
        let celsius = |node: NodeId| kelvin[network.slot(node)] - KELVIN;
        Temperatures {
            element_c: celsius(self.nodes.element),
            muffle_c: celsius(self.nodes.muffle),
            piece_c: self.nodes.inner().piece.map(celsius),
            outer_piece_c: self.nodes.rings.get(1).map(|ring| ring.piece.map(celsius)),
        }
    }

    /// The temperature of every node, from which [`Chamber::starting_at`] can go on. The pieces of an
    /// outer ring are not among them: they would go on as warm as those of the inner one.
    pub fn node_temperatures(&self) -> NodeTemperatures {
        let (kelvin, network, nodes) = (self.kelvin(), self.network(), &self.nodes);
        let celsius = |node: NodeId| kelvin[network.slot(node)] - KELVIN;
        NodeTemperatures {
            element_c: celsius(nodes.element),
            insulation_c: nodes.insulation.map(celsius),
            muffle_c: celsius(nodes.muffle),
            gas_c: celsius(nodes.gas),
            control_sensor_c: celsius(nodes.control_sensor),
            limit_sensor_c: celsius(nodes.limit_sensor),
            table_c: celsius(nodes.table),
            pin_c: celsius(nodes.inner().pin),
            piece_c: nodes.inner().piece.map(celsius),
        }
    }

    /// Sets the water of the pieces on a ring, in their outer layers, until the next call.
    pub fn set_load(&mut self, ring: usize, load: RingLoad) {
        self.stepper.set_load(ring, load);
    }

    /// Pieces on each ring of places, the inner one first.
    pub fn counts(&self) -> impl Iterator<Item = u32> {
        self.nodes.rings.iter().map(|ring| ring.count)
    }

    /// The temperatures as the network holds them (K, by slot).
    pub fn kelvin(&self) -> [f64; MAX_NODES] {
        self.stepper.temperatures_k()
    }

    /// The nodes.
    pub fn nodes(&self) -> &FurnaceNodes {
        &self.nodes
    }

    /// The equations, for other solvers.
    pub fn network(&self) -> &Network {
        self.stepper.network()
    }
}
