//! Records the figures that the verdict needs while a firing runs, without keeping rows.

use saggar_core::events::{Event, EventKind};
use saggar_core::furnace::Furnace;
use saggar_core::programme::{Action, ProgrammeImage, Step};
use saggar_core::sequencer::Ending;
use saggar_plant::spec::FurnaceSpec;
use saggar_verdict::{
    AdviceLimits, FiringSummary, Interruption, NotStarted, StepStress, StressCause,
};

use super::Observer;
use super::ramps::RampTimes;
use super::soaks::{self, SoakSample, SoakTracker};
use crate::trace::Row;
use crate::world::{World, setpoint_max_c};

/// The figures recorded so far.
#[derive(Clone, Debug)]
pub struct SummaryRecorder {
    programme: ProgrammeImage,
    sensor_tolerance_k: f64,
    /// How much hotter the simulated furnace was than a recorded one (K).
    simulated_hotter_k: f64,
    advice_limits: AdviceLimits,
    soaks: Vec<SoakTracker>,
    ramps: RampTimes,
    /// Hottest reading (°C), and when (s).
    hottest: (f64, f64),
    energy_j: f64,
    /// When the firing ended, and the last row of the running firing (s).
    ended_s: Option<f64>,
    fired_s: Option<f64>,
    interruptions: Vec<Interruption>,
    /// Step, time (s) and reading (°C) of the last row of the running firing.
    last: Option<(u8, f64, f64)>,
    /// Largest tension of the piece in each step that began (Pa).
    tensions_pa: Vec<f64>,
}

impl SummaryRecorder {
    /// A recorder for a firing of this programme. `device` is the furnace as its controller knows it: it
    /// limits the verdict's advice to programmes that the controller accepts.
    pub fn new(programme: &ProgrammeImage, furnace: &FurnaceSpec, device: &Furnace) -> Self {
        Self {
            programme: programme.clone(),
            sensor_tolerance_k: furnace.control_sensor.tolerance_k,
            simulated_hotter_k: 0.0,
            advice_limits: AdviceLimits::of(device),
            soaks: soaks::of(programme.steps()),
            ramps: RampTimes::default(),
            hottest: (f64::MIN, 0.0),
            energy_j: 0.0,
            ended_s: None,
            fired_s: None,
            interruptions: Vec::new(),
            last: None,
            tensions_pa: Vec::new(),
        }
    }

    /// Notes how much hotter the simulated furnace was than the recorded one while the glass flowed (K).
    pub fn note_hotter(&mut self, simulated_hotter_k: f64) {
        self.simulated_hotter_k = simulated_hotter_k;
    }

    /// Length of the firing (s): from the start button to the event that ended it, or to the last
    /// row of a firing that has not ended.
    pub fn duration_s(&self) -> f64 {
        self.ended_s.or(self.fired_s).unwrap_or(0.0)
    }

    /// The summary, with how the firing ended or why it did not begin.
    pub fn finish(
        mut self,
        ending: Option<Ending>,
        not_started: Option<NotStarted>,
    ) -> FiringSummary {
        let duration_s = self.duration_s();
        if ending == Some(Ending::Completed) {
            self.ramps.complete(duration_s);
        }
        FiringSummary {
            ending,
            not_started,
            duration_s,
            interruptions: self.interruptions.clone(),
            energy_j: self.energy_j,
            sensor_max_c: self.hottest.0,
            sensor_max_at_s: self.hottest.1,
            setpoint_max_c: setpoint_max_c(&self.programme),
            hottest_soak: soaks::hottest(&self.soaks),
            soaks: self.soaks.iter().filter_map(SoakTracker::summary).collect(),
            late_ramps: self.ramps.late(self.programme.steps()),
            stresses: stresses(self.programme.steps(), &self.tensions_pa),
            sensor_tolerance_k: self.sensor_tolerance_k,
            simulated_hotter_k: self.simulated_hotter_k,
            limits: self.advice_limits,
        }
    }

    fn record_tension(&mut self, step: usize, now_pa: f64) {
        if self.tensions_pa.len() <= step {
            self.tensions_pa.resize(step + 1, 0.0);
        }
        if let Some(max_pa) = self.tensions_pa.get_mut(step)
            && (now_pa > *max_pa || now_pa.is_nan())
        {
            *max_pa = now_pa;
        }
    }
}

impl SummaryRecorder {
    /// Notes the power cuts since the last row, and how far the reading has fallen until start was pressed.
    fn record_cuts(&mut self, row: &Row, world: &World) {
        let Some((step, _, reading_c)) = self.last else { return };
        for cut in world.power_cuts().iter().skip(self.interruptions.len()) {
            let (at_s, length_s) = (cut.at_s, Some(cut.length_s));
            let cut =
                Interruption { step, at_s, length_s, reading_c, fall_k: 0.0, resumed: false };
            self.interruptions.push(cut);
            self.soaks.iter_mut().for_each(|soak| soak.interrupt(step));
        }
        let waiting = self.interruptions.last_mut().filter(|cut| !cut.resumed);
        if let (Some(cut), Some(now_c)) = (waiting, row.measured.sensor_c) {
            cut.fall_k = cut.reading_c - now_c;
        }
    }
}

impl Observer for SummaryRecorder {
    fn event(&mut self, event: &Event) {
        if matches!(event.kind, EventKind::FiringResumed(_)) {
            self.interruptions.iter_mut().for_each(|cut| cut.resumed = true);
        }
        if matches!(event.kind, EventKind::FiringEnded(_)) && self.ended_s.is_none() {
            self.ended_s = Some(event.at.millis() as f64 / 1000.0);
        }
    }

    fn row(&mut self, row: &Row, energy_j: f64, world: &World) {
        self.energy_j += energy_j;
        self.record_cuts(row, world);
        let Some(step) = row.measured.step else { return };
        self.last =
            row.measured.sensor_c.map(|sensor_c| (step, row.at_s, sensor_c)).or(self.last);
        self.fired_s = Some(row.at_s);
        for piece in world.pieces() {
            self.record_tension(usize::from(step), piece.stress.tension_now_pa);
        }
        let (Some(sensor_c), Some(modelled)) = (row.measured.sensor_c, row.modelled) else {
            return;
        };
        self.ramps.row(step, row.at_s, row.measured.setpoint_c.unwrap_or(sensor_c));
        if sensor_c > self.hottest.0 {
            self.hottest = (sensor_c, row.at_s);
        }
        let (piece_c, pressure_pa) = (modelled.piece_c, modelled.pressure_pa);
        let sample = SoakSample { step, at_s: row.at_s, sensor_c, piece_c, pressure_pa };
        for soak in &mut self.soaks {
            soak.row(&sample);
        }
    }
}

/// The steps that changed the temperature, each with the maximum tension from its start to the start of
/// the next such step. `tensions_pa` has one entry for each step that began.
fn stresses(steps: impl Iterator<Item = Step>, tensions_pa: &[f64]) -> Vec<StepStress> {
    let mut stresses: Vec<StepStress> = Vec::new();
    for ((step, action), tension_pa) in
        (0u8..).zip(steps.map(|step| step.action)).zip(tensions_pa)
    {
        let cause = match action {
            Action::Ramp { .. } => StressCause::Ramp,
            Action::Cool { .. } => StressCause::Cooling,
            Action::MoveClosure { .. } => StressCause::Opening,
            Action::Soak { .. } | Action::Hold { .. } => {
                let last = stresses.last_mut();
                if let Some(last) = last.filter(|last| *tension_pa > last.tension_pa) {
                    last.tension_pa = *tension_pa;
                }
                continue;
            }
        };
        stresses.push(StepStress { step, tension_pa: *tension_pa, cause });
    }
    stresses
}
