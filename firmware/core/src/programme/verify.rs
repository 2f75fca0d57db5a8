//! Whether a programme may run on a furnace. Desk and device call the same function.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use super::{Action, ProgrammeImage, STEPS_MAX, SetpointOrigin, Step, Timeline, VacuumStage};
use crate::furnace::Furnace;

/// Most findings that [`verify`] keeps; it counts those beyond.
pub const VIOLATIONS_MAX: usize = 32;

/// One thing that forbids a programme.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Violation {
    /// The step, counted from 0; `None` for the programme as a whole.
    pub step: Option<u8>,
    /// What is wrong with it.
    pub kind: ViolationKind,
}

/// What can be wrong with a step or a programme. The numbers are those of the wire. A link carries
/// the number of a variant as well: new ones are added at the end, and only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ViolationKind {
    /// The programme has no steps.
    NoSteps,
    /// The shortest possible firing is longer than the furnace allows (s).
    TooLong {
        /// Shortest duration of the programme.
        seconds: u32,
        /// Longest firing of the furnace.
        max_s: u32,
    },
    /// A setpoint lies above what a programme may ask of this furnace (thousandths of °C).
    TooHot {
        /// What the step asks for.
        to_mc: i32,
        /// What the furnace allows.
        max_mc: i32,
    },
    /// A setpoint lies below anything that a furnace in a room can hold (thousandths of °C).
    TooCold {
        /// What the step asks for.
        to_mc: i32,
    },
    /// A rate of zero never arrives.
    ZeroRate,
    /// A rate is faster than the furnace allows (thousandths of K/min).
    TooFast {
        /// What the step asks for.
        rate_mk_per_min: u32,
        /// What the furnace allows.
        max_mk_per_min: u32,
    },
    /// A soak or a hold comes before any ramp, or before any ramp since the last move, so there
    /// is no setpoint to keep.
    NoSetpoint,
    /// A soak's band is zero, or wider than a soak can mean (thousandths of K).
    BadBand {
        /// What the step asks for.
        band_mk: u32,
    },
    /// A time is zero where that means nothing.
    ZeroDuration,
    /// The step asks for vacuum and the furnace has no pump.
    NoPump,
    /// The pressure is below what the pump reaches, or not below the atmosphere (Pa).
    BadPressure {
        /// What the step asks for.
        to_pa: u32,
        /// The lowest that the furnace reaches.
        min_pa: u32,
    },
    /// The steps under a vacuum stage never get as hot as its pump waits for (thousandths of °C).
    PumpNeverStarts {
        /// The reading from which the pump would run.
        from_mc: i32,
        /// The highest setpoint under the stage.
        setpoint_max_mc: i32,
    },
    /// The step asks for vacuum while the closure moves or stands open.
    OpenUnderVacuum,
    /// The step asks for heat while the chamber stands open.
    HeatWhileOpen,
}

/// The findings on a programme: none means that it may run.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Violations {
    /// The first [`FINDINGS_MAX`].
    pub list: Vec<Violation, VIOLATIONS_MAX>,
    /// How many more there are.
    pub dropped: u16,
}

impl Violations {
    /// Nothing forbids the programme.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }
}

/// Widest band of a soak, K.
const BAND_MAX_MK: u32 = 50_000;

/// Coldest setpoint, °C. Below, a heated chamber in a warm room cannot hold.
const COLDEST_MC: i32 = 20_000;

/// Standard atmosphere, Pa. "Vacuum" at or above this is a slip of the unit.
const ATMOSPHERE_PA: u32 = 101_325;

/// Everything that forbids a programme on a furnace, kept in a fixed room.
pub fn verify(image: &ProgrammeImage, furnace: &Furnace) -> Violations {
    let mut findings = Violations::default();
    verify_with(image, furnace, |finding| {
        if findings.list.push(finding).is_err() {
            findings.dropped = findings.dropped.saturating_add(1);
        }
    });
    findings
}

/// Everything that forbids a programme on a furnace, each told to `tell`.
pub fn verify_with(image: &ProgrammeImage, furnace: &Furnace, mut tell: impl FnMut(Violation)) {
    if image.is_empty() {
        tell(Violation { step: None, kind: ViolationKind::NoSteps });
    }
    let mut walk = Verifier {
        image,
        furnace,
        stage: None,
        timeline: Timeline::new(),
        open: false,
        duration_ms: 0,
    };
    for (index, step) in (0u8..).zip(image.steps()).take(STEPS_MAX) {
        walk.step(&step, &mut |fault| tell(Violation { step: Some(index), kind: fault }));
    }
    let seconds = u32::try_from(walk.duration_ms / 1000).unwrap_or(u32::MAX);
    let max_s = furnace.limits.firing_max_s;
    if seconds > max_s {
        tell(Violation { step: None, kind: ViolationKind::TooLong { seconds, max_s } });
    }
}

/// What the walk through the steps has to remember.
struct Verifier<'a> {
    image: &'a ProgrammeImage,
    furnace: &'a Furnace,
    /// The vacuum stage of the step before.
    stage: Option<VacuumStage>,
    timeline: Timeline,
    open: bool,
    duration_ms: u64,
}

impl Verifier<'_> {
    fn step(&mut self, step: &Step, tell: &mut impl FnMut(ViolationKind)) {
        if step.action.heats() && self.open {
            tell(ViolationKind::HeatWhileOpen);
        }
        self.vacuum(step, tell);
        self.stage = step.vacuum;
        match step.action {
            Action::Ramp { to_mc, rate_mk_per_min } => self.ramp(to_mc, rate_mk_per_min, tell),
            Action::Soak { duration_ms: for_ms, band_mk, band_timeout_ms: patience_ms } => {
                self.needs_setpoint(tell);
                if for_ms == 0 || patience_ms == 0 {
                    tell(ViolationKind::ZeroDuration);
                }
                if band_mk == 0 || band_mk > BAND_MAX_MK {
                    tell(ViolationKind::BadBand { band_mk });
                }
            }
            Action::Cool { below_mc } => {
                if below_mc < COLDEST_MC {
                    tell(ViolationKind::TooCold { to_mc: below_mc });
                }
            }
            Action::MoveClosure { open, .. } => self.open = open,
            Action::Hold { timeout_ms, .. } => {
                self.needs_setpoint(tell);
                if timeout_ms == 0 {
                    tell(ViolationKind::ZeroDuration);
                }
            }
        }
        let shortest_ms = self.timeline.advance(&step.action);
        self.duration_ms = self.duration_ms.saturating_add(shortest_ms);
    }

    fn ramp(&self, to_mc: i32, rate_mk_per_min: u32, tell: &mut impl FnMut(ViolationKind)) {
        let max_mc = milli(self.furnace.limits.programme_max.get());
        if to_mc > max_mc {
            tell(ViolationKind::TooHot { to_mc, max_mc });
        }
        if to_mc < COLDEST_MC {
            tell(ViolationKind::TooCold { to_mc });
        }
        let max_mk_per_min = milli(self.furnace.limits.ramp_max_k_per_min).unsigned_abs();
        if rate_mk_per_min == 0 {
            tell(ViolationKind::ZeroRate);
        } else if rate_mk_per_min > max_mk_per_min {
            tell(ViolationKind::TooFast { rate_mk_per_min, max_mk_per_min });
        }
    }

    fn vacuum(&self, step: &Step, tell: &mut impl FnMut(ViolationKind)) {
        let Some(stage) = step.vacuum else { return };
        let Some(pump) = self.furnace.vacuum else { return tell(ViolationKind::NoPump) };
        if stage.to_pa < pump.pressure_min_pa || stage.to_pa >= ATMOSPHERE_PA {
            tell(ViolationKind::BadPressure {
                to_pa: stage.to_pa,
                min_pa: pump.pressure_min_pa,
            });
        }
        if stage.within_ms == 0 {
            tell(ViolationKind::ZeroDuration);
        }
        if self.stage != step.vacuum {
            self.begins(&stage, tell);
        }
        if self.open || matches!(step.action, Action::MoveClosure { .. }) {
            tell(ViolationKind::OpenUnderVacuum);
        }
    }

    /// The first step under a vacuum stage: some step under it must get as hot as the pump waits
    /// for, unless the furnace is there already.
    fn begins(&self, stage: &VacuumStage, tell: &mut impl FnMut(ViolationKind)) {
        let under = self.image.steps().filter(|step| step.vacuum == Some(*stage));
        let setpoints = under.filter_map(|step| step.action.setpoint_mc());
        // What the furnace read before any ramp, nobody knows.
        let reached = (self.timeline.origin() != SetpointOrigin::Start)
            .then_some(self.timeline.setpoint_mc());
        let highest_mc = setpoints.chain(reached).max();
        let Some(highest_mc) = highest_mc.filter(|highest| *highest < stage.from_mc) else {
            return;
        };
        tell(ViolationKind::PumpNeverStarts {
            from_mc: stage.from_mc,
            setpoint_max_mc: highest_mc,
        });
    }

    fn needs_setpoint(&self, tell: &mut impl FnMut(ViolationKind)) {
        if self.timeline.held_setpoint_mc().is_none() {
            tell(ViolationKind::NoSetpoint);
        }
    }
}

/// Thousandths, saturating; zero for a NaN, so that a furnace whose limit is none allows
/// nothing.
#[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
fn milli(value: f32) -> i32 {
    (value * 1000.0) as i32
}
