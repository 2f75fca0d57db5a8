//! The watch on the limit channel against everything that was asked for so far in this firing. A control
//! sensor that reads too little has the control heat the chamber above its setpoint; the limit channel shows
//! it, once what it sees of the element is taken off. Checked once a second.
//!
//! The figures of what occurs are of 288 healthy firings of the campaigns' schedules on the simulated furnaces,
//! with views of the element up to 30 % off. The bounds hold for views up to 20 % off: a wider one may trip.

use serde::Serialize;

use super::counters::ConsecutiveCount;
use super::inputs::InterlockInputs;
use super::view::View;
use crate::estimate::ChannelEstimate;
use crate::furnace::Furnace;

/// Checks in a row that must find the limit channel too high: 3 s. A control sensor that has slipped out
/// drives the heater at full power all that time.
const CHECKS: u16 = 3;

/// A furnace is calm at this reading or above (°C), or after so many checks with a steady setpoint.
const HOT_FROM_C: f32 = 500.0;
const STEADY_CHECKS: u16 = 300;

/// How far the limit channel may be above what was asked and what is explained (K): in a calm furnace, where
/// at most 6 K occur; while the flow of heat is even, at most 11 K; and otherwise, at most 19 K.
const CALM_MAX_K: f32 = 12.0;
const EVEN_MAX_K: f32 = 14.0;
const UNEVEN_MAX_K: f32 = 23.0;

/// How far it may be above the control channel and what is explained (K), where at most 22 K occur; and
/// after the chamber was open, while both sensors warm up, each at its own pace.
const DIFFERENCE_MAX_K: f32 = 30.0;
const DIFFERENCE_RECOVERING_MAX_K: f32 = 45.0;

/// Multiples of the table's difference by which the muffle is colder than the control sensor, which sees
/// the element, too: 1.3 on the simulated furnaces, and less while the sensors lag behind.
const MUFFLE_SHARE: f32 = 0.8;
const MUFFLE_EVEN_SHARE: f32 = 0.5;

/// The flow is even above this share of its mean over [`MEAN_S`] seconds: the sensors lag behind a flow that
/// has just become smaller.
const EVEN_SHARE: f32 = 0.85;
const MEAN_S: f32 = 100.0;

/// Time by which a limit channel that rises faster than the setpoint is extrapolated (s): it lags behind the
/// muffle, and the heat in the element flows on; for less time in a calm furnace, and after the chamber was
/// open. A ramp that becomes steeper has a healthy furnace up to 28 K above, extrapolated, so that this much
/// more is allowed where it is not calm (K).
const LEAD_S: f32 = 40.0;
const CALM_LEAD_S: f32 = 20.0;
const RECOVERING_LEAD_S: f32 = 20.0;
const LEAD_MAX_K: f32 = 13.0;

/// A control channel that is farther above what was asked for than this, or soon will be, is right (K): the
/// other watches judge it.
const DENIED_K: f32 = 10.0;

/// Least power that explains a difference (W).
const HOLD_MIN_W: f32 = 1.0;

/// 0 °C (K).
const KELVIN: f32 = 273.15;

/// What a check judges.
#[derive(Clone, Copy, Debug)]
pub(super) struct AskedCheck<'a> {
    pub(super) control: &'a ChannelEstimate,
    pub(super) limit: &'a ChannelEstimate,
    /// What the muffle is at least (°C), and the flow of heat from the element to it (W).
    pub(super) around_c: f32,
    pub(super) flow_w: f32,
    /// Checks with a steady setpoint, and whether the chamber was open just before.
    pub(super) steady: u16,
    pub(super) recovering: bool,
}

/// State of the watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct AskedWatch {
    /// Highest setpoint of this firing so far, or the reading at its beginning (°C).
    asked_c: Option<f32>,
    view: View,
    /// Mean of the difference that the table explains (K).
    mean_k: f32,
    above: ConsecutiveCount,
}

impl AskedWatch {
    /// What the muffle is at least (°C): the reading, or what was asked for so far if the limit channel
    /// does not deny it. A control channel that reads too little would make the element seem to give more
    /// heat.
    pub(super) fn muffle_at_least_c(&self, control_c: f32, limit: &ChannelEstimate) -> f32 {
        match self.asked_c {
            Some(asked_c) if !limit.is_upper_bound => {
                control_c.max(asked_c.min(limit.celsius.get()))
            }
            Some(_) | None => control_c,
        }
    }

    /// Starts the count again: another watch judges what is wrong.
    pub(super) const fn clear(&mut self) {
        self.above.clear();
    }

    /// True once the limit channel has been too high for long enough.
    pub(super) const fn is_exceeded(&self) -> bool {
        self.above.has_held_for(CHECKS)
    }

    /// One check.
    pub(super) fn update(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        check: &AskedCheck<'_>,
    ) {
        let before_c = self.asked_c.filter(|_| inputs.demand.firing);
        let control_c = check.control.celsius.get();
        let Some(setpoint) = inputs.demand.setpoint else {
            self.asked_c = before_c;
            self.above.clear();
            return;
        };
        let asked_c = before_c.unwrap_or(control_c).max(setpoint.celsius);
        self.asked_c = Some(asked_c);
        if check.limit.is_upper_bound {
            return;
        }
        let limit_c = check.limit.celsius.get();
        let table_k = explained_k(furnace, check.around_c, check.flow_w).max(0.0);
        let seen_k = self.view.step(table_k, limit_c - control_c);
        self.mean_k += (table_k - self.mean_k) / MEAN_S;
        let calm = control_c >= HOT_FROM_C || check.steady >= STEADY_CHECKS;
        let even = table_k >= EVEN_SHARE * self.mean_k && self.mean_k > 0.0;
        let (lead_s, difference_max_k) = match (check.recovering, calm) {
            (true, _) => (RECOVERING_LEAD_S, DIFFERENCE_RECOVERING_MAX_K),
            (false, true) => (CALM_LEAD_S, DIFFERENCE_MAX_K),
            (false, false) => (LEAD_S, DIFFERENCE_MAX_K),
        };
        let lead_k = |channel: &ChannelEstimate| {
            lead_s * (channel.rate_k_per_s - setpoint.rate_k_per_s.max(0.0)).max(0.0)
        };
        let (muffle_c, limit_lead_k) = (limit_c - seen_k, lead_k(check.limit));
        let above_k = muffle_c - asked_c;
        // Written so that a NaN counts as above.
        let is_below = if calm {
            above_k + limit_lead_k - MUFFLE_SHARE * table_k <= CALM_MAX_K
        } else {
            let lead_k = (limit_lead_k - LEAD_MAX_K).max(0.0);
            above_k + lead_k - MUFFLE_SHARE * table_k <= UNEVEN_MAX_K
        };
        let is_even_below = !even || above_k - MUFFLE_EVEN_SHARE * table_k <= EVEN_MAX_K;
        let is_near = muffle_c - control_c <= difference_max_k;
        let denied = control_c + lead_k(check.control) < asked_c + DENIED_K;
        self.above.update(denied && !(is_below && is_even_below && is_near));
    }
}

/// How far the limit channel is above the control channel by this flow of heat from the element (K). The
/// table says how far at the power that holds a temperature. Below its first temperature that needs power, a
/// tip in a cooler muffle is farther above it by the same flow: by the cube of the temperatures' ratio if
/// it gave off its heat by radiation alone, by less as the gas takes a part of it (the square fits the
/// simulated furnaces).
pub(super) fn explained_k(furnace: &Furnace, celsius: f32, flow_w: f32) -> f32 {
    let heater = &furnace.heater;
    let first = heater.feed_forward.iter().find(|point| point.hold_w >= HOLD_MIN_W);
    match first.filter(|first| celsius < first.at.get()) {
        Some(first) => {
            let ratio = (first.at.get() + KELVIN) / (celsius.max(0.0) + KELVIN);
            first.limit_above_control_k * (flow_w / first.hold_w) * ratio * ratio
        }
        None => {
            let point = heater.feed_forward_at(celsius);
            point.limit_above_control_k * (flow_w / point.hold_w.max(HOLD_MIN_W))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demand::{Demand, Setpoint};
    use crate::estimate::Estimate;
    use crate::furnace::FeedForward;
    use crate::interlock::tests::{at, furnace};
    use crate::io::{Inputs, Outputs};
    use crate::sensors::SensorFault;

    /// Heat flow that the table explains with 10 K.
    const FLOW_W: f32 = 100.0;
    const TABLE_K: f32 = 10.0;

    /// What a new watch takes off for an explained difference (K). A NaN teaches it nothing.
    fn seen_k(table_k: f32) -> f32 {
        View::default().step(table_k, f32::NAN)
    }

    /// A second of a firing at 300 °C: at its setpoint, at rest, without heat.
    #[derive(Clone, Copy)]
    struct Now {
        setpoint_c: f32,
        setpoint_k_per_s: f32,
        control_c: f32,
        control_k_per_s: f32,
        limit_c: f32,
        limit_k_per_s: f32,
        flow_w: f32,
        steady: u16,
        recovering: bool,
    }

    const REST: Now = Now {
        setpoint_c: 300.0,
        setpoint_k_per_s: 0.0,
        control_c: 300.0,
        control_k_per_s: 0.0,
        limit_c: 300.0,
        limit_k_per_s: 0.0,
        flow_w: 0.0,
        steady: 0,
        recovering: false,
    };

    /// A furnace that needs 100 W at any temperature, with 10 K between its channels.
    fn table(from_c: f32) -> Furnace {
        let point = |celsius| FeedForward {
            at: at(celsius),
            hold_w: FLOW_W,
            heat_capacity_j_per_k: 600.0,
            limit_above_control_k: TABLE_K,
        };
        let mut furnace = furnace();
        furnace.heater.feed_forward = [point(from_c), point(1200.0)].into_iter().collect();
        furnace
    }

    fn limit(now: &Now, is_upper_bound: bool) -> ChannelEstimate {
        let celsius = at(now.limit_c);
        ChannelEstimate {
            celsius,
            rate_k_per_s: now.limit_k_per_s,
            worst_case: celsius,
            is_upper_bound,
        }
    }

    fn second(watch: &mut AskedWatch, now: &Now, demand: Demand, is_upper_bound: bool) {
        let silent =
            Estimate { control: Err(SensorFault::Open), limit: Err(SensorFault::Open) };
        let inputs = InterlockInputs {
            raw: &Inputs::default(),
            estimate: &silent,
            demand: &demand,
            applied: &Outputs::default(),
            setpoint_max_c: 1100.0,
            commanded_duty: 0.0,
            shut: true,
            shut_too_early: false,
            vacuum_lost: false,
            on_time: true,
            programme_intact: true,
            furnace_intact: true,
        };
        let celsius = at(now.control_c);
        let control = ChannelEstimate {
            celsius,
            rate_k_per_s: now.control_k_per_s,
            worst_case: celsius,
            is_upper_bound: false,
        };
        let check = AskedCheck {
            control: &control,
            limit: &limit(now, is_upper_bound),
            around_c: now.control_c,
            flow_w: now.flow_w,
            steady: now.steady,
            recovering: now.recovering,
        };
        watch.update(&table(20.0), &inputs, &check);
    }

    fn demand(now: &Now) -> Demand {
        let setpoint =
            Setpoint { rate_k_per_s: now.setpoint_k_per_s, ..Setpoint::steady(now.setpoint_c) };
        Demand { firing: true, setpoint: Some(setpoint), ..Demand::default() }
    }

    /// Whether so many seconds like this one in a row trip.
    fn trips_after(watch: &mut AskedWatch, now: &Now, seconds: u16) -> bool {
        for _ in 0..seconds {
            second(watch, now, demand(now), false);
        }
        watch.is_exceeded()
    }

    /// The limit channel may read so much at most, and half a kelvin more trips.
    #[track_caller]
    fn bound(before: &AskedWatch, now: Now, most_c: f32) {
        for (limit_c, trips) in [(most_c - 0.5, false), (most_c + 0.5, true)] {
            let now = Now { limit_c, ..now };
            assert_eq!(trips_after(&mut before.clone(), &now, CHECKS), trips, "{limit_c} °C");
        }
    }

    #[test]
    fn without_heat_the_limit_channel_is_what_the_muffle_is() {
        let new = AskedWatch::default();
        bound(&new, REST, 300.0 + UNEVEN_MAX_K);
        // Hot, or steady for long enough, much less is allowed.
        bound(&new, Now { steady: STEADY_CHECKS, ..REST }, 300.0 + CALM_MAX_K);
        bound(&new, Now { steady: STEADY_CHECKS - 1, ..REST }, 300.0 + UNEVEN_MAX_K);
        let hot = Now { setpoint_c: HOT_FROM_C, control_c: HOT_FROM_C, ..REST };
        bound(&new, hot, HOT_FROM_C + CALM_MAX_K);
        let cooler = Now { control_c: HOT_FROM_C - 0.1, ..hot };
        bound(&new, cooler, HOT_FROM_C + UNEVEN_MAX_K);
    }

    #[test]
    fn a_limit_channel_that_rises_is_extrapolated() {
        let new = AskedWatch::default();
        let rising = |limit_k_per_s| Now { limit_k_per_s, ..REST };
        bound(&new, rising(0.5), 300.0 + UNEVEN_MAX_K + LEAD_MAX_K - 0.5 * LEAD_S);
        // Little of it is free, and a fall allows no more.
        bound(&new, rising(0.3), 300.0 + UNEVEN_MAX_K);
        bound(&new, rising(-2.0), 300.0 + UNEVEN_MAX_K);
        // What the setpoint asks for does not count; what it falls by gives nothing.
        let with_it = Now { setpoint_k_per_s: 0.4, ..rising(0.9) };
        bound(&new, with_it, 300.0 + UNEVEN_MAX_K + LEAD_MAX_K - 0.5 * LEAD_S);
        let falling = Now { setpoint_k_per_s: -0.4, ..rising(0.5) };
        bound(&new, falling, 300.0 + UNEVEN_MAX_K + LEAD_MAX_K - 0.5 * LEAD_S);
        let calm = Now { steady: STEADY_CHECKS, ..rising(0.2) };
        bound(&new, calm, 300.0 + CALM_MAX_K - 0.2 * CALM_LEAD_S);
        let opened = Now { recovering: true, ..rising(1.0) };
        bound(&new, opened, 300.0 + UNEVEN_MAX_K + LEAD_MAX_K - RECOVERING_LEAD_S);
        let calm = Now { recovering: true, ..calm };
        bound(&new, calm, 300.0 + CALM_MAX_K - 0.2 * RECOVERING_LEAD_S);
    }

    #[test]
    fn what_the_element_explains_is_taken_off() {
        let new = AskedWatch::default();
        let heated = Now { flow_w: FLOW_W, ..REST };
        // An even flow, as a new one is.
        let even_c = 300.0 + seen_k(TABLE_K) + MUFFLE_EVEN_SHARE * TABLE_K + EVEN_MAX_K;
        bound(&new, heated, even_c);
        // A flow that was three times as large a moment ago, and one that was little larger.
        let after = |flow_w| {
            let mut watch = AskedWatch::default();
            let seen = seen_k(TABLE_K * flow_w / FLOW_W);
            let now = Now { flow_w, limit_c: 300.0 + seen, ..REST };
            assert!(!trips_after(&mut watch, &now, 500));
            watch
        };
        let near = Now { control_c: 308.0, ..heated };
        let uneven_c = 300.0 + seen_k(TABLE_K) + MUFFLE_SHARE * TABLE_K + UNEVEN_MAX_K;
        bound(&after(3.0 * FLOW_W), near, uneven_c);
        let calm = Now { steady: STEADY_CHECKS, ..heated };
        let calm_c = 300.0 + seen_k(TABLE_K) + MUFFLE_SHARE * TABLE_K + CALM_MAX_K;
        bound(&after(3.0 * FLOW_W), calm, calm_c);
        bound(&after(1.1 * FLOW_W), near, even_c);
        bound(&after(1.25 * FLOW_W), near, uneven_c);
    }

    #[test]
    fn a_limit_channel_that_sees_less_of_the_element_is_learned() {
        let mut watch = AskedWatch::default();
        let half = Now { flow_w: FLOW_W, limit_c: 300.0 + 0.5 * TABLE_K, ..REST };
        assert!(!trips_after(&mut watch, &half, 4_000));
        let even_c = 300.0 + (0.5 + MUFFLE_EVEN_SHARE) * TABLE_K + EVEN_MAX_K;
        bound(&watch, half, even_c);
    }

    #[test]
    fn it_may_not_leave_the_control_channel_behind() {
        let new = AskedWatch::default();
        let lagging = Now { control_c: 280.0, ..REST };
        bound(&new, lagging, 280.0 + DIFFERENCE_MAX_K);
        let lagging = Now { control_c: 260.0, ..REST };
        bound(&new, lagging, 260.0 + DIFFERENCE_MAX_K);
        let opened = Now { control_c: 260.0, recovering: true, ..REST };
        bound(&new, opened, 260.0 + DIFFERENCE_RECOVERING_MAX_K);
    }

    /// A control channel that is above what was asked for is right, and others judge it.
    #[test]
    fn only_a_control_channel_that_denies_it_is_wrong() {
        let trips = |control_c, control_k_per_s| {
            let mut watch = AskedWatch::default();
            assert!(!trips_after(&mut watch, &REST, 1));
            let now = Now { control_c, control_k_per_s, limit_c: 330.0, ..REST };
            trips_after(&mut watch, &now, CHECKS)
        };
        assert!(trips(300.0 + DENIED_K - 0.1, 0.0));
        assert!(!trips(300.0 + DENIED_K, 0.0));
        assert!(trips(300.0, 0.9 * DENIED_K / LEAD_S));
        assert!(!trips(300.0, 1.1 * DENIED_K / LEAD_S));
        assert!(trips(305.0, -1.0));
    }

    #[test]
    fn the_highest_that_was_asked_for_in_this_firing_counts() {
        let mut watch = AskedWatch::default();
        assert!(!trips_after(
            &mut watch,
            &Now { setpoint_c: 400.0, limit_c: 390.0, ..REST },
            1
        ));
        let back = Now { control_c: 395.0, ..REST };
        bound(&watch, back, 400.0 + UNEVEN_MAX_K);
        // A pause of the same firing forgets nothing, and the next firing begins anew.
        let paused = |firing| Demand { firing, ..Demand::default() };
        second(&mut watch, &back, paused(true), false);
        bound(&watch, back, 400.0 + UNEVEN_MAX_K);
        second(&mut watch, &back, paused(false), false);
        bound(&watch, REST, 300.0 + UNEVEN_MAX_K);
        // It begins with the reading, if that is higher.
        bound(&watch, Now { setpoint_c: 200.0, ..REST }, 300.0 + UNEVEN_MAX_K);
    }

    #[test]
    fn it_takes_three_checks_in_a_row() {
        let high = Now { limit_c: 340.0, ..REST };
        let mut watch = AskedWatch::default();
        assert!(!trips_after(&mut watch, &high, CHECKS - 1));
        assert!(trips_after(&mut watch.clone(), &high, 1));
        let interrupted = |by: &dyn Fn(&mut AskedWatch)| {
            let mut watch = watch.clone();
            by(&mut watch);
            trips_after(&mut watch, &high, 1)
        };
        assert!(!interrupted(&|watch| watch.clear()));
        assert!(!interrupted(&|watch| second(watch, &REST, demand(&REST), false)));
        let still = Demand { firing: true, ..Demand::default() };
        assert!(!interrupted(&|watch| second(watch, &high, still, false)));
        // A limit channel below its range says nothing.
        assert!(interrupted(&|watch| second(watch, &REST, demand(&REST), true)));
        assert!(!interrupted(&|watch| {
            second(watch, &high, demand(&high), true);
            watch.clear();
        }));
    }

    #[test]
    fn what_is_no_number_explains_nothing() {
        bound(&AskedWatch::default(), Now { flow_w: f32::NAN, ..REST }, 300.0 + UNEVEN_MAX_K);
        let now = Now { limit_k_per_s: f32::INFINITY, ..REST };
        assert!(trips_after(&mut AskedWatch::default(), &now, CHECKS));
    }

    #[test]
    fn the_muffle_is_at_least_what_was_asked_for_unless_it_is_denied() {
        let mut watch = AskedWatch::default();
        let least = |watch: &AskedWatch, control_c, limit_c, is_upper_bound| {
            watch.muffle_at_least_c(control_c, &limit(&Now { limit_c, ..REST }, is_upper_bound))
        };
        assert_eq!(least(&watch, 250.0, 280.0, false).to_bits(), 250f32.to_bits());
        assert!(!trips_after(&mut watch, &REST, 1));
        for (control_c, limit_c, is_upper_bound, expected) in [
            (250.0, 280.0, false, 280.0f32),
            (250.0, 320.0, false, 300.0),
            (350.0, 320.0, false, 350.0),
            (250.0, 280.0, true, 250.0),
        ] {
            let found = least(&watch, control_c, limit_c, is_upper_bound);
            assert_eq!(found.to_bits(), expected.to_bits(), "{found} °C");
        }
    }

    /// Below the first temperature of the table that needs power, by the square of the temperatures' ratio.
    #[test]
    fn the_table_explains_a_difference_by_the_flow() {
        let furnace = table(500.0);
        for (celsius, flow_w, expected_k) in [
            (500.0, 50.0, 5.0),
            (900.0, 200.0, 20.0),
            (300.0, 50.0, 5.0 * (773.15f32 / 573.15).powi(2)),
            (-5.0, 50.0, 5.0 * (773.15f32 / 273.15).powi(2)),
        ] {
            let found = explained_k(&furnace, celsius, flow_w);
            assert!((found - expected_k).abs() < 0.01, "{celsius} °C: {found} K");
        }
        // A point that needs no power explains nothing; one of a watt does: 10 K by 25 W at 300 °C.
        let mut furnace = table(20.0);
        furnace.heater.feed_forward[0].hold_w = 0.5;
        let found = explained_k(&furnace, 300.0, 50.0);
        let expected_k = 5.0 * (1473.15f32 / 573.15).powi(2);
        assert!((found - expected_k).abs() < 0.01, "{found} K");
        furnace.heater.feed_forward[0].hold_w = 1.0;
        let hold_w = furnace.heater.feed_forward_at(300.0).hold_w;
        let found = explained_k(&furnace, 300.0, hold_w);
        assert!((found - TABLE_K).abs() < 0.01, "{found} K");
    }
}
