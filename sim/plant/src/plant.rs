//! Everything except the controller, advanced tick by tick.

use rand_core::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use saggar_core::io::{Inputs, Outputs};

use crate::closure::ClosureMechanism;
use crate::faults::{FaultInjector, PlantCondition};
use crate::furnace_state::FurnaceState;
use crate::instruments::{Gauge, Thermocouple};
use crate::mains::HeaterCircuit;
use crate::piece::{Piece, PieceConditions};
use crate::spec::{FurnaceSpec, InputsSpec, WorkSpec};
use crate::terminals;
use crate::thermal::{
    Chamber, NetworkError, PieceThermal, RINGS, RingLoad, TICK_S, Temperatures,
};
use crate::vacuum::{ChamberGas, VacuumCommand, ValvesAtRest};

/// Smallest changes of the water that are passed on to the chamber, in its heat of drying (W), its heat
/// capacity (J/K) and the wetness: the last traces of water dry for hours and have no effect.
const DRYING_STEP_W: f64 = 1e-3;
const WATER_STEP_J_K: f64 = 1e-4;
const WETNESS_STEP: f64 = 1e-3;

fn load_of(piece: &Piece) -> RingLoad {
    RingLoad {
        wetness: piece.water.wetness(),
        water_j_k: piece.water.heat_capacity_j_k(),
        taken_w: piece.heat_taken_w(),
    }
}

fn is_another(load: &RingLoad, passed: &RingLoad) -> bool {
    (load.taken_w - passed.taken_w).abs() > DRYING_STEP_W
        || (load.water_j_k - passed.water_j_k).abs() > WATER_STEP_J_K
        || (load.wetness - passed.wetness).abs() > WETNESS_STEP
}

/// The inputs of the chamber in one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChamberDrive {
    /// Power of the heater (W).
    pub heater_w: f64,
    /// Pressure (Pa).
    pub pressure_pa: f64,
    /// How far the lift or door is open, 0 to 1.
    pub opening: f64,
    /// The water of each ring of pieces, from the end of the tick on.
    pub loads: [RingLoad; RINGS],
}

impl ChamberDrive {
    /// Advances a chamber by the tick.
    pub fn advance(&self, chamber: &mut Chamber) {
        chamber.step(self.heater_w, self.pressure_pa, self.opening);
        for (ring, load) in self.loads.iter().enumerate() {
            if chamber.network().load(ring) != *load {
                chamber.set_load(ring, *load);
            }
        }
    }
}

/// Quantities that no instrument of a real furnace measures. Those of the piece are of the inner ring of
/// places, which sees most of the table.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ModelState {
    /// Mean temperature of the piece (°C).
    pub piece_c: f64,
    /// The same on the outer ring, if there are pieces.
    pub outer_piece_c: Option<f64>,
    /// Hottest less coldest layer of the piece (K).
    pub piece_spread_k: f64,
    /// Temperature of the muffle (°C).
    pub muffle_c: f64,
    /// Temperature of the element (°C).
    pub element_c: f64,
    /// Absolute chamber pressure (Pa), without the gauge's noise.
    pub pressure_pa: f64,
    /// Depth that the glass has reached (m).
    pub depth_m: f64,
    /// Water left, as a share of the water at the start.
    pub water_left: f64,
    /// Lubricant left, as a share of the lubricant at the start.
    pub lubricant_left: f64,
    /// How far the lift or door is open, 0 to 1.
    pub opening: f64,
}

/// Chamber, vacuum, instruments, mains and piece.
#[derive(Clone)]
pub struct Plant {
    chamber: Chamber,
    vacuum: ChamberGas,
    /// The pieces, one for each ring of places, the inner one first.
    pieces: Vec<Piece>,
    mains: HeaterCircuit,
    mover: ClosureMechanism,
    control: Thermocouple,
    limit: Thermocouple,
    gauge: Option<Gauge>,
    rng: Xoshiro256PlusPlus,
    room_c: f64,
    terminals_c: f64,
    pressure_pa: f64,
    opening: f64,
    /// The temperatures of the last whole second.
    shown: Temperatures,
    /// The water of each ring of pieces, as last passed to the chamber.
    loads: [RingLoad; RINGS],
    watt: f64,
    current_ma: u32,
    /// Whether the contactor is closed.
    contactor: bool,
    wired: InputsSpec,
    /// Zero crossings of the mains in a tick of nominal length, and those not yet reported.
    crossings_per_tick: f64,
    crossings: f64,
    /// True time (ticks) for which the chamber was not advanced yet, and the heat in it (W · ticks).
    carried_ticks: f64,
    carried_w_ticks: f64,
}

impl Plant {
    /// A cold furnace with new work in it.
    ///
    /// # Errors
    /// The furnace and the work do not form a valid thermal network.
    pub fn new(
        furnace: &FurnaceSpec,
        work: &WorkSpec,
        seed: u64,
    ) -> Result<Self, NetworkError> {
        let cold = FurnaceState::evenly_warm(furnace, furnace.ambient_c);
        Self::starting(furnace, work, seed, &cold)
    }

    /// A furnace in this state, with new work in it that is as cold as the ambient.
    ///
    /// # Errors
    /// The furnace and the work do not form a valid thermal network.
    pub fn starting(
        furnace: &FurnaceSpec,
        work: &WorkSpec,
        seed: u64,
        state: &FurnaceState,
    ) -> Result<Self, NetworkError> {
        let room_c = furnace.ambient_c;
        let FurnaceState { temperatures, terminals_c, opening, .. } = state.loaded(room_c);
        let piece = PieceThermal::of(work);
        let mut chamber = Chamber::starting_at(furnace, &piece, &temperatures)?;
        let mut pieces: Vec<Piece> =
            chamber.counts().map(|count| Piece::of_ring(work, count)).collect();
        let shown = chamber.temperatures();
        let vacuum = ChamberGas::new(&furnace.chamber, furnace.pump.as_ref());
        let pressure_pa = vacuum.pressure_pa();
        let vapour_share = vacuum.vapour_share();
        let mut loads = [RingLoad::default(); RINGS];
        for (ring, (piece, layers_c)) in pieces.iter_mut().zip(shown.pieces_c()).enumerate() {
            piece.step(0.0, &PieceConditions { layers_c, pressure_pa, vapour_share });
            loads[ring] = load_of(piece);
            chamber.set_load(ring, loads[ring]);
        }
        let sensor = |spec, hot_c| Thermocouple::new(spec, hot_c, terminals_c);
        Ok(Self {
            chamber,
            vacuum,
            pieces,
            mains: HeaterCircuit::new(&furnace.heater, &furnace.mains),
            mover: ClosureMechanism::new(furnace.closure_travel_s, opening),
            control: sensor(&furnace.control_sensor, temperatures.control_sensor_c),
            limit: sensor(&furnace.limit_sensor, temperatures.limit_sensor_c),
            gauge: furnace.pump.as_ref().map(|pump| Gauge::new(pump.gauge_noise_pa)),
            rng: Xoshiro256PlusPlus::seed_from_u64(seed),
            room_c,
            terminals_c,
            pressure_pa,
            opening,
            shown,
            loads,
            watt: 0.0,
            current_ma: 0,
            contactor: false,
            wired: furnace.inputs,
            // Two a cycle.
            crossings_per_tick: 2.0 * f64::from(furnace.mains.hz) * TICK_S,
            crossings: 0.0,
            carried_ticks: 0.0,
            carried_w_ticks: 0.0,
        })
    }

    /// One tick under these outputs; returns the energy that the heater took (J).
    pub fn tick(&mut self, outputs: &Outputs, faults: &FaultInjector) -> f64 {
        let condition = faults.condition();
        let circuit = &condition.circuit;
        self.contactor = circuit.contactor.is_closed(outputs.contactor, self.contactor);
        let cycles = outputs.heater_cycles.count_ones();
        let (watt, current_ma) = match self.contactor {
            false => (0.0, 0),
            true if faults.none_active() => self.mains.conduct(cycles),
            true => self.mains.conduct_in(circuit, cycles),
        };
        self.current_ma = current_ma;
        self.pass_mains(condition.tick_length.unwrap_or(1.0));
        let command = VacuumCommand {
            pump: outputs.pump,
            isolation_open: outputs.isolation_valve,
            vent_open: outputs.vent_valve,
        };
        let moving = (!condition.closure_jammed).then_some(outputs.open_closure);
        match condition.tick_length {
            None => self.advance(watt, command, moving, condition),
            Some(length) => self.advance_by(length, watt, command, moving, condition),
        }
        watt * TICK_S * condition.tick_length.unwrap_or(1.0)
    }

    /// Counts the zero crossings of the mains in this true time (ticks).
    pub fn pass_mains(&mut self, ticks: f64) {
        self.crossings += self.crossings_per_tick * ticks;
    }

    /// The whole crossings since the last call.
    fn take_crossings(&mut self) -> u8 {
        let whole = self.crossings as u8;
        self.crossings -= f64::from(whole);
        whole
    }

    /// Advances by `length` ticks of true time. The chamber advances by whole ticks only: the rest of the
    /// time, and the heat in it, is carried on.
    fn advance_by(
        &mut self,
        length: f64,
        watt: f64,
        command: VacuumCommand,
        moving: Option<bool>,
        condition: &PlantCondition,
    ) {
        self.carried_ticks += length;
        self.carried_w_ticks += watt * length;
        let mean_w = self.carried_w_ticks / self.carried_ticks;
        while self.carried_ticks >= 1.0 {
            self.carried_ticks -= 1.0;
            self.carried_w_ticks -= mean_w;
            self.advance(mean_w, command, moving, condition);
        }
    }

    /// Advances the chamber by one tick of true time.
    fn advance(
        &mut self,
        watt: f64,
        command: VacuumCommand,
        moving: Option<bool>,
        condition: &PlantCondition,
    ) {
        let command = VacuumCommand {
            isolation_open: condition.isolation_stuck.unwrap_or(command.isolation_open),
            vent_open: condition.vent_stuck.unwrap_or(command.vent_open),
            ..command
        };
        let load = self.vapour_load_pa_m3_s();
        self.vacuum.set_seal_leak(condition.seal_leak_pa_m3_s);
        self.vacuum.set_pump_share(condition.pump_share);
        self.opening = self.mover.step(moving, condition.held_open);
        self.pressure_pa = self.vacuum.step(command, self.opening, load);
        self.chamber.step(watt, self.pressure_pa, self.opening);
        self.watt = watt;
    }

    /// One tick without mains and without a controller: the contactor drops out, the lift or door stays,
    /// and the valves fall to their rest positions.
    pub fn tick_without_power(&mut self, rest: ValvesAtRest, faults: &FaultInjector) {
        let condition = faults.condition();
        self.contactor = condition.circuit.contactor.is_closed(false, self.contactor);
        self.current_ma = 0;
        let command = VacuumCommand {
            pump: false,
            isolation_open: rest.isolation_open,
            vent_open: rest.vent_open,
        };
        self.advance(0.0, command, None, condition);
    }

    /// The inputs of the chamber in the last tick.
    pub fn drive(&self) -> ChamberDrive {
        ChamberDrive {
            heater_w: self.watt,
            pressure_pa: self.pressure_pa,
            opening: self.opening,
            loads: self.loads,
        }
    }

    /// The instrument readings after a tick.
    pub fn sample_inputs(&mut self, faults: &FaultInjector) -> Inputs {
        let mut control_c = self.chamber.control_sensor_c();
        let mut limit_c = self.chamber.limit_sensor_c();
        if !faults.none_active() {
            let condition = faults.condition();
            let dt_s = condition.tick_length.unwrap_or(1.0) * TICK_S;
            control_c = self.control.tip_c(&condition.control_tip, control_c, dt_s);
            limit_c = self.limit.tip_c(&condition.limit_tip, limit_c, dt_s);
        } else {
            self.control.forget_tip();
            self.limit.forget_tip();
        }
        let crossings = self.take_crossings();
        Inputs {
            control: Some(self.control.sample(control_c, &mut self.rng)),
            limit: Some(self.limit.sample(limit_c, &mut self.rng)),
            pressure_pa: self.gauge.as_ref().map(|g| g.sample(self.pressure_pa, &mut self.rng)),
            closure: self.mover.contacts(),
            contactor_closed: self.wired.auxiliary_contact && self.contactor,
            heater_current_ma: self.wired.heater_current.then_some(self.current_ma),
            mains_crossings: self.wired.mains_crossings.then_some(crossings),
            buttons: Default::default(),
        }
    }

    /// Updates what changes slowly, once a second.
    pub fn end_second(&mut self, dt_s: f64) {
        self.shown = self.chamber.temperatures();
        self.vacuum.mix(dt_s, self.vapour_load_pa_m3_s());
        let (pressure_pa, vapour_share) = (self.pressure_pa, self.vacuum.vapour_share());
        let rings = self.pieces.iter_mut().zip(self.shown.pieces_c()).zip(&mut self.loads);
        for (ring, ((piece, layers_c), passed)) in rings.enumerate() {
            piece.step(dt_s, &PieceConditions { layers_c, pressure_pa, vapour_share });
            let load = load_of(piece);
            if is_another(&load, passed) {
                *passed = load;
                self.chamber.set_load(ring, load);
            }
        }
        self.terminals_c = terminals::warmed_c(self.terminals_c, self.room_c, dt_s);
        self.control.set_terminals(self.terminals_c);
        self.limit.set_terminals(self.terminals_c);
    }

    /// The modelled quantities at the last whole second.
    pub fn model_state(&self) -> ModelState {
        let temperatures = &self.shown;
        let [a, b, c, d] = temperatures.piece_c;
        let piece = self.pieces.first();
        ModelState {
            piece_c: temperatures.piece_mean_c(),
            outer_piece_c: temperatures.outer_piece_mean_c(),
            piece_spread_k: a.max(b).max(c.max(d)) - a.min(b).min(c.min(d)),
            muffle_c: temperatures.muffle_c,
            element_c: temperatures.element_c,
            pressure_pa: self.pressure_pa,
            depth_m: piece.and_then(|p| p.front.as_ref()).map_or(0.0, |front| front.depth_m()),
            water_left: piece.map_or(0.0, |piece| piece.water.share_left()),
            lubricant_left: piece.map_or(0.0, |piece| piece.lubricant.share_left()),
            opening: self.opening,
        }
    }

    /// The state of the furnace, with what a following firing finds.
    pub fn furnace_state(&self) -> FurnaceState {
        FurnaceState {
            temperatures: self.chamber.node_temperatures(),
            terminals_c: self.terminals_c,
            pressure_pa: self.pressure_pa,
            opening: self.opening,
        }
    }

    /// The states of the pieces, one for each ring of places, the inner one first.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Vapour from all pieces (Pa m³/s).
    fn vapour_load_pa_m3_s(&self) -> f64 {
        self.pieces.iter().map(Piece::vapour_load_pa_m3_s).sum()
    }
}
