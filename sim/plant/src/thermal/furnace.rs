//! A furnace and its piece as a network.
//!
//! Seventeen nodes and the ambient, and five more for a second ring of pieces. Properties that the furnace profile does not state (gaps, the air
//! through an open mouth) are constants here, marked "to calibrate".

use std::array::from_fn;
use std::f64::consts::PI;

use super::builder::{NetworkBuilder, NetworkError};
use super::edge::{Edge, NodeId, Wetting};
use super::enclosure::{RadiatingPart, ambient_share_of_tip, exchanges, table_radius_m};
use super::network::Network;
use super::node_temperatures::{INSULATION, NodeTemperatures, PIECE};
use super::piece_thermal::PieceThermal;
use super::places::{Ring, rings};
use crate::constants::{ATMOSPHERE_PA, KELVIN};
use crate::gas;
use crate::heat_curve::HeatCurve;
use crate::radiation::{SIGMA, enclosed};
use crate::spec::{ChamberSpec, Closure, FurnaceSpec, InsulationSpec, SensorSpec};

/// Specific heat of the muffle at 1,000 K (J/(kg K)): fused silica 1,155, alumina 1,225 (NIST WebBook).
/// It changes with temperature as alumina's does.
const MUFFLE_J_KG_K: f64 = 1_150.0;

/// Emissivity of fibre board: 0.4 to 0.7, value from memory.
const BOARD_EMISSIVITY: f64 = 0.6;

/// Distances between the nodes of the insulation as shares of its thickness, hot face first:
/// fine where the temperature changes fast.
const SPACING: [f64; INSULATION - 1] = [0.10, 0.15, 0.20, 0.25, 0.30];

/// Radiating surface of a sensor's tip (m²), times its emissivity: a bead and a few
/// millimetres of sheath. Too small to affect the chamber.
const SENSOR_M2: f64 = 4e-5;

/// Gap over which a sensor's tip exchanges heat with the gas (m); to calibrate.
const SENSOR_GAP_M: f64 = 2e-3;

/// Gap between the muffle and the mean of its gas, as a share of the radius; to calibrate.
const MUFFLE_GAP: f64 = 0.5;

/// Gap between the table and the gas over it, as a share of the muffle's radius; to calibrate.
const TABLE_GAP: f64 = 0.4;

/// Gap between the piece and the gas around it (m); to calibrate.
const PIECE_GAP_M: f64 = 5e-3;

/// Natural convection from hot surfaces to ambient (W/(m² K)); common practice, no source.
const ROOM_W_M2_K: f64 = 12.0;

/// Exchange of air through the open mouth (W/(m² K) of its area); to calibrate.
const MOUTH_W_M2_K: f64 = 30.0;

/// Smallest area of a piece (m²): an empty chamber holds a grain of dust.
const DUST_M2: f64 = 1e-6;

/// The nodes of a ring of pieces.
#[derive(Clone, Copy, Debug)]
pub struct RingNodes {
    /// How many pieces, each on a pin.
    pub count: u32,
    /// The pins.
    pub pin: NodeId,
    /// The wall of the pieces from outside to inside.
    pub piece: [NodeId; PIECE],
}

/// The nodes of a furnace.
#[derive(Clone, Debug)]
pub struct FurnaceNodes {
    /// The heating element.
    pub element: NodeId,
    /// The insulation from hot face to cold face.
    pub insulation: [NodeId; INSULATION],
    /// The muffle.
    pub muffle: NodeId,
    /// The gas in the muffle.
    pub gas: NodeId,
    /// The tip of the control thermocouple.
    pub control_sensor: NodeId,
    /// The tip of the limit thermocouple.
    pub limit_sensor: NodeId,
    /// The table.
    pub table: NodeId,
    /// The rings of pieces, the inner one first.
    pub rings: Vec<RingNodes>,
    /// The ambient.
    pub ambient: NodeId,
}

impl FurnaceNodes {
    /// The inner ring of pieces; there always is one.
    pub fn inner(&self) -> &RingNodes {
        &self.rings[0]
    }

    fn of(&self, part: RadiatingPart) -> NodeId {
        match part {
            RadiatingPart::Muffle => self.muffle,
            RadiatingPart::Table => self.table,
            RadiatingPart::Pins(ring) => self.rings[ring].pin,
            RadiatingPart::Pieces(ring) => self.rings[ring].piece[0],
            RadiatingPart::Ambient => self.ambient,
        }
    }
}

/// Areas of a furnace that several edges share (m²).
struct Areas {
    muffle: f64,
    mouth: f64,
    table: f64,
}

/// Builds the network of a furnace and its work, which start at these temperatures.
pub fn furnace_network(
    spec: &FurnaceSpec,
    piece: &PieceThermal,
    start: &NodeTemperatures,
) -> Result<(Network, FurnaceNodes), NetworkError> {
    let radius = spec.chamber.muffle_radius_m;
    let mouth = PI * radius * radius;
    let table = table_radius_m(spec);
    let areas = Areas {
        muffle: 2.0 * PI * radius * spec.chamber.muffle_height_m + mouth,
        mouth,
        table: PI * table * table,
    };
    let mut net = NetworkBuilder::default();
    let rings = rings(piece, table);
    let nodes = add_nodes(&mut net, spec, piece, &rings, start);
    net.heat(nodes.element);
    add_heater(&mut net, spec, &areas, &nodes);
    add_insulation(&mut net, &spec.insulation, &nodes);
    for (sensor, node) in
        [(&spec.control_sensor, nodes.control_sensor), (&spec.limit_sensor, nodes.limit_sensor)]
    {
        add_sensor(&mut net, sensor, node, &nodes, ambient_share_of_tip(spec));
    }
    add_exchanges(&mut net, spec, piece, &nodes);
    add_table(&mut net, spec, &areas, &nodes);
    for (ring, at) in rings.iter().zip(&nodes.rings) {
        add_ring(&mut net, spec, piece, ring, at, &nodes);
    }
    let muffle_gap = MUFFLE_GAP * radius;
    net.edge(Edge::film(nodes.muffle, nodes.gas, areas.muffle, muffle_gap));
    let draught = areas.mouth * MOUTH_W_M2_K;
    net.edge(Edge::conduction(nodes.gas, nodes.ambient, draught).by_closure(0.0, 1.0));
    Ok((net.build()?, nodes))
}

/// Adds a node of a heat capacity (J/K) that starts at a temperature (°C).
fn node(net: &mut NetworkBuilder, j_k: f64, celsius: f64) -> NodeId {
    net.node(j_k, celsius + KELVIN)
}

fn add_nodes(
    net: &mut NetworkBuilder,
    spec: &FurnaceSpec,
    piece: &PieceThermal,
    rings: &[Ring],
    start: &NodeTemperatures,
) -> FurnaceNodes {
    let insulation = insulation_capacities(&spec.insulation);
    let heater = &spec.heater;
    let muffle = HeatCurve::ALUMINA.scaled_to(MUFFLE_J_KG_K).times(spec.chamber.muffle_kg);
    FurnaceNodes {
        element: node(net, heater.element_kg * heater.heat_capacity_j_kg_k, start.element_c),
        insulation: from_fn(|layer| node(net, insulation[layer], start.insulation_c[layer])),
        muffle: net.material(muffle, start.muffle_c + KELVIN),
        gas: net.gas(spec.chamber.volume_m3, start.gas_c + KELVIN),
        control_sensor: node(
            net,
            sensor_capacity(&spec.control_sensor),
            start.control_sensor_c,
        ),
        limit_sensor: node(net, sensor_capacity(&spec.limit_sensor), start.limit_sensor_c),
        table: node(net, spec.table.kg * spec.table.heat_capacity_j_kg_k, start.table_c),
        rings: rings.iter().map(|ring| ring_nodes(net, spec, piece, ring, start)).collect(),
        ambient: net.fixed(spec.ambient_c + KELVIN),
    }
}

fn ring_nodes(
    net: &mut NetworkBuilder,
    spec: &FurnaceSpec,
    piece: &PieceThermal,
    ring: &Ring,
    start: &NodeTemperatures,
) -> RingNodes {
    let layer_m3 = ring_area_m2(piece, ring) * piece.wall_m / PIECE as f64;
    let layer = piece.heat_capacity_j_m3_k.times(layer_m3);
    let pins = f64::from(ring.count);
    let pin = pins * pin_section(spec) * spec.pin.length_m * spec.pin.heat_capacity_j_m3_k;
    RingNodes {
        count: ring.count,
        pin: node(net, pin, start.pin_c),
        piece: from_fn(|index| {
            let coat = if index == 0 { f64::from(ring.count) * piece.coat_j_k } else { 0.0 };
            let layer = layer.plus(HeatCurve::constant(coat));
            net.material(layer, start.piece_c[index] + KELVIN)
        }),
    }
}

/// Outer area of the pieces of a ring (m²).
fn ring_area_m2(piece: &PieceThermal, ring: &Ring) -> f64 {
    (piece.area_m2 * f64::from(ring.count)).max(DUST_M2)
}

/// The element between muffle and insulation: a coil that hides its projected area, the rest
/// of the muffle sees the insulation.
fn add_heater(
    net: &mut NetworkBuilder,
    spec: &FurnaceSpec,
    areas: &Areas,
    nodes: &FurnaceNodes,
) {
    let ChamberSpec { muffle_emissivity, .. } = spec.chamber;
    let half = 0.5 * spec.heater.area_m2;
    let emissivity = spec.heater.emissivity;
    let inward = enclosed(half, emissivity, areas.muffle.max(half), muffle_emissivity);
    net.edge(Edge::radiation(nodes.element, nodes.muffle, inward));
    let hot = spec.insulation.hot_area_m2;
    let outward = enclosed(half, emissivity, hot.max(half), BOARD_EMISSIVITY);
    net.edge(Edge::radiation(nodes.element, nodes.insulation[0], outward));
    let free = (areas.muffle - spec.heater.area_m2 / PI).max(0.0);
    let past = enclosed(free, muffle_emissivity, hot.max(free), BOARD_EMISSIVITY);
    net.edge(Edge::radiation(nodes.muffle, nodes.insulation[0], past));
}

/// Area of the insulation at a share of its thickness (m²).
fn insulation_area(insulation: &InsulationSpec, share: f64) -> f64 {
    insulation.hot_area_m2 + (insulation.cold_area_m2 - insulation.hot_area_m2) * share
}

/// Heat capacities of the insulation's nodes (J/K): each stores half of the layers beside it.
fn insulation_capacities(insulation: &InsulationSpec) -> [f64; INSULATION] {
    let by_volume = insulation.density_kg_m3 * insulation.heat_capacity_j_kg_k;
    let mut capacities = [0.0; INSULATION];
    let mut share = 0.0;
    for (layer, spacing) in SPACING.iter().enumerate() {
        let half = 0.5 * spacing;
        for (node, middle) in [(layer, share + 0.5 * half), (layer + 1, share + 1.5 * half)] {
            let area = insulation_area(insulation, middle);
            capacities[node] += area * half * insulation.thickness_m * by_volume;
        }
        share += spacing;
    }
    capacities
}

fn add_insulation(net: &mut NetworkBuilder, insulation: &InsulationSpec, nodes: &FurnaceNodes) {
    let mut share = 0.0;
    for (pair, spacing) in nodes.insulation.windows(2).zip(SPACING) {
        let area = insulation_area(insulation, share + 0.5 * spacing);
        let shape = area / (spacing * insulation.thickness_m);
        let (solid, radiative) = (insulation.k_solid_w_m_k, insulation.k_radiative_w_m_k4);
        net.edge(
            Edge::layer(pair[0], pair[1], shape, solid, radiative)
                .porous(insulation.gas_share, insulation.pore_m),
        );
        share += spacing;
    }
    let case = insulation.case_w_m2_k * insulation.cold_area_m2;
    let radiating = insulation.case_emissivity * insulation.cold_area_m2;
    net.edge(
        Edge::conduction(nodes.insulation[INSULATION - 1], nodes.ambient, case)
            .and_radiation(radiating),
    );
}

/// Heat capacity of a sensor's tip (J/K), from its lag at 1,000 °C in air.
fn sensor_capacity(sensor: &SensorSpec) -> f64 {
    const AT: f64 = 1_000.0 + KELVIN;
    let radiation = 4.0 * SIGMA * SENSOR_M2 * AT * AT * AT;
    let film = SENSOR_M2 / SENSOR_GAP_M
        * gas::air_conductivity(AT)
        * gas::gap_share(AT, ATMOSPHERE_PA, SENSOR_GAP_M);
    sensor.lag_s * (radiation + film)
}

fn add_sensor(
    net: &mut NetworkBuilder,
    sensor: &SensorSpec,
    node: NodeId,
    nodes: &FurnaceNodes,
    ambient_share: f64,
) {
    let view = sensor.element_view;
    let inside = SENSOR_M2 * (1.0 - view);
    net.edge(Edge::radiation(nodes.muffle, node, inside).by_closure(1.0, 1.0 - ambient_share));
    if view > 0.0 {
        net.edge(Edge::radiation(nodes.element, node, SENSOR_M2 * view));
    }
    net.edge(Edge::film(node, nodes.gas, SENSOR_M2, SENSOR_GAP_M));
    net.edge(Edge::radiation(node, nodes.ambient, inside).by_closure(0.0, ambient_share));
}

/// What muffle, table, pins and pieces radiate to each other and to the ambient.
fn add_exchanges(
    net: &mut NetworkBuilder,
    spec: &FurnaceSpec,
    piece: &PieceThermal,
    nodes: &FurnaceNodes,
) {
    for exchange in exchanges(spec, piece) {
        let [from, to] = exchange.parts.map(|part| nodes.of(part));
        let [shut_m2, open_m2] = exchange.dry_m2;
        let shares = exchange.shares(nodes.rings.len());
        net.edge(
            Edge::radiation(from, to, 1.0)
                .by_closure(shut_m2, open_m2)
                .by_wetness(Wetting { factors: exchange.wet_m2, shares }),
        );
    }
}

fn add_table(
    net: &mut NetworkBuilder,
    spec: &FurnaceSpec,
    areas: &Areas,
    nodes: &FurnaceNodes,
) {
    let table = areas.table;
    let gap = TABLE_GAP * spec.chamber.muffle_radius_m;
    add_surface(net, spec, nodes, nodes.table, table, gap);
    net.edge(Edge::conduction(nodes.table, nodes.ambient, spec.table.foot_w_k));
}

/// The air at a surface (m²) on the table: the gas of the chamber over a gap (m), and the ambient once a
/// lift has lowered it. Behind a door it stays with the gas of the chamber.
fn add_surface(
    net: &mut NetworkBuilder,
    spec: &FurnaceSpec,
    nodes: &FurnaceNodes,
    surface: NodeId,
    area_m2: f64,
    gap_m: f64,
) {
    let film = Edge::film(surface, nodes.gas, area_m2, gap_m);
    match spec.closure {
        Closure::Lift => {
            net.edge(film.by_closure(1.0, 0.0));
            let room = Edge::conduction(surface, nodes.ambient, area_m2 * ROOM_W_M2_K);
            net.edge(room.by_closure(0.0, 1.0));
        }
        Closure::Door => net.edge(film),
    }
}

fn pin_section(spec: &FurnaceSpec) -> f64 {
    PI / 4.0 * spec.pin.diameter_m * spec.pin.diameter_m
}

fn add_ring(
    net: &mut NetworkBuilder,
    spec: &FurnaceSpec,
    piece: &PieceThermal,
    ring: &Ring,
    at: &RingNodes,
    nodes: &FurnaceNodes,
) {
    let [outer, .., inner] = at.piece;
    net.load(outer);
    let area = ring_area_m2(piece, ring);
    add_surface(net, spec, nodes, outer, area, PIECE_GAP_M);
    let layer = area * piece.k_w_m_k * PIECE as f64 / piece.wall_m;
    for pair in at.piece.windows(2) {
        net.edge(Edge::conduction(pair[0], pair[1], layer));
    }
    let pins = f64::from(ring.count);
    let half_pin = pins * pin_section(spec) * spec.pin.k_w_m_k * 2.0 / spec.pin.length_m;
    net.edge(Edge::conduction(nodes.table, at.pin, half_pin));
    net.edge(Edge::conduction(at.pin, inner, half_pin));
}
