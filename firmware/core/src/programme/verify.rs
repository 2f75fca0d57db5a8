//! Verification: whether a programme may run on a furnace. Host and device call the same function.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use super::{Action, ProgrammeImage, STEPS_MAX, SetpointOrigin, Step, Timeline, VacuumStage};
use crate::furnace::Furnace;

/// Maximum number of violations that [`verify`] lists; it counts the others.
pub const VIOLATIONS_MAX: usize = 32;

/// A rule that a programme breaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Violation {
    /// The step, counted from 0; `None` for the programme as a whole.
    pub step: Option<u8>,
    /// The rule that it breaks.
    pub kind: ViolationKind,
}

/// The rules that a step or a programme can break, with its values in the units of the encoding. A
/// link carries the variant's number, so add new variants at the end only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ViolationKind {
    /// The programme has no steps.
    NoSteps,
    /// The minimum duration of the firing exceeds the furnace's maximum (s).
    TooLong {
        /// Minimum duration of the programme.
        seconds: u32,
        /// Maximum duration of the furnace.
        max_s: u32,
    },
    /// A setpoint is above the furnace's maximum for programmes (thousandths of °C).
    TooHot {
        /// What the step asks for.
        to_mc: i32,
        /// What the furnace allows.
        max_mc: i32,
    },
    /// A temperature is below what a furnace at ambient can reach (thousandths of °C).
    TooCold {
        /// What the step asks for.
        to_mc: i32,
    },
    /// A ramp has a rate of zero and would never arrive.
    ZeroRate,
    /// A ramp is faster than the furnace allows (thousandths of K/min).
    TooFast {
        /// What the step asks for.
        rate_mk_per_min: u32,
        /// What the furnace allows.
        max_mk_per_min: u32,
    },
    /// A soak or an operator hold has no setpoint to keep, because no ramp precedes it since the start
    /// or the last move.
    NoSetpoint,
    /// The band of a soak is zero or wider than 50 K (thousandths of K).
    BadBand {
        /// What the step asks for.
        band_mk: u32,
    },
    /// A duration or time limit is zero.
    ZeroDuration,
    /// The step has a vacuum stage and the furnace has no pump.
    NoPump,
    /// The pressure of a vacuum stage is below the furnace's minimum, or not below atmosphere (Pa).
    BadPressure {
        /// What the step asks for.
        to_pa: u32,
        /// Minimum of the furnace.
        min_pa: u32,
    },
    /// No step of a vacuum stage gets hot enough for its pump to start (thousandths of °C).
    PumpNeverStarts {
        /// Reading at which the pump would start.
        from_mc: i32,
        /// Maximum setpoint of the stage's steps.
        setpoint_max_mc: i32,
    },
    /// A vacuum stage applies while the chamber is open or the closure moves.
    OpenUnderVacuum,
    /// The step heats while the chamber is open.
    HeatWhileOpen,
}

/// All violations of a programme; if there are none, it may run.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Violations {
    /// The first [`VIOLATIONS_MAX`] violations.
    pub list: Vec<Violation, VIOLATIONS_MAX>,
    /// Number of further violations.
    pub dropped: u16,
}

impl Violations {
    /// True if the programme may run.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }
}

/// Maximum band of a soak (thousandths of K).
const BAND_MAX_MK: u32 = 50_000;

/// Minimum temperature of a step (thousandths of °C). A furnace in a warm ambient cannot stay below.
const TEMPERATURE_MIN_MC: i32 = 20_000;

/// Standard atmosphere (Pa). A vacuum stage at or above it is most likely a mistaken unit.
const ATMOSPHERE_PA: u32 = 101_325;

/// Lists the violations of a programme on a furnace.
pub fn verify(image: &ProgrammeImage, furnace: &Furnace) -> Violations {
    let mut violations = Violations::default();
    verify_with(image, furnace, |violation| {
        if violations.list.push(violation).is_err() {
            violations.dropped = violations.dropped.saturating_add(1);
        }
    });
    violations
}

/// Calls `report` for each violation of a programme on a furnace. Uses less memory than [`verify`].
pub fn verify_with(
    image: &ProgrammeImage,
    furnace: &Furnace,
    mut report: impl FnMut(Violation),
) {
    if image.is_empty() {
        report(Violation { step: None, kind: ViolationKind::NoSteps });
    }
    let mut verifier = Verifier {
        image,
        furnace,
        stage: None,
        timeline: Timeline::new(),
        open: false,
        duration_ms: 0,
    };
    for (index, step) in (0u8..).zip(image.steps()).take(STEPS_MAX) {
        verifier.step(&step, &mut |kind| report(Violation { step: Some(index), kind }));
    }
    let seconds = u32::try_from(verifier.duration_ms / 1000).unwrap_or(u32::MAX);
    let max_s = furnace.limits.firing_max_s;
    if seconds > max_s {
        report(Violation { step: None, kind: ViolationKind::TooLong { seconds, max_s } });
    }
}

/// The state of the verification while it goes through the steps.
struct Verifier<'a> {
    image: &'a ProgrammeImage,
    furnace: &'a Furnace,
    /// Vacuum stage of the previous step.
    stage: Option<VacuumStage>,
    timeline: Timeline,
    open: bool,
    duration_ms: u64,
}

impl Verifier<'_> {
    fn step(&mut self, step: &Step, report: &mut impl FnMut(ViolationKind)) {
        if step.action.heats() && self.open {
            report(ViolationKind::HeatWhileOpen);
        }
        self.vacuum(step, report);
        self.stage = step.vacuum;
        match step.action {
            Action::Ramp { to_mc, rate_mk_per_min } => {
                self.ramp(to_mc, rate_mk_per_min, report)
            }
            Action::Soak { duration_ms, band_mk, band_timeout_ms } => {
                self.needs_setpoint(report);
                if duration_ms == 0 || band_timeout_ms == 0 {
                    report(ViolationKind::ZeroDuration);
                }
                if band_mk == 0 || band_mk > BAND_MAX_MK {
                    report(ViolationKind::BadBand { band_mk });
                }
            }
            Action::Cool { below_mc } => {
                if below_mc < TEMPERATURE_MIN_MC {
                    report(ViolationKind::TooCold { to_mc: below_mc });
                }
            }
            Action::MoveClosure { open, .. } => self.open = open,
            Action::Hold { timeout_ms, .. } => {
                self.needs_setpoint(report);
                if timeout_ms == 0 {
                    report(ViolationKind::ZeroDuration);
                }
            }
        }
        let duration_min_ms = self.timeline.advance(&step.action);
        self.duration_ms = self.duration_ms.saturating_add(duration_min_ms);
    }

    fn ramp(&self, to_mc: i32, rate_mk_per_min: u32, report: &mut impl FnMut(ViolationKind)) {
        let max_mc = milli(self.furnace.limits.programme_max.get());
        if to_mc > max_mc {
            report(ViolationKind::TooHot { to_mc, max_mc });
        }
        if to_mc < TEMPERATURE_MIN_MC {
            report(ViolationKind::TooCold { to_mc });
        }
        let max_mk_per_min = milli(self.furnace.limits.ramp_max_k_per_min).unsigned_abs();
        if rate_mk_per_min == 0 {
            report(ViolationKind::ZeroRate);
        } else if rate_mk_per_min > max_mk_per_min {
            report(ViolationKind::TooFast { rate_mk_per_min, max_mk_per_min });
        }
    }

    fn vacuum(&self, step: &Step, report: &mut impl FnMut(ViolationKind)) {
        let Some(stage) = step.vacuum else { return };
        let Some(system) = self.furnace.vacuum else { return report(ViolationKind::NoPump) };
        if stage.to_pa < system.pressure_min_pa || stage.to_pa >= ATMOSPHERE_PA {
            report(ViolationKind::BadPressure {
                to_pa: stage.to_pa,
                min_pa: system.pressure_min_pa,
            });
        }
        if stage.within_ms == 0 {
            report(ViolationKind::ZeroDuration);
        }
        if self.stage != step.vacuum {
            self.vacuum_stage_starts(&stage, report);
        }
        if self.open || matches!(step.action, Action::MoveClosure { .. }) {
            report(ViolationKind::OpenUnderVacuum);
        }
    }

    /// At the first step of a vacuum stage: one of its steps must reach the temperature at which the
    /// pump starts, unless the furnace has reached it already.
    fn vacuum_stage_starts(&self, stage: &VacuumStage, report: &mut impl FnMut(ViolationKind)) {
        let steps = self.image.steps().filter(|step| step.vacuum == Some(*stage));
        let setpoints = steps.filter_map(|step| step.action.setpoint_mc());
        // Before the first ramp the temperature of the furnace is unknown.
        let reached = (self.timeline.origin() != SetpointOrigin::Start)
            .then_some(self.timeline.setpoint_mc());
        let setpoint_max_mc = setpoints.chain(reached).max();
        let Some(setpoint_max_mc) = setpoint_max_mc.filter(|max_mc| *max_mc < stage.from_mc)
        else {
            return;
        };
        report(ViolationKind::PumpNeverStarts { from_mc: stage.from_mc, setpoint_max_mc });
    }

    fn needs_setpoint(&self, report: &mut impl FnMut(ViolationKind)) {
        if self.timeline.held_setpoint_mc().is_none() {
            report(ViolationKind::NoSetpoint);
        }
    }
}

/// Converts to thousandths, saturating. A NaN becomes zero, so that a furnace without a valid limit
/// allows nothing.
#[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
fn milli(value: f32) -> i32 {
    (value * 1000.0) as i32
}
