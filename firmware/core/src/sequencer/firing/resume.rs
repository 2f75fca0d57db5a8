//! Going on with a firing that a power cut interrupted.

use super::return_ramp::ReturnRamp;
use super::{ActiveFiring, StepStatus, next_target_mc};
use crate::demand::Setpoint;
use crate::programme::{Action, ProgrammeImage, Timeline};
use crate::sequencer::interface::{ResumePoint, SequencerInputs};
use crate::sequencer::pump_down::PumpDown;
use crate::units::Celsius;

impl ActiveFiring {
    /// Goes on in the step that a power cut interrupted; `None` if there is no such step.
    pub(crate) fn resume(
        programme: &ProgrammeImage,
        inputs: &SequencerInputs,
        open: bool,
        point: ResumePoint,
    ) -> Option<Self> {
        let mut firing = Self::begin(programme, inputs, open)?;
        let mut timeline = Timeline::new();
        let mut rate_mk_per_min = 0;
        let mut passed_ms = 0u64;
        while firing.index < point.step {
            if let Action::Ramp { rate_mk_per_min: rate, .. } = firing.step.action {
                rate_mk_per_min = rate;
            }
            passed_ms = passed_ms.saturating_add(timeline.advance(&firing.step.action));
            (firing.step, firing.next_offset) = programme.step_at(firing.next_offset)?;
            firing.index = firing.index.saturating_add(1);
        }
        firing.next_target_mc = next_target_mc(programme, firing.next_offset);
        // A ramp goes on from the reading, also down. The first one begins as in any firing.
        if firing.step.action.setpoint_mc().is_some() && timeline.held_setpoint_mc().is_some() {
            firing.setpoint = inputs.reading_c.map(Setpoint::steady);
        }
        firing.counted_ms = u32::from(point.gathered_s).saturating_mul(1000);
        // The bookmark does not say when the firing began: the steps before took at least this long.
        let passed_ms = passed_ms.saturating_add(u64::from(firing.counted_ms));
        firing.passed_ms = u32::try_from(passed_ms).unwrap_or(u32::MAX);
        firing.shutting = firing.step.action.heats() && !inputs.shut;
        firing.pump_down = PumpDown::after_cut(point.vacuum_drawn);
        if matches!(firing.step.action, Action::Cool { .. }) {
            timeline.advance(&firing.step.action);
        }
        firing.returning = timeline
            .held_setpoint_mc()
            .map(|to_mc| ReturnRamp { to_mc, rate_mk_per_min })
            .filter(|_| firing.step.action.setpoint_mc().is_none());
        firing.skip_return_inside_band(inputs);
        firing.seal_step();
        Some(firing)
    }

    /// A short cut leaves the reading inside the band of a soak: then its time goes on at once.
    fn skip_return_inside_band(&mut self, inputs: &SequencerInputs) {
        let (Action::Soak { band_mk, .. }, Some(back)) = (self.step.action, self.returning)
        else {
            return;
        };
        let target_c = Celsius::from_milli(back.to_mc).get();
        let band = band_mk as f32 * 0.001;
        if inputs.reading_c.is_some_and(|reading| (reading - target_c).abs() <= band) {
            self.setpoint = Some(Setpoint::steady(target_c));
            self.returning = None;
        }
    }

    /// Moves the setpoint from the reading back to that of the interrupted soak or hold, whose time and
    /// patience stand still meanwhile. False if the step runs.
    pub(super) fn return_to_setpoint(&mut self, inputs: &SequencerInputs) -> bool {
        let Some(back) = self.returning else { return false };
        match self.step.action {
            Action::Soak { .. } | Action::Hold { .. } => {
                self.keep_setpoint(inputs);
                // It comes to rest there, whatever the next step asks for.
                let next_target_mc = self.next_target_mc.take();
                let status = self.ramp(back.to_mc, back.rate_mk_per_min, inputs);
                self.next_target_mc = next_target_mc;
                if matches!(status, StepStatus::Done) {
                    self.returning = None;
                    self.step_started = inputs.now;
                }
                true
            }
            // A soak may follow, which then needs the way back.
            Action::Cool { .. } => false,
            Action::Ramp { .. } | Action::MoveClosure { .. } => {
                self.returning = None;
                false
            }
        }
    }
}
