//! Which faults are scheduled, and which have struck.

use saggar_core::io::Inputs;

use super::catalogue::Fault;
use super::effect::FaultEffect;
use super::plant_condition::PlantCondition;
use super::readings::{ReadingMoment, corrupt};

/// A fault and the time at which it strikes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScheduledFault {
    /// Time after the start button (s), or [`Self::BEFORE_START_S`].
    pub at_s: f64,
    /// The fault.
    pub fault: Fault,
}

impl ScheduledFault {
    /// The time of a fault that is there before the start button is pressed.
    pub const BEFORE_START_S: f64 = -1.0;
}

/// A fault that has struck.
#[derive(Clone, Copy, Debug)]
struct StruckFault {
    at_s: f64,
    fault: Fault,
    /// The inputs of the tick in which it struck; `None` before they are read.
    at_strike: Option<Inputs>,
}

/// The scheduled and the active faults of a run.
#[derive(Clone, Debug, Default)]
pub struct FaultInjector {
    scheduled: Vec<ScheduledFault>,
    next_s: f64,
    struck: Vec<StruckFault>,
    /// The effects on the plant of all that have struck.
    condition: PlantCondition,
}

impl FaultInjector {
    /// With these faults scheduled.
    pub fn new(mut scheduled: Vec<ScheduledFault>) -> Self {
        scheduled.sort_by(|a, b| b.at_s.total_cmp(&a.at_s));
        let next_s = scheduled.last().map_or(f64::INFINITY, |first| first.at_s);
        Self { scheduled, next_s, ..Self::default() }
    }

    /// Keeps the active faults and replaces the scheduled ones.
    pub fn with_scheduled(self, scheduled: Vec<ScheduledFault>) -> Self {
        Self { struck: self.struck, condition: self.condition, ..Self::new(scheduled) }
    }

    /// Activates the faults that are due; returns the delay of this tick (ms).
    pub fn activate_due(&mut self, now_s: f64) -> u64 {
        if now_s < self.next_s {
            return 0;
        }
        let mut late_ms = 0;
        while let Some(due) = self.scheduled.pop_if(|next| next.at_s <= now_s) {
            let ScheduledFault { at_s, fault } = due;
            if let FaultEffect::LateTick(ms) = fault.effect() {
                late_ms = ms;
            }
            self.condition.add(fault.effect());
            self.struck.push(StruckFault { at_s, fault, at_strike: None });
        }
        self.next_s = self.scheduled.last().map_or(f64::INFINITY, |next| next.at_s);
        late_ms
    }

    /// Whether any fault is active or scheduled.
    pub fn any_pending_or_active(&self) -> bool {
        self.next_s.is_finite() || !self.none_active()
    }

    /// Whether no fault is active.
    pub fn none_active(&self) -> bool {
        self.struck.is_empty()
    }

    /// The state of the plant's parts under the active faults.
    pub const fn condition(&self) -> &PlantCondition {
        &self.condition
    }

    /// Applies the active faults to the inputs of the core, in the order in which they struck.
    pub fn corrupt(&mut self, now_s: f64, inputs: &mut Inputs) {
        for struck in &mut self.struck {
            let at_strike = *struck.at_strike.get_or_insert(*inputs);
            let moment = ReadingMoment { since_s: now_s - struck.at_s, at_strike };
            corrupt(struck.fault.effect(), &moment, inputs);
        }
    }
}
