//! Compiles stages to the steps of a programme.

use saggar_core::programme::{
    Action, Programme, STEPS_MAX, SetpointOrigin, Step, Timeline, VacuumStage,
};

use super::{Draft, Evacuation, RampPace, Stage, StageKind};
use saggar_files::{Diagnostics, nearest};

/// A compiled schedule: the programme, and the stage of each of its steps.
#[derive(Clone, Debug)]
pub struct Compilation {
    /// The steps.
    pub programme: Programme,
    /// From each step to its stage.
    pub map: StageMap,
    /// All stages were compiled; none was left out because of an error.
    pub is_complete: bool,
}

/// From the steps of a programme back to the stages of its schedule.
#[derive(Clone, Debug, Default)]
pub struct StageMap {
    origins: Vec<StepOrigin>,
}

/// The stage that a step comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct StepOrigin {
    /// Which stage, from 1.
    pub number: usize,
    /// The stage.
    pub stage: Stage,
    /// The vacuum stage that covers the step: its number, and its temperature and pressure.
    pub vacuum: Option<(usize, Evacuation)>,
}

impl StageMap {
    /// The stage of a step, counted from 0.
    pub fn origin(&self, step: u8) -> Option<&StepOrigin> {
        self.origins.get(usize::from(step))
    }

    /// The stages of all steps in order.
    pub fn origins(&self) -> &[StepOrigin] {
        &self.origins
    }

    /// The stage of each step, as a verdict names it.
    pub fn verdict_stages(&self) -> Vec<saggar_verdict::StageLabel> {
        let named = |origin: &StepOrigin| saggar_verdict::StageLabel {
            number: origin.number,
            name: origin.stage.name.clone(),
            label: origin.phrase(),
        };
        self.origins.iter().map(named).collect()
    }
}

impl StepOrigin {
    /// Its label in a sentence, with its number in the file: `stage 6 "infiltrate"`.
    pub fn phrase(&self) -> String {
        self.stage.phrase(self.number)
    }
}

/// Stands for the rate of a ramp whose rate is unknown because of an error (thousandths of K/min). It is
/// slow enough for any furnace, and never run.
const NO_RATE_MK_PER_MIN: u32 = 1;

/// A vacuum stage that covers the stages from itself to `last`.
struct VacuumCover {
    index: usize,
    last: usize,
    draw: Evacuation,
    carried: VacuumStage,
}

struct Compiler<'s> {
    draft: &'s Draft,
    diagnostics: &'s Diagnostics,
    timeline: Timeline,
    /// A stage could not be read and no ramp has followed, so the setpoint is unknown.
    lost: bool,
    cover: Option<VacuumCover>,
    steps: Vec<Step>,
    locations: Vec<StepOrigin>,
    is_complete: bool,
}

/// Compiles the stages and notes what a programme cannot express.
pub fn compile(draft: &Draft, diagnostics: &Diagnostics) -> Compilation {
    let mut compiler = Compiler {
        draft,
        diagnostics,
        timeline: Timeline::new(),
        lost: false,
        cover: None,
        steps: Vec::new(),
        locations: Vec::new(),
        is_complete: true,
    };
    for (index, stage) in draft.stages.iter().enumerate() {
        compiler.stage(index, stage);
    }
    compiler.finish(&draft.name)
}

impl Compiler<'_> {
    fn stage(&mut self, index: usize, stage: &Stage<Option<StageKind>>) {
        match &stage.kind {
            Some(StageKind::Vacuum { draw, until_end_of }) => {
                self.vacuum(index, *draw, until_end_of);
            }
            Some(kind) => {
                if let Some(action) = self.action(index, kind) {
                    self.timeline.advance(&action);
                    let Stage { name, question, after_cut, .. } = stage.clone();
                    let stage = Stage { kind: kind.clone(), name, question, after_cut };
                    self.push(index, stage, action);
                }
            }
            None => (self.is_complete, self.lost) = (false, true),
        }
        self.end_cover(index);
    }

    fn push(&mut self, index: usize, stage: Stage, action: Action) {
        let cover = self.cover.as_ref();
        if let (Action::MoveClosure { .. }, Some(cover)) = (action, cover) {
            self.note(
                index,
                &[],
                "the chamber cannot be opened or shut under vacuum",
                format!("end the vacuum of stage {} before this stage", cover.index + 1),
            );
        }
        let vacuum = cover.map(|cover| (cover.index + 1, cover.draw));
        let vacuum_stage = cover.map(|cover| cover.carried);
        self.steps.push(Step { action, vacuum: vacuum_stage, after_cut: stage.after_cut });
        self.locations.push(StepOrigin { number: index + 1, stage, vacuum });
    }

    fn action(&mut self, index: usize, kind: &StageKind) -> Option<Action> {
        Some(match *kind {
            StageKind::Ramp { to_celsius, pace } => {
                let to_mc = to_milli(to_celsius);
                let rate_mk_per_min = self.rate(index, to_mc, pace).unwrap_or_else(|| {
                    self.is_complete = false;
                    NO_RATE_MK_PER_MIN
                });
                self.lost = false;
                Action::Ramp { to_mc, rate_mk_per_min }
            }
            StageKind::Soak { minutes, band_kelvin, patience_minutes } => Action::Soak {
                duration_ms: to_count(minutes * 60e3),
                band_mk: to_count(band_kelvin * 1e3),
                band_timeout_ms: to_count(patience_minutes * 60e3),
            },
            StageKind::Cool { below_celsius } => {
                Action::Cool { below_mc: to_milli(below_celsius) }
            }
            StageKind::Opening { open, minutes } => {
                Action::MoveClosure { open, dwell_ms: to_count(minutes * 60e3) }
            }
            StageKind::Hold { minutes, go_on } => Action::Hold {
                timeout_ms: to_count(minutes * 60e3),
                continue_on_timeout: go_on,
            },
            StageKind::Vacuum { .. } => return None,
        })
    }

    /// The rate of a ramp (thousandths of K/min); `None` if it is unknown.
    fn rate(&self, index: usize, to_mc: i32, pace: RampPace) -> Option<u32> {
        let minutes = match pace {
            RampPace::KelvinPerMinute(rate) => return Some(to_count(rate * 1e3)),
            RampPace::Minutes(minutes) => minutes,
        };
        if self.timeline.origin() == SetpointOrigin::Moved {
            self.note(
                index,
                &["minutes"],
                "the temperature from which this ramp starts after an opening is unknown",
                "give `kelvin_per_minute` instead of `minutes`",
            );
            return None;
        }
        if self.lost {
            return None;
        }
        let way_mk = f64::from(to_mc.abs_diff(self.timeline.setpoint_mc()));
        let rate_mk_per_min = way_mk / minutes;
        if rate_mk_per_min < 1.0 {
            let to = f64::from(to_mc) / 1e3;
            self.note(
                index,
                &["minutes"],
                format!("this ramp changes nothing: the setpoint is {to} °C already"),
                "use a soak, or give the ramp as `kelvin_per_minute`",
            );
            return None;
        }
        Some(to_count(rate_mk_per_min))
    }

    fn vacuum(&mut self, index: usize, draw: Evacuation, until: &str) {
        if let Some(cover) = &self.cover {
            self.note(
                index,
                &[],
                format!(
                    "this vacuum begins before that of stage {} has ended",
                    cover.index + 1
                ),
                "end the first one earlier with its `until_end_of`, or remove this one",
            );
        }
        let Some(last) = self.covered_until(index, until) else {
            self.is_complete = false;
            return;
        };
        let carried = VacuumStage {
            from_mc: to_milli(draw.from_celsius),
            to_pa: to_count(draw.to_hectopascal * 100.0),
            within_ms: to_count(draw.within_minutes * 60e3),
        };
        self.cover = Some(VacuumCover { index, last, draw, carried });
    }

    /// The later stage of this name.
    fn covered_until(&self, index: usize, until: &str) -> Option<usize> {
        let stages = &self.draft.stages;
        let later = stages.iter().enumerate().skip(index + 1);
        let named = |stage: &Stage<_>| stage.name.as_deref() == Some(until);
        let found = later.clone().find(|(_, stage)| named(stage)).map(|(index, _)| index);
        if found.is_some() {
            return found;
        }
        // If the name of a later stage could not be read, that stage may be the one meant.
        if later
            .clone()
            .any(|(at, stage)| stage.name.is_none() && self.draft.has_key(at, "name"))
        {
            return None;
        }
        let key = &["until_end_of"];
        let names: Vec<&str> = later.filter_map(|(_, stage)| stage.name.as_deref()).collect();
        if index + 1 == stages.len() {
            self.note(
                index,
                &[],
                "no stage follows this vacuum",
                "a vacuum covers the stages after it: move it up",
            );
        } else if let Some(earlier) = stages.iter().take(index).position(named) {
            self.note(
                index,
                key,
                format!("\"{until}\" is stage {}, before this vacuum", earlier + 1),
                "name a stage that comes after the vacuum",
            );
        } else {
            let help = match (nearest(until, names.iter().copied()), names.as_slice()) {
                (Some(meant), _) => format!("did you mean \"{meant}\"?"),
                (None, []) => {
                    "give the last stage under vacuum a name, and use it here".to_owned()
                }
                (None, names) => format!("stages named after it: \"{}\"", names.join("\", \"")),
            };
            self.note(index, key, format!("no later stage is named \"{until}\""), help);
        }
        None
    }

    fn note(
        &self,
        index: usize,
        keys: &[&str],
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.draft.note(self.diagnostics, index, keys, message, help);
    }

    fn end_cover(&mut self, index: usize) {
        self.cover.take_if(|cover| index >= cover.last);
    }

    fn finish(self, name: &str) -> Compilation {
        if let Some(origin) = self.locations.get(STEPS_MAX) {
            let message = format!(
                "this is step {} of {}: a programme has at most {STEPS_MAX}",
                STEPS_MAX + 1,
                self.steps.len()
            );
            let help = "join ramps of the same rate, or split the schedule in two";
            self.note(origin.number - 1, &[], message, help);
        }
        let mut programme = Programme::new(name).unwrap_or_else(empty);
        programme.fall_max_k = self.draft.power_cut_fall_k;
        for step in self.steps.iter().take(STEPS_MAX) {
            // Cannot fail: `STEPS_MAX` is the capacity.
            let _ = programme.steps.push(*step);
        }
        Compilation {
            programme,
            map: StageMap { origins: self.locations },
            is_complete: self.is_complete,
        }
    }
}

/// An empty programme, for a name that is too long; reading has noted that.
fn empty() -> Programme {
    Programme {
        format: saggar_core::programme::FORMAT_VERSION,
        name: heapless::String::new(),
        fall_max_k: saggar_core::programme::FALL_MAX_K,
        steps: heapless::Vec::new(),
    }
}

/// Converts to thousandths. The ranges of the keys keep every number far inside the type.
#[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
fn to_milli(value: f64) -> i32 {
    (value * 1e3).round() as i32
}

/// Rounds to a whole number. In range as in [`to_milli`].
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a cast of a float saturates, and no number here is negative"
)]
fn to_count(value: f64) -> u32 {
    value.round() as u32
}
