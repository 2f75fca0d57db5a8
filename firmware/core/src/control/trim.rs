//! The trim: the `pid` crate's controller, wrapped.
//!
//! That controller has its sample time inside the gains, symmetric limits, an integral that
//! does not know the actuator is full, and no defence against a NaN. Here the sample time is an
//! argument, the integral stands still while the output is full in its direction (conditional
//! integration, K. J. Åström and T. Hägglund, "Advanced PID Control", ISA 2006, chapter 3),
//! gains may change in every step without a bump, and a number that is not finite changes
//! nothing and asks for no heat.

use pid::Pid;
use serde::Serialize;

/// Gains in units of time, per unit of error; the sample time is applied by [`Trim::step`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct TrimGains {
    /// Output per unit of error.
    pub proportional: f32,
    /// Output per unit of error and second.
    pub integral: f32,
    /// Output per unit of measurement and second.
    pub derivative: f32,
}

/// Memory of the trim.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize), serde(from = "TrimState"))]
pub struct Trim {
    #[serde(skip)]
    pid: Pid<f32>,
    remembered: TrimState,
}

/// What one step leaves to the next. The crate keeps its integral and the last measurement to
/// itself, so that they stand here as well.
#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
struct TrimState {
    sample_s: f32,
    /// Which way the output was full on the last step: +1, −1 or 0.
    full: i8,
    integral: f32,
    measurement: Option<f32>,
}

/// Largest part that the trim may add or take, in units of full output.
const TRIM_MAX: f32 = 1.0;

impl Trim {
    /// A trim at rest with this sample time (s).
    pub fn new(sample_s: f32) -> Self {
        let mut pid = Pid::new(0.0f32, TRIM_MAX);
        pid.p(0.0f32, TRIM_MAX).i(0.0f32, TRIM_MAX).d(0.0f32, TRIM_MAX);
        let remembered = TrimState { sample_s, full: 0, integral: 0.0, measurement: None };
        Self { pid, remembered }
    }

    /// One sample: the output, 0 to 1, that brings `measurement` to `setpoint`, where `feed` is
    /// what should do so if the model were right.
    pub fn step(
        &mut self,
        gains: &TrimGains,
        setpoint: f32,
        measurement: f32,
        feed: f32,
    ) -> f32 {
        let error = setpoint - measurement;
        if !(error.is_finite() && feed.is_finite()) {
            return 0.0;
        }
        let TrimState { sample_s, full, .. } = self.remembered;
        let winds_up = (full > 0 && error > 0.0) || (full < 0 && error < 0.0);
        self.pid.setpoint = setpoint;
        self.pid.kp = gains.proportional;
        self.pid.ki = if winds_up { 0.0 } else { gains.integral * sample_s };
        self.pid.kd = gains.derivative / sample_s;
        let trim = self.pid.next_control_output(measurement);
        let wanted = feed + trim.output;
        let full = if wanted >= 1.0 {
            1
        } else if wanted <= 0.0 {
            -1
        } else {
            0
        };
        self.remembered =
            TrimState { sample_s, full, integral: trim.i, measurement: Some(measurement) };
        // `clamp` keeps a NaN; gains are data, so this is where a bad one ends.
        if wanted.is_finite() { wanted.clamp(0.0, 1.0) } else { 0.0 }
    }
}

/// Rebuilds the crate's memory through its front door, exact to the bit.
#[cfg(feature = "desk")]
impl From<TrimState> for Trim {
    fn from(remembered: TrimState) -> Self {
        let TrimState { sample_s, integral, measurement, .. } = remembered;
        let mut trim = Self::new(sample_s);
        // One step with an error of one and the integral as its gain: 0 + 1 × integral.
        (trim.pid.setpoint, trim.pid.ki) = (1.0, integral);
        trim.pid.next_control_output(0.0);
        match measurement {
            // One without an error adds nothing and leaves its measurement.
            Some(measurement) => {
                (trim.pid.setpoint, trim.pid.ki) = (measurement, 0.0);
                trim.pid.next_control_output(measurement);
            }
            // No step yet: nothing is integrated either.
            None => trim = Self::new(sample_s),
        }
        Self { remembered, ..trim }
    }
}
