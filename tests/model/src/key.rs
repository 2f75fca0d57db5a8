//! The abstraction: which states of the core count as one.
//!
//! The key is the whole snapshot of the core, every bit of it, except for the fields that [`of`] replaces.
//! Each is replaced for one of these reasons:
//!
//! - **time**: only a difference to now decides, and only up to the longest time that it is compared with;
//! - **counter**: it is compared with a threshold only, and counts on beyond it;
//! - **dead**: it is not read before it is written again, or not in this mode;
//! - **unread**: on the furnace of the model it cannot reach what it is compared with. What that rests on is
//!   asserted here, in every state that the search visits;
//! - **memory**: it is read only to find a changed bit, and the model changes none.
//!
//! `tests/abstraction.rs` tries all of it against the real step, with many pairs of states with one key.

use saggar_core::Controller;
use saggar_core::controller::StartError;
use saggar_core::units::Instant;

use crate::kept::{
    Kept, KeptAsked, KeptChannels, KeptCode, KeptFiring, KeptHeat, KeptHeater, KeptInterlock,
    KeptState, KeptTick, KeptTracker,
};

/// Reading from which the difference of the channels is judged (°C), and the checks from which it is judged
/// below.
const JUDGED_FROM_C: f32 = 500.0;
const SETTLED_CHECKS: u16 = 900;

/// Time between two bookmarks of a step (ms).
const BOOKMARK_MS: u64 = 300_000;

/// The key of a core after a tick at `now`.
pub fn of(core: &Controller, now: Instant) -> Vec<u8> {
    abstracted(Kept::of(core), core, now).bytes()
}

/// The snapshot of a core with nothing replaced, but its times counted from `now`.
pub fn concrete(core: &Controller, now: Instant) -> Vec<u8> {
    let mut kept = Kept::of(core);
    let since = |at: &mut Instant| *at = Instant::from_millis(now.since(*at));
    kept.previous.at.iter_mut().for_each(since);
    if let KeptState::Running(firing) = &mut kept.sequencer.state {
        [&mut firing.started, &mut firing.step_started].into_iter().for_each(since);
    }
    kept.recovery.noted.iter_mut().for_each(|(_, _, at)| since(at));
    kept.bytes()
}

/// Something that a key must not forget.
#[derive(Clone, Copy, Debug)]
pub enum Forgotten {
    /// Which trip is latched.
    Trip,
    /// That the contact of the closure was seen open.
    ContactProof,
    /// How long the firing has lasted.
    Duration,
}

/// A key that forgets one thing too much, to show that the comparison of states finds it.
pub fn too_coarse(core: &Controller, now: Instant, forgotten: Forgotten) -> Vec<u8> {
    let mut kept = abstracted(Kept::of(core), core, now);
    match (forgotten, &mut kept.sequencer.state) {
        (Forgotten::Trip, _) => kept.interlock.tripped = None,
        (Forgotten::Duration, KeptState::Running(firing)) => {
            firing.started = Instant::default()
        }
        (Forgotten::ContactProof, _) => kept.previous.contact.proven = false,
        (Forgotten::Duration, KeptState::Idle | KeptState::Ended(_)) => {}
    }
    kept.bytes()
}

/// Neither channel has lost a sample in the last five seconds, or a trip is latched, whose acceptance forgets
/// them.
pub fn channels_are_rested(core: &Controller) -> bool {
    let interlock = Kept::of(core).interlock;
    interlock.tripped.is_some() || (interlock.control_bad == 0 && interlock.limit_bad == 0)
}

fn abstracted(mut kept: Kept, core: &Controller, now: Instant) -> Kept {
    // Memory.
    assert!(kept.furnace_guard.1 && kept.programme_guard.is_none_or(|(_, _, intact)| intact));
    kept.furnace_guard = (0, true);
    if let Some((_, position, _)) = &mut kept.programme_guard {
        *position = 0;
    }
    trackers(&mut kept.control, &mut kept.limit);
    interlock(&mut kept.interlock);
    if kept.interlock.tripped.is_some() {
        latched(&mut kept.interlock);
    }
    if kept.previous.demand.setpoint.is_none() {
        // Dead: the next check of the setpoint is the next tick's, and the second is over after it.
        kept.interlock.second.duty = 0.0;
    }
    heat(&mut kept.heat);
    tick(&mut kept.previous, now);
    if let KeptState::Running(firing) = &mut kept.sequencer.state {
        self::firing(firing, core, now);
    }
    // Dead: set anew when the pressure rises again.
    if kept.vacuum.come_back == 0 {
        kept.vacuum.reopened_pa = 0;
    }
    if let Some((_, _, at)) = &mut kept.recovery.noted {
        // Unread: no firing is as long as the time between two bookmarks.
        assert!(now.since(*at) < BOOKMARK_MS);
        *at = Instant::default();
    }
    kept
}

/// Counter: any gap allows any jump of this model, and one tick is a gap.
fn trackers(control: &mut Option<KeptTracker>, limit: &mut Option<KeptTracker>) {
    for tracker in [control, limit].into_iter().flatten() {
        tracker.missed_ticks = tracker.missed_ticks.min(1);
    }
}

fn interlock(interlock: &mut KeptInterlock) {
    // Every action takes whole seconds, so all states are in the same tick of one.
    assert!(interlock.second.tick == 0 && interlock.second.duty_sum.to_bits() == 0);
    if interlock.tripped.is_none() {
        // Dead: set in every tick until there is a trip.
        interlock.setpoint_max_c = 0.0;
    }
    // Unread: the table expects no rise from any power, and the readings are too near to each other for one
    // that only a heater can cause.
    let expects_nothing = interlock.heater.expected_k_per_s <= 0.0;
    assert!(expects_nothing && interlock.heater.uncommanded_rise.is_none());
    interlock.heater = KeptHeater::default();
    channels(&mut interlock.channels);
    // Counters.
    interlock.contradicting = interlock.contradicting.min(4);
    interlock.current.uncommanded = interlock.current.uncommanded.min(10);
    interlock.current.missing = interlock.current.missing.min(10);
    interlock.current.wrong = interlock.current.wrong.min(3);
    interlock.above_setpoint = interlock.above_setpoint.min(3);
    let (ticks, first_pa, last_pa) = &mut interlock.vacuum.isolation;
    *ticks = (*ticks).min(21);
    if matches!(*ticks, 0 | 21) {
        // Dead: the sums begin again with the ticks, and are compared in tick 20.
        (*first_pa, *last_pa) = (0, 0);
    }
    let (missing, fallen, _) = &mut interlock.vacuum.gauge;
    (*missing, *fallen) = ((*missing).min(3), (*fallen).min(3));
}

/// Dead: a firing ends in the tick of its trip, without one these counters cause nothing, and the acceptance
/// of the trip clears them.
fn latched(interlock: &mut KeptInterlock) {
    (interlock.control_bad, interlock.limit_bad, interlock.open) = (0, 0, 0);
    (interlock.above_setpoint, interlock.current.missing) = (0, 0);
    (interlock.channels.disagree, interlock.channels.terminals) = (0, 0);
}

fn channels(channels: &mut KeptChannels) {
    // Unread: neither hot nor steady enough for the difference to be judged.
    assert!(channels.difference == 0 && channels.steady < SETTLED_CHECKS);
    (channels.element_c, channels.recovering, channels.steady) = (None, 0, 0);
    // Unread: the limit channel is never above what was asked for without the control channel.
    assert!(channels.asked.above == 0);
    channels.asked = KeptAsked::default();
    channels.disagree = channels.disagree.min(10);
    channels.terminals = channels.terminals.min(10);
    for code in [&mut channels.control, &mut channels.limit] {
        // Unread: the codes step in every second, so that what they are compared with is always new.
        assert!(code.still_s == 0 && !code.stepped);
        *code = KeptCode::default();
    }
}

/// The heater is driven fully or not at all, whatever the element's temperature and the trim say.
fn heat(heat: &mut KeptHeat) {
    assert!(heat.ticks == 0 && heat.duty_sum.to_bits() == 0);
    // Unread: they decide the greatest duty, which stays at one.
    heat.element_c = None;
    if let Some(state) = &mut heat.state {
        assert!(state.duty_max >= 1.0 && state.integral.abs() <= 0.0);
        (state.saturation, state.measurement) = (0, None);
        // Zero in both signs.
        state.integral = 0.0;
    }
}

fn tick(tick: &mut KeptTick, now: Instant) {
    if let Some(at) = &mut tick.at {
        // Time: the last tick is now.
        assert!(*at == now && tick.reading_c.is_none_or(|celsius| celsius < JUDGED_FROM_C));
        *at = Instant::default();
    }
    // Dead: set in every tick before they are read, by the tick itself or by a display.
    (tick.reading_c, tick.limit_c, tick.air) = (None, None, false);
    tick.reported = (None, false, false, None, false);
    // Dead: of the reasons why a start was refused, only the question is looked at again.
    tick.start_error = tick.start_error.filter(|why| *why == StartError::ContactUnproven);
    tick.contact.open_ticks = tick.contact.open_ticks.min(3);
    // The lift of this model is at one of its ends in every tick.
    assert_eq!(tick.travel, (0, 0));
    // Unread: no wait of this model lasts ten minutes.
    let (_, ticks, _, sounds) = tick.wait;
    assert!(ticks < 6_000 && !sounds);
    tick.wait = (None, 0, 0, false);
}

fn firing(firing: &mut KeptFiring, core: &Controller, now: Instant) {
    // Time: the sum of both counts, up to the end of the longest firing.
    let max_ms = u64::from(core.furnace().limits.firing_max_s) * 1000;
    let since_ms = now.since(firing.started) + u64::from(firing.passed_ms);
    firing.started = Instant::from_millis(since_ms.min(max_ms + 1));
    firing.passed_ms = 0;
    // Time: a hold times out; the lift has two minutes, more than a firing. Other steps do not look at it.
    let holds = matches!(
        core.programme().and_then(|image| image.steps().nth(firing.index.into())),
        Some(step) if matches!(step.action, saggar_core::programme::Action::Hold { .. })
    );
    let step_ms = if holds { now.since(firing.step_started) } else { 0 };
    firing.step_started = Instant::from_millis(step_ms);
    firing.pump_down.reached_ms = firing.pump_down.reached_ms.min(1_000);
}
