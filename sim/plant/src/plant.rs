//! Everything except the controller, advanced tick by tick.

use rand_core::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use saggar_core::io::{Inputs, Outputs};

use crate::closure::ClosureMechanism;
use crate::faults::{Fault, FaultInjector};
use crate::furnace_state::FurnaceState;
use crate::instruments::{Gauge, Thermocouple};
use crate::mains::HeaterCircuit;
use crate::piece::{Piece, PieceConditions};
use crate::spec::{FurnaceSpec, InputsSpec, WorkSpec};
use crate::terminals;
use crate::thermal::{Chamber, NetworkError, PieceThermal, Temperatures};
use crate::vacuum::{ChamberGas, VacuumCommand};

/// Smallest change of the heat of drying that is passed on to the chamber (W): the last traces of
/// water dry for hours and have no cooling effect.
const DRYING_STEP_W: f64 = 1e-3;

/// The inputs of the chamber in one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChamberDrive {
    /// Power of the heater (W).
    pub heater_w: f64,
    /// Pressure (Pa).
    pub pressure_pa: f64,
    /// How far the lift or door is open, 0 to 1.
    pub opening: f64,
}

/// Quantities that no instrument of a real furnace measures.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ModelState {
    /// Mean temperature of the piece (°C).
    pub piece_c: f64,
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
    piece: Piece,
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
    /// Heat that drying takes from the piece, as last passed to the chamber (W).
    drying_w: f64,
    watt: f64,
    current_ma: u32,
    contactor: bool,
    wired: InputsSpec,
    /// Zero crossings of the mains in a tick.
    crossings_per_tick: u8,
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
        let chamber = Chamber::starting_at(furnace, &piece, &temperatures)?;
        let mut piece = Piece::new(work);
        let shown = chamber.temperatures();
        let layers_c = shown.piece_c;
        let vacuum = ChamberGas::new(&furnace.chamber, furnace.pump.as_ref());
        let pressure_pa = vacuum.pressure_pa();
        let vapour_share = vacuum.vapour_share();
        piece.step(0.0, &PieceConditions { layers_c, pressure_pa, vapour_share });
        let sensor = |spec, hot_c| Thermocouple::new(spec, hot_c, terminals_c);
        Ok(Self {
            chamber,
            vacuum,
            piece,
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
            drying_w: 0.0,
            watt: 0.0,
            current_ma: 0,
            contactor: false,
            wired: furnace.inputs,
            // Two a cycle, ten ticks a second.
            crossings_per_tick: furnace.mains.hz / 5,
        })
    }

    /// One tick under these outputs; returns the heater's power (W).
    pub fn tick(&mut self, outputs: &Outputs, faults: &FaultInjector) -> f64 {
        let sick = !faults.none_active();
        let stuck = sick && faults.is_active(Fault::SwitchStuck);
        let broken = sick && faults.is_active(Fault::ElementOpen);
        let cycles = if stuck { u8::MAX } else { outputs.heater_cycles }.count_ones();
        let flows = outputs.contactor && !broken;
        let (watt, current_ma) = if flows { self.mains.conduct(cycles) } else { (0.0, 0) };
        let command = VacuumCommand {
            pump: outputs.pump && !(sick && faults.is_active(Fault::PumpDead)),
            isolation_open: outputs.isolation_valve,
            vent_open: outputs.vent_valve,
        };
        let load = self.piece.vapour_load_pa_m3_s();
        self.vacuum.set_seal_leak(faults.leak_pa_m3_s());
        self.opening = self.mover.step(outputs.open_closure);
        self.pressure_pa = self.vacuum.step(command, self.opening, load);
        self.chamber.step(watt, self.pressure_pa, self.opening);
        self.current_ma = current_ma;
        self.contactor = outputs.contactor;
        self.watt = watt;
        watt
    }

    /// The inputs of the chamber in the last tick.
    pub fn drive(&self) -> ChamberDrive {
        ChamberDrive {
            heater_w: self.watt,
            pressure_pa: self.pressure_pa,
            opening: self.opening,
        }
    }

    /// The instrument readings after a tick.
    pub fn sample_inputs(&mut self) -> Inputs {
        let control_c = self.chamber.control_sensor_c();
        let limit_c = self.chamber.limit_sensor_c();
        Inputs {
            control: Some(self.control.sample(control_c, &mut self.rng)),
            limit: Some(self.limit.sample(limit_c, &mut self.rng)),
            pressure_pa: self.gauge.as_ref().map(|g| g.sample(self.pressure_pa, &mut self.rng)),
            closure: self.mover.contacts(),
            contactor_closed: self.wired.auxiliary_contact && self.contactor,
            heater_current_ma: self.wired.heater_current.then_some(self.current_ma),
            mains_crossings: self.wired.mains_crossings.then_some(self.crossings_per_tick),
            buttons: Default::default(),
        }
    }

    /// Updates what changes slowly, once a second.
    pub fn end_second(&mut self, dt_s: f64) {
        self.shown = self.chamber.temperatures();
        let layers_c = self.shown.piece_c;
        self.vacuum.mix(dt_s, self.piece.vapour_load_pa_m3_s());
        let (pressure_pa, vapour_share) = (self.pressure_pa, self.vacuum.vapour_share());
        self.piece.step(dt_s, &PieceConditions { layers_c, pressure_pa, vapour_share });
        let drying_w = self.piece.heat_taken_w();
        if (drying_w - self.drying_w).abs() > DRYING_STEP_W {
            self.drying_w = drying_w;
            self.chamber.cool_piece(drying_w);
        }
        self.terminals_c = terminals::warmed_c(self.terminals_c, self.room_c, dt_s);
        self.control.set_terminals(self.terminals_c);
        self.limit.set_terminals(self.terminals_c);
    }

    /// The modelled quantities at the last whole second.
    pub fn model_state(&self) -> ModelState {
        let temperatures = &self.shown;
        let [a, b, c, d] = temperatures.piece_c;
        ModelState {
            piece_c: temperatures.piece_mean_c(),
            piece_spread_k: a.max(b).max(c.max(d)) - a.min(b).min(c.min(d)),
            muffle_c: temperatures.muffle_c,
            element_c: temperatures.element_c,
            pressure_pa: self.pressure_pa,
            depth_m: self.piece.front.as_ref().map_or(0.0, |front| front.depth_m()),
            water_left: self.piece.water.share_left(),
            lubricant_left: self.piece.lubricant.share_left(),
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

    /// The state of the piece.
    pub fn piece(&self) -> &Piece {
        &self.piece
    }
}
