//! The temperature loop: feed-forward from the furnace's table plus a PID trim, limited by the heat
//! that the element may store.

use serde::Serialize;

use super::element::ElementEstimate;
use super::{Trim, TrimGains};
use crate::TICK_S;
use crate::demand::Setpoint;
use crate::furnace::{Coast, FeedForward, Furnace, Heater};

/// The temperature loop. The state of the trim exists only while there is a setpoint, so that every
/// heated stretch starts with a fresh integral.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct HeatControl {
    state: Option<LoopState>,
    element: ElementEstimate,
}

/// State of the loop while it follows a setpoint. All but the trim is renewed once a second, because
/// the table points lie hundreds of kelvin apart and the element is slow.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct LoopState {
    trim: Trim,
    renewed: Renewed,
}

/// What is renewed once a second.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct Renewed {
    /// Feed-forward values of the furnace's table at the setpoint.
    feed_forward: FeedForward,
    /// Gains of the furnace's table at the setpoint.
    gains: TrimGains,
    /// Maximum duty with which the stored heat does not carry the reading past the setpoint's rest.
    duty_max: f32,
    /// How the reading would go on if it followed the setpoint and the heater went off.
    coast: Coast,
}

/// Distance past the setpoint's rest for which the element may store heat (K). It keeps the last kelvin
/// from taking for ever, and leaves a soak the power to correct small errors.
const SLACK_K: f32 = 1.5;

/// Distance past the setpoint of a ramp, beyond its own coast, for which the element may store heat (K).
/// Without this bound a reading that lags behind, by a fault or a heavy load, would have the element store
/// heat for the whole rest of the ramp.
const AHEAD_K: f32 = 8.0;

/// Time in which the element is brought to the temperature that it may have (s).
const ELEMENT_SETTLING_S: f32 = 10.0;

/// Factor on the setpoint's own coast, so that it is slower than the furnace can be and the reading is
/// not left behind.
const SETPOINT_MARGIN: f32 = 1.3;

impl HeatControl {
    /// The duty for `setpoint`, 0 to 1; zero without a setpoint or a reading. `applied_duty` is the
    /// share of the rated power that was applied in the last tick.
    pub fn duty(
        &mut self,
        furnace: &Furnace,
        setpoint: Option<Setpoint>,
        reading_c: Option<f32>,
        applied_duty: f32,
    ) -> f32 {
        let due = self.element.update(&furnace.heater, reading_c, applied_duty);
        let (Some(setpoint), Some(reading)) = (setpoint, reading_c) else {
            if setpoint.is_none() {
                self.state = None;
            }
            return 0.0;
        };
        let element_c = self.element.celsius_or(reading);
        let renew = || Renewed::new(furnace, &setpoint, reading, element_c);
        let state = match &mut self.state {
            Some(state) => {
                if due {
                    state.renewed = renew();
                }
                state
            }
            none => none.insert(LoopState { trim: Trim::new(TICK_S), renewed: renew() }),
        };
        let Renewed { feed_forward: table, gains, duty_max, .. } = &state.renewed;
        let watt = table.hold_w + table.heat_capacity_j_per_k * setpoint.rate_k_per_s;
        let feed = watt / furnace.heater.rated_w;
        state.trim.step(gains, setpoint.celsius, reading, feed, *duty_max)
    }

    /// How the reading would go on if it followed the setpoint and the heater went off.
    pub fn coast(&self) -> Coast {
        self.state.as_ref().map(|state| state.renewed.coast).unwrap_or_default()
    }
}

impl Renewed {
    fn new(furnace: &Furnace, setpoint: &Setpoint, reading_c: f32, element_c: f32) -> Self {
        let feed_forward = furnace.heater.feed_forward_at(setpoint.celsius);
        let hold_w = feed_forward.hold_w;
        let coast = setpoint_coast(&furnace.heater, setpoint, &feed_forward);
        let ahead_c = setpoint.celsius + coast.rise_k(setpoint.rate_k_per_s) + AHEAD_K;
        let rise_k = setpoint.rest_c.min(ahead_c).max(setpoint.celsius) - reading_c + SLACK_K;
        Self {
            gains: gains(furnace, setpoint.celsius),
            duty_max: duty_max(&furnace.heater, hold_w, element_c, reading_c, rise_k),
            coast,
            feed_forward,
        }
    }
}

/// Maximum duty from which the reading rises by no more than `rise_k` if the heater goes off. Zero if it
/// cannot be calculated.
fn duty_max(heater: &Heater, hold_w: f32, element_c: f32, reading_c: f32, rise_k: f32) -> f32 {
    let stored = &heater.stored_heat;
    let coast = stored.coast(element_c, reading_c, stored.muffle_j_per_k, hold_w);
    // The hotter the furnace, the more the table and the mains may be off and the sooner the element
    // gives off an excess: a margin that grows with the share of the rated power.
    let hold_max_w = hold_w * (1.0 + hold_w / heater.rated_w);
    let allowed_w = hold_max_w + stored.muffle_j_per_k * coast.rate_limit(rise_k);
    let present_w = stored.radiated_w(element_c, reading_c);
    let missing_k = (allowed_w - present_w) / stored.radiated_w_per_k(element_c);
    let watt = allowed_w + stored.element_j_per_k * missing_k / ELEMENT_SETTLING_S;
    let duty = watt / heater.rated_w;
    if duty.is_finite() { duty.clamp(0.0, 1.0) } else { 0.0 }
}

/// How the reading goes on if it follows the setpoint and the heater goes off, with a margin. `need` is
/// the feed-forward at the setpoint.
pub fn setpoint_coast(heater: &Heater, setpoint: &Setpoint, need: &FeedForward) -> Coast {
    let stored = &heater.stored_heat;
    let chamber_j_per_k =
        (need.heat_capacity_j_per_k - stored.element_j_per_k).max(stored.muffle_j_per_k);
    let flow_w = need.hold_w + chamber_j_per_k * setpoint.rate_k_per_s;
    let element_c = stored.element_c(setpoint.celsius, flow_w);
    let coast = stored.coast(element_c, setpoint.celsius, chamber_j_per_k, need.hold_w);
    Coast { decay_s: coast.decay_s * SETPOINT_MARGIN, ..coast }
}

fn gains(furnace: &Furnace, celsius: f32) -> TrimGains {
    let gains = furnace.gains_at(celsius);
    TrimGains {
        proportional: gains.proportional,
        integral: gains.integral,
        derivative: gains.derivative,
    }
}
