//! Fault injection between plant and core. It is product code, so that anyone can rehearse a fault.

use saggar_core::io::Inputs;

/// A fault and the time at which it strikes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScheduledFault {
    /// Time after the start button (s).
    pub at_s: f64,
    /// The fault.
    pub fault: Fault,
}

/// One fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The control thermocouple breaks.
    ControlOpen,
    /// The control thermocouple is shorted: it reads the terminals' temperature.
    ControlShort,
    /// The control thermocouple reads half a kelvin less every minute.
    ControlDrift,
    /// The limit thermocouple breaks.
    LimitOpen,
    /// The element breaks.
    ElementOpen,
    /// The heater's switch conducts permanently. The contactor still opens.
    SwitchStuck,
    /// The contact that proves the chamber shut is lost.
    ClosureLost,
    /// A seal fails: a leak of 5 Pa m³/s.
    SealLeaks,
    /// The pump stands still.
    PumpDead,
    /// A tick comes a second late.
    TickLate,
}

impl Fault {
    /// All faults.
    pub const ALL: [Self; 10] = [
        Self::ControlOpen,
        Self::ControlShort,
        Self::ControlDrift,
        Self::LimitOpen,
        Self::ElementOpen,
        Self::SwitchStuck,
        Self::ClosureLost,
        Self::SealLeaks,
        Self::PumpDead,
        Self::TickLate,
    ];

    /// Its name on a command line.
    pub const fn name(self) -> &'static str {
        self.row().0
    }

    /// Whether the fault needs a furnace with a pump.
    pub const fn needs_pump(self) -> bool {
        self.row().1
    }

    /// Why a firing may continue unchanged after the fault.
    pub const fn unnoticed_reason(self) -> &'static str {
        self.row().2
    }

    /// Name, whether it needs a pump, and why it may stay unnoticed.
    const fn row(self) -> (&'static str, bool, &'static str) {
        const OVER: &str = "the firing was over";
        match self {
            Self::ControlOpen => ("control-open", false, OVER),
            Self::ControlShort => {
                ("control-short", false, "the sensor was no hotter than its terminals")
            }
            Self::ControlDrift => ("control-drift", false, "it had lost too little to be seen"),
            Self::LimitOpen => ("limit-open", false, OVER),
            Self::ElementOpen => ("element-open", false, "no heat was wanted after that"),
            Self::SwitchStuck => {
                ("switch-stuck", false, "the contactor stayed open after that")
            }
            Self::ClosureLost => {
                ("closure-lost", false, "nothing needed the chamber to be shut after that")
            }
            Self::SealLeaks => ("seal-leaks", true, "the chamber was full of air after that"),
            Self::PumpDead => ("pump-dead", true, "the pump was not wanted after that"),
            Self::TickLate => ("tick-late", false, OVER),
        }
    }

    /// The fault with this name on the command line.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fault| fault.name() == name)
    }
}

/// Leak of a failed seal (Pa m³/s).
const LEAK_PA_M3_S: f64 = 5.0;

/// Loss of a drifting thermocouple, nanovolt a second: half a kelvin a minute at the 12 µV/K of
/// a type S near 1100 °C.
const DRIFT_NV_PER_S: f64 = 100.0;

/// Delay of a late tick (ms).
const LATE_MS: u64 = 1000;

/// The scheduled and the active faults of a run.
#[derive(Clone, Debug, Default)]
pub struct FaultInjector {
    scheduled: Vec<ScheduledFault>,
    next_s: f64,
    struck: Vec<ScheduledFault>,
}

impl FaultInjector {
    /// With these faults scheduled.
    pub fn new(mut scheduled: Vec<ScheduledFault>) -> Self {
        scheduled.sort_by(|a, b| b.at_s.total_cmp(&a.at_s));
        let next_s = scheduled.last().map_or(f64::INFINITY, |first| first.at_s);
        Self { scheduled, next_s, struck: Vec::new() }
    }

    /// Keeps the active faults and replaces the scheduled ones.
    pub fn with_scheduled(self, scheduled: Vec<ScheduledFault>) -> Self {
        Self { struck: self.struck, ..Self::new(scheduled) }
    }

    /// Activates the faults that are due; returns the delay of this tick (ms).
    pub fn activate_due(&mut self, now_s: f64) -> u64 {
        if now_s < self.next_s {
            return 0;
        }
        let mut late_ms = 0;
        while let Some(due) = self.scheduled.pop_if(|next| next.at_s <= now_s) {
            if due.fault == Fault::TickLate {
                late_ms = LATE_MS;
            }
            self.struck.push(due);
        }
        self.next_s = self.scheduled.last().map_or(f64::INFINITY, |next| next.at_s);
        late_ms
    }

    /// Whether this fault is active.
    pub fn is_active(&self, fault: Fault) -> bool {
        self.struck.iter().any(|struck| struck.fault == fault)
    }

    /// Whether any fault is active or scheduled.
    pub fn any_pending_or_active(&self) -> bool {
        self.next_s.is_finite() || !self.none_active()
    }

    /// Whether no fault is active.
    pub fn none_active(&self) -> bool {
        self.struck.is_empty()
    }

    /// Leak of a failed seal (Pa m³/s).
    pub fn leak_pa_m3_s(&self) -> f64 {
        if self.is_active(Fault::SealLeaks) { LEAK_PA_M3_S } else { 0.0 }
    }

    /// Applies the active faults to the inputs of the core.
    pub fn corrupt(&self, now_s: f64, inputs: &mut Inputs) {
        for ScheduledFault { at_s, fault } in &self.struck {
            match fault {
                Fault::ControlOpen => {
                    if let Some(sample) = &mut inputs.control {
                        sample.open = true;
                    }
                }
                Fault::ControlShort => {
                    if let Some(sample) = &mut inputs.control {
                        sample.emf_nv = 0;
                    }
                }
                Fault::ControlDrift => {
                    if let Some(sample) = &mut inputs.control {
                        let lost = ((now_s - at_s) * DRIFT_NV_PER_S) as i32;
                        sample.emf_nv = sample.emf_nv.saturating_sub(lost);
                    }
                }
                Fault::LimitOpen => {
                    if let Some(sample) = &mut inputs.limit {
                        sample.open = true;
                    }
                }
                Fault::ClosureLost => inputs.closure.shut = false,
                Fault::ElementOpen
                | Fault::SwitchStuck
                | Fault::SealLeaks
                | Fault::PumpDead
                | Fault::TickLate => {}
            }
        }
    }
}
