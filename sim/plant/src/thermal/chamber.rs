//! The furnace's network with its nodes by name.

use super::builder::NetworkError;
use super::edge::NodeId;
use super::elimination::MAX_NODES;
use super::furnace::{FurnaceNodes, INSULATION, PIECE, PieceThermal, furnace_network};
use super::network::{Network, Surroundings};
use super::stepper::Stepper;
use crate::constants::KELVIN;
use crate::spec::FurnaceSpec;

/// The chamber of a furnace with a piece in it.
#[derive(Clone, Debug)]
pub struct Chamber {
    stepper: Stepper,
    nodes: FurnaceNodes,
}

/// Every temperature of a chamber (°C).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Temperatures {
    /// The heating element.
    pub element_c: f64,
    /// The insulation from hot face to cold face.
    pub insulation_c: [f64; INSULATION],
    /// The muffle.
    pub muffle_c: f64,
    /// The gas in it.
    pub gas_c: f64,
    /// The tip of the control thermocouple.
    pub control_sensor_c: f64,
    /// The tip of the limit thermocouple.
    pub limit_sensor_c: f64,
    /// The table.
    pub table_c: f64,
    /// The pins.
    pub pin_c: f64,
    /// The wall of the piece from outside to inside.
    pub piece_c: [f64; PIECE],
}

impl Temperatures {
    /// Mean over the wall of the piece (°C).
    pub fn piece_mean_c(&self) -> f64 {
        self.piece_c.iter().sum::<f64>() / PIECE as f64
    }
}

impl Chamber {
    /// A furnace with its work, all at one temperature (°C).
    pub fn new(
        spec: &FurnaceSpec,
        piece: &PieceThermal,
        start_c: f64,
    ) -> Result<Self, NetworkError> {
        let (network, nodes) = furnace_network(spec, piece, start_c)?;
        let stepper = Stepper::new(network, [nodes.control_sensor, nodes.limit_sensor]);
        Ok(Self { stepper, nodes })
    }

    /// Advances a tenth of a second with a heater power (W), a pressure (Pa) and an opening
    /// of the closure, 0 to 1.
    #[inline]
    pub fn step(&mut self, heater_w: f64, pressure_pa: f64, opening: f64) {
        self.stepper.step(heater_w, Surroundings { pressure_pa, opening });
    }

    /// Temperature of the control thermocouple's tip (°C); costs nothing.
    #[inline]
    pub fn control_sensor_c(&self) -> f64 {
        let [control, _] = self.stepper.watched_k();
        control - KELVIN
    }

    /// Temperature of the limit thermocouple's tip (°C); costs nothing.
    #[inline]
    pub fn limit_sensor_c(&self) -> f64 {
        let [_, limit] = self.stepper.watched_k();
        limit - KELVIN
    }

    /// Temperature of one node (°C).
    pub fn node_c(&self, node: NodeId) -> f64 {
        self.stepper.temperature_k(node) - KELVIN
    }

    /// Every temperature. Costs as much as a tick; meant for once a second.
    pub fn temperatures(&self) -> Temperatures {
        self.named(&self.stepper.temperatures_k())
    }

    /// Names the temperatures of this chamber's network (K, by slot).
    pub fn named(&self, kelvin: &[f64; MAX_NODES]) -> Temperatures {
        let network = self.stepper.network();
        let celsius = |node: NodeId| kelvin[network.slot(node)] - KELVIN;
        let nodes = &self.nodes;
        Temperatures {
            element_c: celsius(nodes.element),
            insulation_c: nodes.insulation.map(celsius),
            muffle_c: celsius(nodes.muffle),
            gas_c: celsius(nodes.gas),
            control_sensor_c: celsius(nodes.control_sensor),
            limit_sensor_c: celsius(nodes.limit_sensor),
            table_c: celsius(nodes.table),
            pin_c: celsius(nodes.pin),
            piece_c: nodes.piece.map(celsius),
        }
    }

    /// Takes heat (W) from the outer layer of the piece, as its drying does, until told
    /// otherwise.
    pub fn cool_piece(&mut self, watt: f64) {
        let [outer, ..] = self.nodes.piece;
        self.stepper.set_sink(outer, watt);
    }

    /// Sets the temperature of the room (°C).
    pub fn set_ambient(&mut self, celsius: f64) {
        self.stepper.set_temperature_k(self.nodes.room, celsius + KELVIN);
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
