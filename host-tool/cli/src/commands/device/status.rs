//! The status of a device in the units of people.

use saggar_core::controller::Bookmark;
use saggar_core::programme::Action;
use saggar_device::wire::DeviceStatus;
use serde::Serialize;

use super::phrases;
use saggar_client::{ChannelReading, Channels, FiringTracker, StepProgress, TimeLeft};
use saggar_files::hex;
use saggar_schedule::schedule::StageMap;

/// The status of a device.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StatusReport {
    /// The state in a phrase.
    pub state: String,
    /// Time since the device started (s).
    pub at_second: f64,
    /// First digits of its programme's digest.
    pub programme: Option<String>,
    /// The running step, from 1, while a firing runs.
    pub step: Option<u16>,
    /// What is known of that step besides.
    #[serde(flatten)]
    pub progress: Option<StepReport>,
    /// Where lift or door stands, by its contacts.
    pub chamber: Option<&'static str>,
    /// Setpoint of the control (°C).
    pub setpoint_celsius: Option<f64>,
    /// Reading of the control channel (°C), filtered.
    pub reading_celsius: Option<f64>,
    /// Why the control channel gives no reading.
    pub control_fault: Option<&'static str>,
    /// Reading of the limit channel (°C), unfiltered.
    pub limit_celsius: Option<f64>,
    /// The furnace may be colder: the limit channel cannot read less.
    pub limit_at_most: bool,
    /// Why the limit channel gives no reading.
    pub limit_fault: Option<&'static str>,
    /// Absolute pressure (hPa).
    pub pressure_hectopascal: Option<f64>,
    /// Share of the mains cycles of the last tick that conducted (%).
    pub duty_percent: f64,
    /// In this firing the heater has carried less current than expected, but enough to go on.
    pub heater_weak: bool,
    /// The firing waits for the operator.
    pub asks: bool,
    /// The firing that a power cut interrupted.
    pub interrupted: Option<InterruptedReport>,
    /// The latched cause.
    pub tripped: Option<&'static str>,
    /// What to do about it.
    pub advice: Option<&'static str>,
    /// How the last firing ended.
    pub ended: Option<String>,
    /// Frames that arrived broken at the device.
    pub noise: u32,
    /// A programme in flash was found damaged.
    pub damaged: bool,
}

impl StatusReport {
    /// The report of a status. `map` has the stages of the schedule that the programme is of.
    pub fn new(
        status: &DeviceStatus,
        channels: &Channels,
        firing: &FiringTracker,
        map: Option<&StageMap>,
    ) -> Self {
        let milli = |value: Option<i32>| value.map(|value| f64::from(value) / 1e3);
        let of_cycles = status.cycles_per_tick.max(1);
        let (control, limit) = (channels.control(status), channels.limit(status));
        let step = firing.step(status);
        let stop_ordered = firing.stop_was_ordered();
        let ended = status.ended.map(|ending| phrases::ending(ending, stop_ordered));
        Self {
            state: state(status, step.as_ref(), ended.as_deref(), map),
            at_second: status.at_ms as f64 / 1e3,
            programme: status.programme.map(|digits| hex(&digits)),
            step: status.step.map(|step| u16::from(step) + 1),
            progress: step.map(|step| StepReport::new(&step, status.operator_wanted, map)),
            chamber: channels.closure(status).map(|contacts| {
                match (contacts.shut, contacts.open) {
                    (true, false) => "shut",
                    (false, true) => "open",
                    (false, false) => "between shut and open",
                    (true, true) => "unclear: both contacts are closed",
                }
            }),
            setpoint_celsius: milli(status.setpoint_mc),
            reading_celsius: control.celsius(),
            control_fault: control.fault(),
            limit_celsius: limit.celsius(),
            limit_at_most: matches!(limit, ChannelReading::AtMost(_)),
            limit_fault: limit.fault(),
            pressure_hectopascal: status.pressure_pa.map(|pa| f64::from(pa) / 1e2),
            duty_percent: f64::from(status.cycles.min(of_cycles)) / f64::from(of_cycles) * 1e2,
            heater_weak: status.heater_weak,
            asks: status.operator_wanted,
            interrupted: status.interrupted.map(|cut| InterruptedReport::new(cut, map)),
            tripped: status.tripped.map(|cause| cause.name()),
            advice: status.tripped.map(|cause| cause.advice()),
            ended,
            noise: status.bad_frames,
            damaged: status.damaged,
        }
    }
}

/// A firing that a power cut interrupted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct InterruptedReport {
    /// The step, from 1.
    pub step: u16,
    /// The stage of the schedule that it belongs to.
    pub stage: Option<String>,
    /// Time gathered in it (s).
    pub gathered_second: u16,
    /// Last reading before the cut (°C).
    pub reading_celsius: i16,
    /// A press of start goes on with it.
    pub may_go_on: bool,
}

impl InterruptedReport {
    fn new(cut: Bookmark, map: Option<&StageMap>) -> Self {
        Self {
            step: u16::from(cut.step) + 1,
            stage: map.and_then(|map| map.origin(cut.step)).map(|stage| stage.phrase()),
            gathered_second: cut.gathered_s,
            reading_celsius: cut.reading_c,
            may_go_on: !cut.has(Bookmark::OVER),
        }
    }
}

/// The running step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StepReport {
    /// How many steps the programme has.
    pub step_count: Option<u8>,
    /// The stage of the schedule that it belongs to.
    pub stage: Option<String>,
    /// Time in the step (s).
    pub step_second: Option<u64>,
    /// Time left in it (s).
    pub step_left_second: Option<u64>,
    /// It may take longer: time counts only while the furnace is where it must be.
    pub step_left_at_least: bool,
    /// Time since the firing started (s).
    pub firing_second: Option<u64>,
    /// The question that the operator has to answer.
    pub question: Option<String>,
    /// The firing goes on without an answer, or ends; there while one is awaited.
    pub continue_on_timeout: Option<bool>,
}

impl StepReport {
    fn new(step: &StepProgress, asks: bool, map: Option<&StageMap>) -> Self {
        let (step_left_second, step_left_at_least) = match step.left {
            TimeLeft::Unknown => (None, false),
            TimeLeft::About(seconds) => (Some(seconds), false),
            TimeLeft::AtLeast(seconds) => (Some(seconds), true),
        };
        let continues = match step.action {
            Some(Action::Hold { continue_on_timeout, .. }) if asks => Some(continue_on_timeout),
            Some(_) | None => None,
        };
        let stage = map.and_then(|map| map.origin(step.index));
        Self {
            step_count: step.count,
            stage: stage.map(|stage| stage.phrase()),
            step_second: step.elapsed_s,
            step_left_second,
            step_left_at_least,
            firing_second: step.firing_s,
            question: phrases::question(step.index, map).filter(|_| asks),
            continue_on_timeout: continues,
        }
    }
}

/// A firing that a power cut interrupted, and what to do.
pub fn interrupted_phrase(cut: &Bookmark, map: Option<&StageMap>) -> String {
    let step = phrases::step_phrase(cut.step, None, map);
    let keys = if cut.has(Bookmark::OVER) {
        "its schedule ends it there: at the device, stop or confirm clears it"
    } else {
        "at the device, start goes on and stop discards it"
    };
    format!("interrupted by a power cut in {step}, at {} °C; {keys}", cut.reading_c)
}

/// The state of a furnace, in a phrase.
fn state(
    status: &DeviceStatus,
    step: Option<&StepProgress>,
    ended: Option<&str>,
    map: Option<&StageMap>,
) -> String {
    if let (None, Some(cut)) = (status.tripped, status.interrupted) {
        return interrupted_phrase(&cut, map);
    }
    match (status.tripped, step, ended) {
        (Some(cause), _, _) => format!("tripped: {}", cause.name()),
        (None, Some(step), _) => {
            let step = phrases::step_phrase(step.index, step.count, map);
            let asks = if status.operator_wanted { ", waits for an answer" } else { "" };
            format!("firing, {step}{asks}")
        }
        (None, None, Some(ended)) => format!("ended: {ended}"),
        (None, None, None) => "idle".to_owned(),
    }
}
