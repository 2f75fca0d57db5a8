//! When the ramps of a programme arrive: the core's own setpoint, stepped along the programme.

use saggar_core::TICK_MS;
use saggar_core::control::setpoint_coast;
use saggar_core::furnace::Heater;
use saggar_core::programme::{Action, ProgrammeImage, SetpointOrigin, Timeline};
use saggar_core::sequencer::{Ramp, Setpoint};
use saggar_verdict::LateRamp;

/// Ticks between two renewals of the coast, as in the core's control: 1 s.
const RENEWAL_TICKS: u64 = 10;

/// The ramps that arrive clearly later than their rate says, because the heat stored in the element would
/// carry the reading past their end. They start as in [`Timeline`]; a ramp after an opening, whose start
/// is unknown, is left out. The furnace is taken to follow its setpoint.
pub fn late_ramps(image: &ProgrammeImage, heater: &Heater) -> Vec<LateRamp> {
    let mut timeline = Timeline::new();
    let mut late = Vec::new();
    let mut steps = (0u8..).zip(image.steps().map(|step| step.action)).peekable();
    while let Some((step, action)) = steps.next() {
        let (from_mc, origin) = (timeline.setpoint_mc(), timeline.origin());
        let at_rate_ms = timeline.advance(&action);
        let Action::Ramp { to_mc, rate_mk_per_min } = action else { continue };
        if origin == SetpointOrigin::Moved || to_mc <= from_mc {
            continue;
        }
        let next_mc = steps.peek().and_then(|(_, next)| next.setpoint_mc());
        let ramp = Ramp::new(to_mc, rate_mk_per_min, next_mc);
        let ticks = ticks_of(&ramp, Setpoint::steady(from_mc as f32 / 1e3), heater);
        let ramp = LateRamp {
            step,
            to_c: f64::from(to_mc) / 1e3,
            at_rate_s: at_rate_ms as f64 / 1e3,
            takes_s: (ticks * u64::from(TICK_MS)) as f64 / 1e3,
        };
        late.extend(ramp.is_clearly_late().then_some(ramp));
    }
    late
}

/// Ticks until the setpoint is at the end of a ramp. It moves in every tick, so it gets there.
fn ticks_of(ramp: &Ramp, from: Setpoint, heater: &Heater) -> u64 {
    let mut setpoint = from;
    setpoint.rest_c = ramp.rest_c;
    let mut coast = setpoint_coast(heater, &setpoint, &heater.feed_forward_at(from.celsius));
    let mut ticks = 0;
    while !setpoint.is_steady_at(ramp.to_c) {
        setpoint = setpoint.step_along(ramp, &coast, setpoint.celsius, false);
        ticks += 1;
        if ticks % RENEWAL_TICKS == 0 {
            let need = heater.feed_forward_at(setpoint.celsius);
            coast = setpoint_coast(heater, &setpoint, &need);
        }
    }
    ticks
}
