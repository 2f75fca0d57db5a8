//! Which faults are scheduled, and which are there now.

use saggar_core::io::Inputs;

use super::catalogue::FaultKind;
use super::effect::{FaultEffect, FlashArea, MemoryFault};
use super::fault::Fault;
use super::plant_condition::PlantCondition;
use super::readings::{ReadingMoment, corrupt};

/// A fault and whether it is there.
#[derive(Clone, Copy, Debug)]
struct InjectedFault {
    fault: Fault,
    active: bool,
    /// Whether it was there at any time.
    has_struck: bool,
    /// The inputs of the tick in which it came; `None` before they are read.
    at_strike: Option<Inputs>,
}

/// What happens in the tick in which a fault strikes, and only then.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SingleEffects {
    /// Delay of the tick (ms).
    pub late_ms: u64,
    /// Jump of the core's clock (ms).
    pub clock_jump_ms: i64,
    /// Flipped bits of the core's memory.
    pub memory: Vec<MemoryFault>,
    /// Parts of the flash in which a bit flipped.
    pub flash: Vec<FlashArea>,
}

/// The scheduled and the active faults of a run.
#[derive(Clone, Debug)]
pub struct FaultInjector {
    /// In the order in which they strike.
    faults: Vec<InjectedFault>,
    active: usize,
    /// When a fault comes or goes next (s).
    next_s: f64,
    /// The effects on the plant of all that are there.
    condition: PlantCondition,
}

impl Default for FaultInjector {
    fn default() -> Self {
        Self::new(Vec::new())
    }
}

impl FaultInjector {
    /// With these faults scheduled.
    pub fn new(scheduled: Vec<Fault>) -> Self {
        let mut new = Self {
            faults: Vec::new(),
            active: 0,
            next_s: f64::INFINITY,
            condition: PlantCondition::default(),
        };
        scheduled.into_iter().for_each(|fault| new.schedule(fault));
        new
    }

    /// Keeps the faults that have struck and replaces the others.
    #[must_use]
    pub fn with_scheduled(mut self, scheduled: Vec<Fault>) -> Self {
        self.faults.retain(|one| one.has_struck);
        scheduled.into_iter().for_each(|fault| self.schedule(fault));
        self
    }

    /// Adds a fault; if its time has passed, it strikes at once.
    pub fn schedule(&mut self, fault: Fault) {
        let after = |one: &InjectedFault| one.fault.from_s <= fault.from_s;
        let index = self.faults.partition_point(after);
        let new = InjectedFault { fault, active: false, has_struck: false, at_strike: None };
        self.faults.insert(index, new);
        self.next_s = self.next_s.min(fault.from_s);
    }

    /// Mends every fault of this kind from this time on (s), and forgets those still to come. Returns
    /// whether there was one.
    pub fn mend(&mut self, kind: FaultKind, now_s: f64) -> bool {
        let before = self.faults.len();
        self.faults.retain(|one| one.fault.kind != kind || one.active);
        let mut found = self.faults.len() < before;
        for one in self.faults.iter_mut().filter(|one| one.fault.kind == kind) {
            one.fault.until_s = one.fault.until_s.min(now_s);
            found = true;
        }
        self.next_s = self.next_s.min(now_s);
        found
    }

    /// Lets faults come and go that are due, and returns what happens in this tick only.
    pub fn activate_due(&mut self, now_s: f64) -> SingleEffects {
        let mut effects = SingleEffects::default();
        if now_s < self.next_s {
            return effects;
        }
        self.condition = PlantCondition::default();
        (self.active, self.next_s) = (0, f64::INFINITY);
        for one in &mut self.faults {
            let active = one.fault.is_active_at(now_s);
            if active && !one.active {
                (one.has_struck, one.at_strike) = (true, None);
                effects.add(one.fault.effect());
            }
            one.active = active;
            if active {
                self.condition.add(one.fault.effect());
                self.active += 1;
            }
            self.next_s = self.next_s.min(one.fault.next_change_s(now_s));
        }
        effects
    }

    /// Whether any fault is there or to come.
    pub fn any_pending_or_active(&self) -> bool {
        self.next_s.is_finite() || !self.none_active()
    }

    /// Whether no fault is there.
    pub const fn none_active(&self) -> bool {
        self.active == 0
    }

    /// The faults that are there, in the order in which they struck.
    pub fn active(&self) -> impl Iterator<Item = &Fault> {
        self.faults.iter().filter(|one| one.active).map(|one| &one.fault)
    }

    /// The faults that have struck and are not mended at this time (s), whether or not one that comes and
    /// goes is there in this moment.
    pub fn standing(&self, now_s: f64) -> impl Iterator<Item = &Fault> {
        let stands = move |one: &&InjectedFault| one.has_struck && now_s < one.fault.until_s;
        self.faults.iter().filter(stands).map(|one| &one.fault)
    }

    /// The state of the plant's parts under the active faults.
    pub const fn condition(&self) -> &PlantCondition {
        &self.condition
    }

    /// Applies the active faults to the inputs of the core, in the order in which they struck.
    pub fn corrupt(&mut self, now_s: f64, inputs: &mut Inputs) {
        for one in self.faults.iter_mut().filter(|one| one.active) {
            let at_strike = *one.at_strike.get_or_insert(*inputs);
            let moment = ReadingMoment { now_s, since_s: now_s - one.fault.from_s, at_strike };
            corrupt(one.fault.effect(), &moment, inputs);
        }
    }
}

impl SingleEffects {
    fn add(&mut self, effect: FaultEffect) {
        match effect {
            FaultEffect::LateTick(ms) => self.late_ms = self.late_ms.max(ms),
            FaultEffect::ClockJump(ms) => self.clock_jump_ms += ms,
            FaultEffect::Memory(fault) => self.memory.push(fault),
            FaultEffect::Flash(area) => self.flash.push(area),
            FaultEffect::Tip(..)
            | FaultEffect::Signal(..)
            | FaultEffect::Contact(..)
            | FaultEffect::Gauge(_)
            | FaultEffect::Current(_)
            | FaultEffect::Contactor(_)
            | FaultEffect::OutputStage { .. }
            | FaultEffect::ElementShare(_)
            | FaultEffect::MainsShare(_)
            | FaultEffect::MainsCut
            | FaultEffect::OpenedByHand(_)
            | FaultEffect::ClosureJammed
            | FaultEffect::IsolationStuck { .. }
            | FaultEffect::VentStuck { .. }
            | FaultEffect::PumpShare(_)
            | FaultEffect::SealLeak(_)
            | FaultEffect::TickLength(_)
            | FaultEffect::ClockStopped
            | FaultEffect::LinkLost => {}
        }
    }
}
