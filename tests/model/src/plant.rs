//! The furnace of the model, its two programmes, and what its instruments show.
//!
//! The numbers are chosen so that every reading is exact and stays exact: see `docs/model-check.md`. They
//! are no furnace that could be built.

use saggar_core::controller::CheckedProgramme;
use saggar_core::furnace::{
    Closure, FeedForward, Furnace, Gains, Heater, Limits, SensorData, StoredHeat, VacuumSystem,
};
use saggar_core::io::{Buttons, ClosureContacts, ThermocoupleSample};
use saggar_core::programme::{Action, AfterCut, Programme, ProgrammeImage, Step, VacuumStage};
use saggar_core::sensors::{ChannelReader, ThermocoupleType};
use saggar_core::units::Celsius;
use saggar_core::{Controller, Inputs, Outputs};

/// Temperature of the terminals (thousandths of °C).
const TERMINALS_MC: i32 = 25_000;

/// Readings of the chamber (°C). Above 400 °C a code of a type K more or less does not change the reading.
/// They are more than 20 K apart, so that a reading after a gap restarts the filter, and less than 25 K, so
/// that no rise is one that only a heater can cause.
const COOL_C: f64 = 402.0;
const WARM_C: f64 = 426.0;

/// Below this the chamber may be opened and vented (°C): the cool one, while its reading is fresh.
const OPEN_BELOW_C: f32 = 415.0;

/// Pressures of the chamber (Pa): air, and drawn. The fall from one to the other is just less than a gauge
/// must not show in a second.
const AIR_PA: u32 = 101_325;
const DRAWN_PA: u32 = 27_000;

/// Current of full conduction (mA).
const FULL_MA: u32 = 10_000;

/// What can be wrong. Each is there, or is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Fault {
    /// The control thermocouple is open.
    ControlOpen,
    /// The limit thermocouple is open.
    LimitOpen,
    /// Both samples are 100 ms old, in which a warm chamber may have passed the programme's limit.
    SamplesOld,
    /// Both samples are 300 ms old, in which a warm chamber may have passed the furnace's limit.
    SamplesVeryOld,
    /// The auxiliary contact shows the contactor closed.
    ContactorClosed,
    /// The auxiliary contact shows the contactor open.
    ContactorOpen,
    /// Current flows all the time.
    CurrentFlows,
    /// No current flows.
    CurrentMissing,
    /// Air comes in while the pump draws.
    Leak,
    /// The gauge gives no answer.
    GaugeSilent,
}

impl Fault {
    /// All faults.
    pub const ALL: [Self; 10] = [
        Self::ControlOpen,
        Self::LimitOpen,
        Self::SamplesOld,
        Self::SamplesVeryOld,
        Self::ContactorClosed,
        Self::ContactorOpen,
        Self::CurrentFlows,
        Self::CurrentMissing,
        Self::Leak,
        Self::GaugeSilent,
    ];
}

/// What is around the core: people, the furnace and its faults.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Surroundings {
    /// The buttons that are down.
    pub buttons: Buttons8,
    /// The chamber is too warm to be opened or vented, and not too warm to be heated.
    pub warm: bool,
    /// Where the lift is.
    pub open: bool,
    /// The chamber is drawn empty.
    pub drawn: bool,
    /// The faults that are there, a bit each.
    pub faults: u16,
}

/// Buttons in a form that can be hashed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Buttons8(pub u8);

impl Buttons8 {
    /// All up.
    pub const NONE: Self = Self(0);
    /// All down.
    pub const ALL: Self = Self(7);

    /// As the core reads them.
    pub const fn buttons(self) -> Buttons {
        Buttons { start: self.0 & 1 != 0, stop: self.0 & 2 != 0, confirm: self.0 & 4 != 0 }
    }
}

/// How the samples of one tick differ from those that the surroundings say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Samples {
    /// Not at all.
    Present,
    /// Neither front end answers.
    Missing,
}

impl Surroundings {
    /// A cool chamber that is open, full of air and in order.
    pub const START: Self =
        Self { buttons: Buttons8::NONE, warm: false, open: true, drawn: false, faults: 0 };

    /// Whether this fault is there.
    pub const fn has(&self, fault: Fault) -> bool {
        self.faults & 1 << fault as u8 != 0
    }

    /// The same with this fault there, or gone.
    #[must_use]
    pub const fn toggled(self, fault: Fault) -> Self {
        Self { faults: self.faults ^ 1 << fault as u8, ..self }
    }

    /// Age of the samples (ms).
    pub const fn age_ms(&self) -> u16 {
        if self.has(Fault::SamplesVeryOld) {
            300
        } else if self.has(Fault::SamplesOld) {
            100
        } else {
            0
        }
    }

    /// The pressure after a tick with these outputs.
    pub fn breathe(&mut self, outputs: &Outputs) {
        if outputs.isolation_valve && outputs.pump {
            self.drawn = !self.has(Fault::Leak);
        } else if outputs.vent_valve {
            self.drawn = false;
        }
    }
}

/// The furnace, its programmes and the codes of its thermocouples.
#[derive(Clone, Debug)]
pub struct Plant {
    /// What can be uploaded.
    pub programmes: [ProgrammeImage; 2],
    /// The same as the core has checked them.
    pub checked: [CheckedProgramme; 2],
    /// A core after power-up with each of them.
    pub booted: [Controller; 2],
    cool_nv: i32,
    warm_nv: i32,
}

impl Default for Plant {
    fn default() -> Self {
        let (cool_nv, warm_nv) = (code_at(COOL_C), code_at(WARM_C));
        let programmes = [soaks(), opens()];
        let fresh = Controller::new(furnace());
        let check = |image: &ProgrammeImage| {
            fresh.check_programme(image.bytes(), &image.digest()).expect("it may run")
        };
        let checked = programmes.each_ref().map(check);
        let booted = checked.each_ref().map(|programme| {
            let mut core = fresh.clone();
            core.load_checked(programme.clone()).expect("it may run");
            core
        });
        Self { programmes, checked, booted, cool_nv, warm_nv }
    }
}

impl Plant {
    /// The inputs of a tick. `now_ms` chooses between two neighbouring codes, which read the same: a front
    /// end that works does not stand still.
    pub fn inputs(
        &self,
        around: &Surroundings,
        last: &Outputs,
        now_ms: u64,
        samples: Samples,
    ) -> Inputs {
        let code = if around.warm { self.warm_nv } else { self.cool_nv };
        let sample = |open| {
            let emf_nv = code + i32::from((now_ms / 100).is_multiple_of(2));
            let age_ms = around.age_ms();
            let sample =
                ThermocoupleSample { emf_nv, cold_junction_mc: TERMINALS_MC, open, age_ms };
            (samples == Samples::Present).then_some(sample)
        };
        let closed = last.contactor || around.has(Fault::ContactorClosed);
        let flows = last.heater_cycles != 0 || around.has(Fault::CurrentFlows);
        let flows = flows && !around.has(Fault::CurrentMissing);
        let pressure_pa = if around.drawn { DRAWN_PA } else { AIR_PA };
        Inputs {
            control: sample(around.has(Fault::ControlOpen)),
            limit: sample(around.has(Fault::LimitOpen)),
            pressure_pa: (!around.has(Fault::GaugeSilent)).then_some(pressure_pa),
            closure: ClosureContacts { shut: !around.open, open: around.open },
            contactor_closed: closed && !around.has(Fault::ContactorOpen),
            heater_current_ma: Some(if flows { FULL_MA } else { 0 }),
            mains_crossings: None,
            buttons: around.buttons.buttons(),
        }
    }
}

/// A code near this temperature (°C) that reads exactly like the next one.
fn code_at(celsius: f64) -> i32 {
    let kind = ThermocoupleType::K;
    let emf_uv = |celsius| kind.emf_uv(celsius).expect("in range");
    let near_uv = emf_uv(celsius) - emf_uv(f64::from(TERMINALS_MC) * 0.001);
    let reading = |emf_nv| {
        let sample = ThermocoupleSample {
            emf_nv,
            cold_junction_mc: TERMINALS_MC,
            open: false,
            age_ms: 0,
        };
        let reading = ChannelReader::default().read(&SensorData::new(kind), Some(&sample));
        reading.expect("in range").celsius.get().to_bits()
    };
    #[expect(clippy::cast_possible_truncation, reason = "a few millivolts")]
    let near_nv = (near_uv * 1000.0) as i32;
    (near_nv..near_nv + 10).find(|nv| reading(*nv) == reading(nv + 1)).expect("such a code")
}

fn celsius(value: f32) -> Celsius {
    Celsius::new(value).expect("finite")
}

/// The table asks for more than the rated power and the gains are zero, so that the heater is driven fully
/// or not at all.
fn furnace() -> Furnace {
    let need = FeedForward {
        at: celsius(20.0),
        hold_w: 1500.0,
        heat_capacity_j_per_k: 0.1,
        limit_above_control_k: 0.0,
    };
    let gains = Gains { at: celsius(20.0), proportional: 0.0, integral: 0.0, derivative: 0.0 };
    Furnace {
        control_sensor: SensorData::new(ThermocoupleType::K),
        limit_sensor: SensorData::new(ThermocoupleType::K),
        limits: Limits {
            furnace_max: celsius(470.0),
            programme_max: celsius(450.0),
            overshoot_max_k: 20.0,
            ramp_max_k_per_min: 63_000.0,
            slew_max_k_per_s: 200.0,
            disagree_max_k: 20.0,
            settled_difference_max_k: 20.0,
            start_below: celsius(440.0),
            open_below: celsius(OPEN_BELOW_C),
            vent_below: celsius(OPEN_BELOW_C),
            firing_max_s: 7,
        },
        heater: Heater {
            rated_w: 1000.0,
            mains_hz: 50,
            conducting_ma: 500,
            full_current_ma: Some(FULL_MA),
            auxiliary_contact: true,
            counts_crossings: false,
            stored_heat: StoredHeat {
                element_j_per_k: 1.0,
                element_w_per_k4: 1.0e-9,
                muffle_j_per_k: 600.0,
            },
            feed_forward: [need].into_iter().collect(),
        },
        gains: [gains].into_iter().collect(),
        vacuum: Some(VacuumSystem { pressure_min_pa: 3000 }),
        closure: Closure::Lift,
    }
}

fn image(name: &str, steps: &[Step]) -> ProgrammeImage {
    let mut programme = Programme::new(name).expect("a short name");
    programme.steps = steps.iter().copied().collect();
    ProgrammeImage::encode(&programme).expect("a short programme")
}

const RAMP: Action = Action::Ramp { to_mc: 412_000, rate_mk_per_min: 62_400_000 };

/// A ramp, and a soak under vacuum.
fn soaks() -> ProgrammeImage {
    let stage = VacuumStage { from_mc: 400_000, to_pa: 30_000, within_ms: 4_000 };
    let soak = Action::Soak { duration_ms: 1_000, band_mk: 12_000, band_timeout_ms: 2_000 };
    image("soaks", &[Step::new(RAMP, None), Step::new(soak, Some(stage))])
}

/// A ramp, a hold that ends after a power cut, and the opening of the chamber.
fn opens() -> ProgrammeImage {
    let hold = Action::Hold { timeout_ms: 1_000, continue_on_timeout: false };
    let hold = Step { after_cut: AfterCut::End, ..Step::new(hold, None) };
    let open = Action::MoveClosure { open: true, dwell_ms: 500 };
    image("opens", &[Step::new(RAMP, None), hold, Step::new(open, None)])
}
