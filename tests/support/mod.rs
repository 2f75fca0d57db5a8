//! A bench for tests: the real core with a simple plant of one mass.
//!
//! Every tick starts with healthy inputs; a test may then modify them to inject a fault.

use saggar_core::controller::StartError;
use saggar_core::estimate::Estimate;
use saggar_core::events::EventKind;
use saggar_core::furnace::{
    Closure, FeedForward, Furnace, Gains, Heater, Limits, SensorData, StoredHeat, VacuumSystem,
};
use saggar_core::interlock::InterlockInputs;
use saggar_core::io::{ClosureContacts, ThermocoupleSample};
use saggar_core::programme::{Action, Programme, ProgrammeImage, Step, VacuumStage};
use saggar_core::sensors::ThermocoupleType;
use saggar_core::sequencer::{Demand, Setpoint};
use saggar_core::units::{Celsius, Instant};
use saggar_core::{Cause, Controller, Inputs, Outputs, TICK_MS};

/// Power of the bench furnace (W).
pub(crate) const RATED_W: f64 = 2400.0;

/// Its heat loss (W/K) and heat capacity (J/K).
const LOSS_W_PER_K: f64 = 0.8;
const CAPACITY_J_PER_K: f64 = 600.0;

/// Temperature of the ambient (°C), and of the thermocouple terminals (thousandths of °C).
const AMBIENT_C: f64 = 20.0;
const TERMINALS_MC: i32 = 25_000;

/// Standard atmosphere (Pa).
pub(crate) const ATMOSPHERE_PA: u32 = 101_325;

/// A temperature from a finite number.
pub(crate) fn celsius(value: f32) -> Celsius {
    Celsius::new(value).expect("finite")
}

/// The bench furnace: two type S thermocouples, 50 Hz, a lift, a pump, a current sensor.
pub(crate) fn furnace() -> Furnace {
    let need = |at: f32| FeedForward {
        at: celsius(at),
        hold_w: (LOSS_W_PER_K as f32) * (at - AMBIENT_C as f32),
        heat_capacity_j_per_k: CAPACITY_J_PER_K as f32,
        limit_above_control_k: 2.0,
    };
    let gains =
        Gains { at: celsius(20.0), proportional: 0.02, integral: 4.0e-4, derivative: 0.0 };
    Furnace {
        control_sensor: SensorData::new(ThermocoupleType::S),
        limit_sensor: SensorData::new(ThermocoupleType::S),
        limits: Limits {
            furnace_max: celsius(1200.0),
            programme_max: celsius(1180.0),
            overshoot_max_k: 15.0,
            ramp_max_k_per_min: 150.0,
            slew_max_k_per_s: 10.0,
            disagree_max_k: 40.0,
            settled_difference_max_k: 20.0,
            start_below: celsius(1200.0),
            open_below: celsius(300.0),
            vent_below: celsius(600.0),
            firing_max_s: 8 * 3600,
        },
        heater: Heater {
            rated_w: RATED_W as f32,
            mains_hz: 50,
            conducting_ma: 500,
            full_current_ma: Some(10_000),
            auxiliary_contact: true,
            counts_crossings: true,
            stored_heat: StoredHeat {
                element_j_per_k: 1.0,
                element_w_per_k4: 1.0e-9,
                muffle_j_per_k: CAPACITY_J_PER_K as f32,
            },
            feed_forward: [need(20.0), need(1200.0)].into_iter().collect(),
        },
        gains: [gains].into_iter().collect(),
        vacuum: Some(VacuumSystem { pressure_min_pa: 3000 }),
        closure: Closure::Lift,
    }
}

/// A programme of these steps.
pub(crate) fn image(steps: &[Step]) -> ProgrammeImage {
    let mut programme = Programme::new("bench").expect("a short name");
    programme.steps = steps.iter().copied().collect();
    ProgrammeImage::encode(&programme).expect("a short programme")
}

/// A step at atmosphere.
pub(crate) const fn step(action: Action) -> Step {
    Step::new(action, None)
}

/// A step under vacuum.
pub(crate) const fn under(action: Action, stage: VacuumStage) -> Step {
    Step::new(action, Some(stage))
}

/// A ramp (°C, K/min).
pub(crate) const fn ramp(to_c: i32, k_per_min: u32) -> Action {
    Action::Ramp { to_mc: to_c * 1000, rate_mk_per_min: k_per_min * 1000 }
}

/// A soak of this time (s) in a band of ±10 K, with a band timeout of ten minutes.
pub(crate) const fn soak(seconds: u32) -> Action {
    Action::Soak { duration_ms: seconds * 1000, band_mk: 10_000, band_timeout_ms: 600_000 }
}

/// A vacuum stage of 50 hPa that starts at this reading (°C) and must be reached within 30 s.
pub(crate) const fn vacuum(from_c: i32) -> VacuumStage {
    VacuumStage { from_mc: from_c * 1000, to_pa: 5000, within_ms: 30_000 }
}

/// The sample of a front end with its thermocouple at this temperature (°C).
pub(crate) fn sample(kind: ThermocoupleType, celsius: f64) -> ThermocoupleSample {
    let terminals = f64::from(TERMINALS_MC) * 0.001;
    let hot = kind.emf_uv(celsius).expect("in range");
    let cold = kind.emf_uv(terminals).expect("in range");
    ThermocoupleSample {
        emf_nv: ((hot - cold) * 1000.0).round() as i32,
        cold_junction_mc: TERMINALS_MC,
        open: false,
        age_ms: 0,
    }
}

/// The inputs and the plant of one tick, which a test may modify.
pub(crate) struct Tick {
    /// Inputs of the core.
    pub(crate) inputs: Inputs,
    /// The outputs that were in force before.
    pub(crate) applied: Outputs,
    /// Time since the previous tick (ms).
    pub(crate) millis: u64,
    /// Share of the commanded heat that the element delivers.
    pub(crate) effect: f64,
    /// Heat without a command (W).
    pub(crate) stray_w: f64,
    /// The true temperature (°C).
    pub(crate) celsius: f64,
}

/// The core on the bench furnace.
pub(crate) struct Bench {
    /// The real core.
    pub(crate) core: Controller,
    /// The true temperature (°C).
    pub(crate) celsius: f64,
    /// The last outputs.
    pub(crate) out: Outputs,
    millis: u64,
    /// Ticks left in which the chamber is still open, as it was just loaded.
    loading: u8,
    inputs: Inputs,
    pressure_pa: u32,
    pressed: Buttons,
}

type Buttons = saggar_core::io::Buttons;

impl Bench {
    /// An idle furnace at this temperature (°C), with this programme loaded.
    pub(crate) fn new(celsius: f64, steps: &[Step]) -> Self {
        let mut bench = Self::at_power_up(celsius, steps);
        bench.run(20);
        bench
    }

    /// An idle furnace before its first tick.
    pub(crate) fn at_power_up(celsius: f64, steps: &[Step]) -> Self {
        Self::of(furnace(), celsius, steps)
    }

    /// An idle furnace before its first tick, with other furnace data but the same plant.
    pub(crate) fn of(furnace: Furnace, celsius: f64, steps: &[Step]) -> Self {
        let image = image(steps);
        let mut core = Controller::new(furnace);
        core.load(image.bytes(), &image.digest()).expect("the programme may run");
        let (out, pressed) = (Outputs::default(), Buttons::default());
        let inputs = Inputs::default();
        let pressure_pa = ATMOSPHERE_PA;
        Self { core, celsius, out, millis: 0, loading: 3, inputs, pressure_pa, pressed }
    }

    /// A running firing that is heating, after its self-test.
    pub(crate) fn firing(celsius: f64, steps: &[Step]) -> Self {
        let mut bench = Self::new(celsius, steps);
        bench.start();
        bench.run(25);
        // A warm chamber first shows what it settles at.
        for _ in 0..1_500 {
            if bench.out.heater_cycles != 0 {
                return bench;
            }
            bench.run(1);
        }
        panic!("no heat within 150 s of a start");
    }

    /// A running firing that is pumping.
    pub(crate) fn drawing(celsius: f64, steps: &[Step]) -> Self {
        let mut bench = Self::firing(celsius, steps);
        for _ in 0..2000 {
            if bench.out.isolation_valve {
                return bench;
            }
            bench.run(1);
        }
        panic!("no vacuum within 200 s of a start");
    }

    /// Presses start for one tick. Asked whether the chamber is shut, the operator looks, confirms and
    /// presses start again.
    pub(crate) fn start(&mut self) {
        self.press(|buttons| buttons.start = true);
        if self.core.status().start_error == Some(StartError::ContactUnproven) {
            self.press(|buttons| buttons.confirm = true);
            self.press(|buttons| buttons.start = true);
        }
    }

    /// Presses confirm for one tick, which `modify` may change.
    pub(crate) fn confirm(&mut self, modify: impl FnMut(&mut Tick)) {
        self.pressed.confirm = true;
        self.tick(modify);
        self.pressed = Buttons::default();
    }

    fn press(&mut self, which: impl Fn(&mut Buttons)) {
        which(&mut self.pressed);
        self.run(1);
        self.pressed = Buttons::default();
        self.run(1);
    }

    /// Runs healthy ticks.
    pub(crate) fn run(&mut self, ticks: u32) {
        for _ in 0..ticks {
            self.tick(|_| {});
        }
    }

    /// Runs one tick after `modify` has changed it.
    pub(crate) fn tick(&mut self, mut modify: impl FnMut(&mut Tick)) -> Outputs {
        let mut tick = Tick {
            inputs: self.healthy(),
            applied: self.out,
            millis: u64::from(TICK_MS),
            effect: 1.0,
            stray_w: 0.0,
            celsius: self.celsius,
        };
        if self.loading > 0 {
            self.loading -= 1;
            tick.inputs.closure = ClosureContacts::default();
        }
        modify(&mut tick);
        self.millis += tick.millis;
        self.inputs = tick.inputs;
        self.out = self.core.step(Instant::from_millis(self.millis), &tick.inputs);
        let heat_w = RATED_W * self.share() * tick.effect + tick.stray_w;
        let lost_w = LOSS_W_PER_K * (self.celsius - AMBIENT_C);
        let seconds = tick.millis as f64 * 0.001;
        self.celsius += (heat_w - lost_w) / CAPACITY_J_PER_K * seconds;
        self.pressure_pa = if self.out.isolation_valve {
            (self.pressure_pa - self.pressure_pa / 50).max(3500)
        } else if self.out.vent_valve {
            ATMOSPHERE_PA
        } else {
            self.pressure_pa
        };
        self.out
    }

    /// Time and inputs of the last tick.
    pub(crate) fn last_inputs(&self) -> (Instant, Inputs) {
        (Instant::from_millis(self.millis), self.inputs)
    }

    /// The inputs of a healthy furnace.
    fn healthy(&self) -> Inputs {
        let closure =
            ClosureContacts { shut: !self.out.open_closure, open: self.out.open_closure };
        Inputs {
            control: Some(sample(ThermocoupleType::S, self.celsius)),
            limit: Some(sample(ThermocoupleType::S, self.celsius + 2.0)),
            pressure_pa: Some(self.pressure_pa),
            closure,
            contactor_closed: self.out.contactor,
            heater_current_ma: Some((self.share().sqrt() * 10_000.0) as u32),
            mains_crossings: Some(self.core.furnace().heater.mains_hz / 5),
            buttons: self.pressed,
        }
    }

    /// Duty of the last tick, 0 to 1.
    fn share(&self) -> f64 {
        f64::from(self.core.status().commanded_duty)
    }

    /// The cause of the latched trip.
    pub(crate) fn tripped(&self) -> Option<Cause> {
        self.core.status().trip
    }

    /// Takes all pending events.
    pub(crate) fn events(&mut self) -> Vec<EventKind> {
        core::iter::from_fn(|| self.core.take_event()).map(|event| event.kind).collect()
    }
}

/// The demand of a firing that heats.
pub(crate) const PROVEN_DEMAND: Demand = Demand {
    firing: true,
    setpoint: Some(Setpoint::steady(880.0)),
    vacuum_pa: None,
    vacuum_overdue: false,
    open_closure: false,
    operator_hold: false,
    closure_overdue: false,
    waiting: None,
    self_test: None,
};

/// Inputs of the interlock with every condition proven, for a programme with this maximum setpoint
/// (°C).
pub(crate) fn proven_inputs(estimate: &Estimate, setpoint_max_c: f32) -> InterlockInputs<'_> {
    const RAW: &Inputs = &Inputs {
        control: None,
        limit: None,
        pressure_pa: Some(ATMOSPHERE_PA),
        closure: ClosureContacts { shut: true, open: false },
        contactor_closed: true,
        heater_current_ma: Some(6_325),
        mains_crossings: Some(10),
        buttons: saggar_core::io::Buttons { start: false, stop: false, confirm: false },
    };
    InterlockInputs {
        raw: RAW,
        estimate,
        demand: &PROVEN_DEMAND,
        applied: &Outputs {
            heater_cycles: 0b101,
            contactor: true,
            pump: false,
            isolation_valve: false,
            vent_valve: false,
            open_closure: false,
            lamp: true,
            buzzer: false,
        },
        setpoint_max_c,
        commanded_duty: 0.4,
        shut: true,
        shut_too_early: false,
        vacuum_lost: false,
        on_time: true,
        programme_intact: true,
        furnace_intact: true,
    }
}
