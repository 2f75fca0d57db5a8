//! The PID trim, a wrapper around the `pid` crate.
//!
//! The crate's controller folds the sample time into the gains, does not know when the actuator is
//! saturated and does not handle NaN. The wrapper takes the sample time as an argument, stops the
//! integral while the output is saturated in its direction (conditional integration, K. J. Åström
//! and T. Hägglund, "Advanced PID Control", ISA 2006, chapter 3), allows bumpless gain changes, and
//! ignores a sample that is not finite, with zero output.

use pid::Pid;
use serde::Serialize;

/// Gains in continuous time; [`Trim::step`] applies the sample time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct TrimGains {
    /// Output per unit of error.
    pub proportional: f32,
    /// Output per unit of error and second.
    pub integral: f32,
    /// Output per unit of measurement and second.
    pub derivative: f32,
}

/// The PID trim.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize), serde(from = "TrimState"))]
pub struct Trim {
    #[serde(skip)]
    pid: Pid<f32>,
    state: TrimState,
}

/// The state for a snapshot. The crate's own fields are private, so its integral and its last
/// measurement are kept here as well.
#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct TrimState {
    sample_s: f32,
    /// Saturation of the output in the last step: +1 at the maximum, −1 at zero, 0 in between.
    saturation: i8,
    integral: f32,
    measurement: Option<f32>,
}

/// Limit of the trim in either direction, as a fraction of full output.
const TRIM_MAX: f32 = 1.0;

impl Trim {
    /// A trim in its initial state with this sample time (s).
    pub fn new(sample_s: f32) -> Self {
        let mut pid = Pid::new(0.0f32, TRIM_MAX);
        pid.p(0.0f32, TRIM_MAX).i(0.0f32, TRIM_MAX).d(0.0f32, TRIM_MAX);
        let state = TrimState { sample_s, saturation: 0, integral: 0.0, measurement: None };
        Self { pid, state }
    }

    /// Processes one sample and returns the output, 0 to `max`: the feed-forward `feed` plus the trim.
    /// `max` is at most 1. The feed-forward counts as 0 to 1 only. The trim reaches from −1 to 1, so
    /// whatever a wrong table gives, the trim can still switch the heater off or drive it fully.
    pub fn step(
        &mut self,
        gains: &TrimGains,
        setpoint: f32,
        measurement: f32,
        feed: f32,
        max: f32,
    ) -> f32 {
        let error = setpoint - measurement;
        if !(error.is_finite() && feed.is_finite() && max >= 0.0) {
            return 0.0;
        }
        let TrimState { sample_s, saturation, .. } = self.state;
        let winds_up = (saturation > 0 && error > 0.0) || (saturation < 0 && error < 0.0);
        self.pid.setpoint = setpoint;
        self.pid.kp = gains.proportional;
        self.pid.ki = if winds_up { 0.0 } else { gains.integral * sample_s };
        self.pid.kd = gains.derivative / sample_s;
        let trim = self.pid.next_control_output(measurement);
        let wanted = feed.clamp(0.0, 1.0) + trim.output;
        let saturation = if wanted >= max {
            1
        } else if wanted <= 0.0 {
            -1
        } else {
            0
        };
        self.state = TrimState {
            sample_s,
            saturation,
            integral: trim.i,
            measurement: Some(measurement),
        };
        // `clamp` passes a NaN on, and a bad gain could produce one.
        if wanted.is_finite() { wanted.clamp(0.0, max) } else { 0.0 }
    }
}

/// Restores the crate's private state, exact to the bit, through its public interface.
#[cfg(feature = "restore")]
impl From<TrimState> for Trim {
    fn from(state: TrimState) -> Self {
        let TrimState { sample_s, integral, measurement, .. } = state;
        let mut trim = Self::new(sample_s);
        // A step with an error of one and the integral as gain sets the integral: 0 + 1 × integral.
        (trim.pid.setpoint, trim.pid.ki) = (1.0, integral);
        trim.pid.next_control_output(0.0);
        match measurement {
            // A step without an error keeps the integral and sets the last measurement.
            Some(measurement) => {
                (trim.pid.setpoint, trim.pid.ki) = (measurement, 0.0);
                trim.pid.next_control_output(measurement);
            }
            // No step was made before the snapshot, so the integral is zero as well.
            None => trim = Self::new(sample_s),
        }
        Self { state, ..trim }
    }
}
