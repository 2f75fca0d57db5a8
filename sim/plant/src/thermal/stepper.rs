//! Advances a network by tenths of a second.
//!
//! Radiation and conductances change little within two seconds, so the network is linearised
//! once for a block of twenty ticks, about the temperatures expected in its middle. Within the
//! block the response is a polynomial of the time and of the heat of each tick (see
//! [`super::response`]). A tick costs some multiplications for the two watched nodes; the other nodes
//! are computed on request. A block ends early when the pressure or the closure changes.

use super::edge::NodeId;
use super::elimination::{LANES, MAX_NODES, Pair, Values};
use super::network::{ChamberState, MAX_EDGES, Network, Paths, PerNode, RingLoad};
use super::response::{BLOCK, POLES, POWERS, Weights, constant_source, next_source};

/// One tick (s).
pub const TICK_S: f64 = saggar_core::TICK_MS as f64 / 1000.0;

/// Nodes whose temperatures every tick computes.
const WATCHED: usize = 2;

/// Change of pressure that ends a block, as a share of the block's pressure.
const PRESSURE_BAND: f64 = 0.02;

/// Change of the closure's position that ends a block.
const OPENING_BAND: f64 = 0.001;

/// Ticks of short blocks after the closure has moved, until thin gas reaches its new balance.
const SETTLE: u32 = 50;

/// A network in time.
#[derive(Clone, Debug)]
pub struct Stepper {
    network: Network,
    /// The weights of a full block, and of a block of one tick while pressure or closure changes.
    weights: [Weights; 2],
    moving: bool,
    settle: u32,
    watch: [usize; WATCHED],
    /// Temperatures where the block began (K), and where the last one did.
    kelvin: PerNode,
    before: PerNode,
    /// Ticks of the last block, of this one so far, and at which tick of it the next begins.
    last_ticks: usize,
    ticks: usize,
    until: usize,
    chamber: ChamberState,
    paths: Paths,
    capacity: PerNode,
    /// The block's responses of every node: four poles to its imbalance, four to a watt.
    response: [Pair; MAX_NODES],
    /// The same for the watched nodes, by powers of the time.
    watched_start: [f64; WATCHED],
    free_powers: [[f64; POWERS]; WATCHED],
    heat_powers: [[f64; POWERS]; WATCHED],
    /// Moments of the heater's power in this block.
    heat: [f64; POWERS],
    watched: [f64; WATCHED],
    values: Values,
}

impl Stepper {
    /// Starts a network from its first temperatures. Two nodes are watched: their
    /// temperatures are cheap to read.
    pub fn new(network: Network, watch: [NodeId; WATCHED]) -> Self {
        let kelvin = network.start_k();
        let chamber = ChamberState::SHUT_IN_AIR;
        let watch = watch.map(|node| network.slot(node));
        Self {
            weights: [Weights::new(BLOCK), Weights::new(1)],
            moving: false,
            settle: 0,
            watch,
            kelvin,
            before: kelvin,
            last_ticks: BLOCK,
            ticks: 0,
            until: BLOCK,
            chamber,
            paths: network.paths(chamber.opening),
            capacity: network.capacities(chamber.pressure_pa, &kelvin),
            response: [[0.0; 2 * LANES]; MAX_NODES],
            watched_start: [0.0; WATCHED],
            free_powers: [[0.0; POWERS]; WATCHED],
            heat_powers: [[0.0; POWERS]; WATCHED],
            heat: [0.0; POWERS],
            watched: watch.map(|slot| kelvin[slot]),
            values: Values::new(),
            network,
        }
    }

    /// The network.
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// Advances one tick with a heater power (W).
    #[inline]
    pub fn step(&mut self, heater_w: f64, chamber: ChamberState) {
        let pressure_moved = (chamber.pressure_pa - self.chamber.pressure_pa).abs()
            > PRESSURE_BAND * self.chamber.pressure_pa;
        let opening_moved = (chamber.opening - self.chamber.opening).abs() > OPENING_BAND;
        if self.ticks == 0 || pressure_moved || opening_moved {
            self.begin_block(chamber, opening_moved);
        }
        self.ticks += 1;
        self.heat = next_source(self.heat, heater_w);
        let free = constant_source(self.ticks);
        self.watched = std::array::from_fn(|node| {
            self.watched_start[node]
                + along(&self.free_powers[node], &free)
                + along(&self.heat_powers[node], &self.heat)
        });
        if self.ticks == self.until || self.moving {
            self.end_block();
        }
    }

    /// Temperatures of the watched nodes (K).
    #[inline]
    pub fn watched_k(&self) -> [f64; WATCHED] {
        self.watched
    }

    /// Temperature of any node (K).
    pub fn temperature_k(&self, node: NodeId) -> f64 {
        let slot = self.network.slot(node);
        self.kelvin[slot] + weigh(&self.response[slot], &self.block_weights())
    }

    /// Temperatures of all nodes (K), by slot. They are known at the end of a block and computed
    /// otherwise.
    pub fn temperatures_k(&self) -> [f64; MAX_NODES] {
        let mut kelvin = self.kelvin;
        if self.ticks > 0 {
            let weights = self.block_weights();
            let free = kelvin.iter_mut().zip(&self.response).take(self.network.free);
            free.for_each(|(kelvin, response)| *kelvin += weigh(response, &weights));
        }
        kelvin
    }

    /// Sets the water of a ring of pieces.
    pub fn set_load(&mut self, ring: usize, load: RingLoad) {
        if self.ticks > 0 {
            self.end_block();
        }
        self.network.set_load(ring, load);
        self.paths = self.network.paths(self.chamber.opening);
        self.capacity = self.network.capacities(self.chamber.pressure_pa, &self.kelvin);
    }

    /// Makes the next tick begin a block.
    fn end_block(&mut self) {
        let kelvin = self.temperatures_k();
        self.before = std::mem::replace(&mut self.kelvin, kelvin);
        self.last_ticks = self.ticks;
        self.until -= self.ticks;
        if self.until == 0 {
            self.until = BLOCK;
        }
        self.ticks = 0;
        self.heat = [0.0; POWERS];
    }

    fn block_weights(&self) -> Pair {
        let mut weights = [0.0; 2 * LANES];
        if self.ticks > 0 {
            let table = &self.weights[usize::from(self.moving)];
            let free = table.at(constant_source(self.ticks));
            let heat = table.at(self.heat);
            weights[..LANES].copy_from_slice(&free);
            weights[LANES..].copy_from_slice(&heat);
        }
        weights
    }

    /// Linearises the network about the middle of the next block and computes the responses.
    #[inline(never)]
    fn begin_block(&mut self, chamber: ChamberState, moving: bool) {
        if self.ticks > 0 {
            self.end_block();
        }
        if chamber != self.chamber {
            self.paths = self.network.paths(chamber.opening);
            self.capacity = self.network.capacities(chamber.pressure_pa, &self.kelvin);
            self.chamber = chamber;
        }
        self.settle = if moving { SETTLE } else { self.settle.saturating_sub(1) };
        self.moving = self.settle > 0;
        let coming = if self.moving { 1 } else { self.until };
        let ahead = (0.5 * coming as f64 / self.last_ticks as f64).min(1.0);
        let mut middle = self.kelvin;
        let mut slope = [0.0; MAX_NODES];
        let mut fourth = [0.0; MAX_NODES];
        for i in 0..MAX_NODES {
            let now = self.kelvin[i];
            middle[i] = now + ahead * (now - self.before[i]);
            let cube = middle[i] * middle[i] * middle[i];
            slope[i] = 4.0 * cube;
            fourth[i] = cube * middle[i] + slope[i] * (now - middle[i]);
        }
        self.network.set_material_capacities(&middle, &mut self.capacity);
        let mut conductance = self.paths.conductance;
        let pressure = chamber.pressure_pa;
        self.network.set_gas_conductance(
            &self.paths.conductance,
            &middle,
            pressure,
            &mut conductance,
        );
        let mut imbalance = self.assemble(&conductance, &slope, &fourth);
        self.network.take_evaporation(&mut imbalance);
        self.network.elimination.factor(&mut self.values);
        for (node, heat) in self.response.iter_mut().zip(imbalance).take(self.network.free) {
            *node = [heat, heat, heat, heat, 0.0, 0.0, 0.0, 0.0];
        }
        self.response[self.network.heated][LANES..].fill(1.0);
        self.network.elimination.solve(&self.values, &mut self.response);
        self.expand_watched();
    }

    /// Fills the four matrices `C/(γ h) − J` and returns the heat into each node (W).
    #[inline]
    fn assemble(
        &mut self,
        conductance: &[f64; MAX_EDGES],
        slope: &PerNode,
        fourth: &PerNode,
    ) -> PerNode {
        let values = &mut self.values;
        self.network.elimination.clear(values);
        let mut imbalance = [0.0; MAX_NODES];
        let mut diagonal = [0.0; MAX_NODES];
        let places = &self.network.elimination.places;
        let coefficients = conductance.iter().zip(&self.paths.radiative_coefficient);
        let edges = self.network.ends.iter().zip(places).zip(coefficients);
        for ((ends, place), (&conductance, &radiative_coefficient)) in edges {
            let [from, to] = ends.map(usize::from);
            let by_from = conductance + radiative_coefficient * slope[from];
            let by_to = conductance + radiative_coefficient * slope[to];
            let heat = conductance * (self.kelvin[from] - self.kelvin[to])
                + radiative_coefficient * (fourth[from] - fourth[to]);
            imbalance[from] -= heat;
            imbalance[to] += heat;
            diagonal[from] += by_from;
            diagonal[to] += by_to;
            for l in 0..LANES {
                values.0[usize::from(place[0])][l] -= by_to;
                values.0[usize::from(place[1])][l] -= by_from;
            }
        }
        let span = if self.moving { 1.0 } else { BLOCK as f64 };
        let rate = POLES.map(|pole| 1.0 / (pole * span * TICK_S));
        let stored = diagonal.iter().zip(&self.capacity).take(self.network.free);
        for (value, (diagonal, capacity)) in values.0.iter_mut().zip(stored) {
            for l in 0..LANES {
                value[l] = diagonal + capacity * rate[l];
            }
        }
        imbalance
    }

    fn expand_watched(&mut self) {
        for (node, slot) in self.watch.into_iter().enumerate() {
            self.watched_start[node] = self.kelvin[slot];
            let response = &self.response[slot];
            let table = &self.weights[usize::from(self.moving)];
            for (power, row) in table.0.iter().enumerate() {
                let (mut free, mut heat) = (0.0, 0.0);
                for l in 0..LANES {
                    free += row[l] * response[l];
                    heat += row[l] * response[LANES + l];
                }
                self.free_powers[node][power] = free;
                self.heat_powers[node][power] = heat;
            }
        }
    }
}

#[inline(always)]
fn along(powers: &[f64; POWERS], moments: &[f64; POWERS]) -> f64 {
    (powers[0] * moments[0] + powers[1] * moments[1])
        + (powers[2] * moments[2] + powers[3] * moments[3])
}

#[inline(always)]
fn weigh(response: &Pair, weights: &Pair) -> f64 {
    let mut sum = [0.0; 2];
    for pair in 0..LANES {
        sum[0] += response[2 * pair] * weights[2 * pair];
        sum[1] += response[2 * pair + 1] * weights[2 * pair + 1];
    }
    sum[0] + sum[1]
}
