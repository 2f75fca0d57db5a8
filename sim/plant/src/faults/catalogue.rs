//! The catalogue: one row a kind of fault.

use super::effect::FaultEffect::{self, *};
use super::effect::FurnacePart::{
    self, AuxiliaryContact, CurrentSensor, Flash as FlashPart, Link, Pump,
};
use super::effect::SensorChannel::{self, Control, Limit};
use super::effect::{
    ContactFault, CurrentFault, FlashArea, GaugeFault, MemoryArea, MemoryFault, SignalFault,
    SwitchContact, TipFault,
};
use crate::mains::ContactorCondition;

/// How much of a fault there is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Severity {
    /// What the number means, with its unit: "K too little".
    pub unit: &'static str,
    /// Its value if none is given.
    pub default: f64,
    /// Its lowest and highest value.
    pub range: (f64, f64),
    /// Only whole numbers mean anything.
    pub whole: bool,
}

/// What the catalogue knows about a kind of fault.
struct CatalogueRow {
    name: &'static str,
    meaning: &'static str,
    needs: Option<FurnacePart>,
    severity: Option<Severity>,
    effect: fn(f64) -> FaultEffect,
    unnoticed: &'static str,
}

/// Defines the kinds of faults together with their rows, so that none is without. What a kind means to
/// people is its doc comment.
macro_rules! catalogue {
    ($(#[doc = $meaning:literal]
        $kind:ident: $name:literal, $needs:expr, $severity:expr, $effect:expr, $unnoticed:expr;
    )*) => {
        /// A kind of fault.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum FaultKind {
            $(#[doc = $meaning] $kind,)*
        }

        impl FaultKind {
            /// All kinds of faults.
            pub const ALL: [Self; [$($name),*].len()] = [$(Self::$kind),*];

            const fn row(self) -> CatalogueRow {
                match self {
                    $(Self::$kind => CatalogueRow {
                        name: $name,
                        meaning: $meaning,
                        needs: $needs,
                        severity: $severity,
                        effect: $effect,
                        unnoticed: $unnoticed,
                    },)*
                }
            }
        }
    };
}

impl FaultKind {
    /// Its name on a command line and in a file.
    pub const fn name(self) -> &'static str {
        self.row().name
    }

    /// What breaks, in a sentence.
    pub const fn meaning(self) -> &'static str {
        self.row().meaning.trim_ascii()
    }

    /// The part that a furnace needs for this fault.
    pub const fn needs(self) -> Option<FurnacePart> {
        self.row().needs
    }

    /// How much of it there can be; `None` if it is there or not.
    pub const fn severity(self) -> Option<Severity> {
        self.row().severity
    }

    /// What it does with this severity.
    pub fn effect(self, severity: f64) -> FaultEffect {
        (self.row().effect)(severity)
    }

    /// Why a firing may continue unchanged after the fault.
    pub const fn unnoticed_reason(self) -> &'static str {
        self.row().unnoticed
    }

    /// The kind of fault with this name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }
}

/// A severity with this default and this range.
const fn much(unit: &'static str, default: f64, low: f64, high: f64) -> Option<Severity> {
    Some(Severity { unit, default, range: (low, high), whole: false })
}

/// The number of a bit, up to this one.
const fn bit(default: f64, high: f64) -> Option<Severity> {
    Some(Severity { unit: "bit", default, range: (0.0, high), whole: true })
}

/// The highest bit of a number in memory, of the offset of a step, and of the longest programme.
const NUMBER_BITS: f64 = 31.0;
const OFFSET_BITS: f64 = 15.0;
const PROGRAMME_BITS: f64 = 8191.0;

const OVER: &str = "the firing was over";
const NO_HEAT: &str = "no heat was wanted after that";
const NOT_READ: &str = "nothing followed the reading after that";
const NO_HOTTER: &str = "the sensor was no hotter than its terminals";
const LIMIT_UNSEEN: &str = "the limit channel stayed within what the interlocks allow";
const CURRENT_UNSEEN: &str = "no interlock needed the current after that";
const AUXILIARY_UNSEEN: &str = "no interlock needed the auxiliary contact after that";
const NO_PRESSURE: &str = "no pressure was waited for after that";
const NO_PUMP: &str = "the pump was not wanted after that";
const FULL_OF_AIR: &str = "the chamber was full of air after that";
const NOT_MOVED: &str = "the lift or door was not moved after that";
const CONTACTOR_OPEN: &str = "the contactor stayed open after that";
const UNUSED: &str = "nothing used those data after that";
const NO_CLIENT: &str = "no client was connected after that";

/// Lag of a thermocouple that has slipped out, as a multiple of its own.
const DETACHED_LAG: f64 = 10.0;

/// What the front end of a channel does to its signal.
const fn signal(channel: SensorChannel, fault: SignalFault) -> FaultEffect {
    Signal(channel, fault)
}

/// A thermocouple that has slipped out and reaches this percentage of the temperature in °C.
const fn detached(channel: SensorChannel, percent: f64) -> FaultEffect {
    Tip(channel, TipFault::Detached { share: percent / 100.0, lag_factor: DETACHED_LAG })
}

/// A contact that says this, whatever is true.
const fn says(contact: SwitchContact, closed: bool) -> FaultEffect {
    Contact(contact, ContactFault::Says(closed))
}

/// An output stage that conducts these shares of the half-waves while on and while off.
const fn stage(on_share: f64, off_share: f64) -> FaultEffect {
    OutputStage { on_share, off_share }
}

/// A flipped bit of the core's memory.
const fn flip(area: MemoryArea, bit: f64) -> FaultEffect {
    Memory(MemoryFault { area, bit: bit as u32 })
}

catalogue! {
    /// The control thermocouple breaks.
    ControlOpen: "control-open", None, None,
        |_| signal(Control, SignalFault::Open), OVER;
    /// The front end of the control channel does not answer.
    ControlSilent: "control-silent", None, None,
        |_| signal(Control, SignalFault::Silent), OVER;
    /// The control thermocouple is shorted: it reads the terminals' temperature.
    ControlShort: "control-short", None, None,
        |_| signal(Control, SignalFault::Short), NO_HOTTER;
    /// The wires of the control thermocouple are exchanged.
    ControlReversed: "control-reversed", None, None,
        |_| signal(Control, SignalFault::Reversed), NO_HOTTER;
    /// The control thermocouple reads less and less; a type S gives about 12 µV/K near 1100 °C.
    ControlDrift: "control-drift", None, much("µV less a minute", 6.0, -600.0, 600.0),
        |s| signal(Control, SignalFault::Drift(s * 1000.0 / 60.0)), "it had lost too little to be seen";
    /// The front end of the control channel reads a part of the voltage.
    ControlGain: "control-gain", None, much("% of the voltage", 97.0, 0.0, 200.0),
        |s| signal(Control, SignalFault::Gain(s / 100.0)), NOT_READ;
    /// The control thermocouple reads too little.
    ControlOffset: "control-offset", None, much("K too little", 30.0, -200.0, 200.0),
        |s| Tip(Control, TipFault::Colder(s)), NOT_READ;
    /// The front end of the control channel repeats its code.
    ControlFrozen: "control-frozen", None, None,
        |_| signal(Control, SignalFault::Frozen), NOT_READ;
    /// The control thermocouple slips out of its place, and follows with ten times its lag.
    ControlDetached: "control-detached", None, much("% of the temperature", 96.0, 0.0, 100.0),
        |s| detached(Control, s), NOT_READ;
    /// The control thermocouple follows more slowly.
    ControlLagging: "control-lagging", None, much("times its lag", 10.0, 1.0, 1000.0),
        |s| Tip(Control, TipFault::Slower(s)), NOT_READ;
    /// Noise on the control channel.
    ControlNoisy: "control-noisy", None, much("µV of noise", 200.0, 0.0, 20_000.0),
        |s| signal(Control, SignalFault::Noise(s * 1000.0)), NOT_READ;
    /// The terminals of the control thermocouple are reported too cold.
    ControlTerminals: "control-terminals", None, much("K too cold", 30.0, -200.0, 200.0),
        |s| signal(Control, SignalFault::TerminalsOff((-s * 1000.0) as i32)), NOT_READ;
    /// The limit thermocouple breaks.
    LimitOpen: "limit-open", None, None,
        |_| signal(Limit, SignalFault::Open), OVER;
    /// The front end of the limit channel does not answer.
    LimitSilent: "limit-silent", None, None,
        |_| signal(Limit, SignalFault::Silent), OVER;
    /// The limit thermocouple is shorted: it reads the terminals' temperature.
    LimitShort: "limit-short", None, None,
        |_| signal(Limit, SignalFault::Short), LIMIT_UNSEEN;
    /// The wires of the limit thermocouple are exchanged.
    LimitReversed: "limit-reversed", None, None,
        |_| signal(Limit, SignalFault::Reversed), LIMIT_UNSEEN;
    /// The limit thermocouple reads less and less; a type S gives about 12 µV/K near 1100 °C.
    LimitDrift: "limit-drift", None, much("µV less a minute", 6.0, -600.0, 600.0),
        |s| signal(Limit, SignalFault::Drift(s * 1000.0 / 60.0)), LIMIT_UNSEEN;
    /// The front end of the limit channel reads a part of the voltage.
    LimitGain: "limit-gain", None, much("% of the voltage", 97.0, 0.0, 200.0),
        |s| signal(Limit, SignalFault::Gain(s / 100.0)), LIMIT_UNSEEN;
    /// The limit thermocouple reads too little.
    LimitOffset: "limit-offset", None, much("K too little", 30.0, -200.0, 200.0),
        |s| Tip(Limit, TipFault::Colder(s)), LIMIT_UNSEEN;
    /// The front end of the limit channel repeats its code.
    LimitFrozen: "limit-frozen", None, None,
        |_| signal(Limit, SignalFault::Frozen), LIMIT_UNSEEN;
    /// The limit thermocouple slips out of its place, and follows with ten times its lag.
    LimitDetached: "limit-detached", None, much("% of the temperature", 96.0, 0.0, 100.0),
        |s| detached(Limit, s), LIMIT_UNSEEN;
    /// The limit thermocouple follows more slowly.
    LimitLagging: "limit-lagging", None, much("times its lag", 10.0, 1.0, 1000.0),
        |s| Tip(Limit, TipFault::Slower(s)), LIMIT_UNSEEN;
    /// Noise on the limit channel.
    LimitNoisy: "limit-noisy", None, much("µV of noise", 200.0, 0.0, 20_000.0),
        |s| signal(Limit, SignalFault::Noise(s * 1000.0)), LIMIT_UNSEEN;
    /// The terminals of the limit thermocouple are reported too cold.
    LimitTerminals: "limit-terminals", None, much("K too cold", 30.0, -200.0, 200.0),
        |s| signal(Limit, SignalFault::TerminalsOff((-s * 1000.0) as i32)), LIMIT_UNSEEN;
    /// The element breaks.
    ElementOpen: "element-open", None, None,
        |_| ElementShare(0.0), NO_HEAT;
    /// The element has aged: it takes less power.
    ElementAged: "element-aged", None, much("% of its power", 75.0, 1.0, 99.0),
        |s| ElementShare(s / 100.0), NO_HEAT;
    /// Turns of the element are shorted: it takes more power.
    ElementShorted: "element-shorted", None, much("% of its power", 150.0, 101.0, 1000.0),
        |s| ElementShare(s / 100.0), NO_HEAT;
    /// The heater's switch conducts permanently. The contactor still opens.
    SwitchStuck: "switch-stuck", None, None,
        |_| stage(1.0, 1.0), CONTACTOR_OPEN;
    /// The heater's switch does not conduct.
    SwitchDead: "switch-dead", None, None,
        |_| stage(0.0, 0.0), NO_HEAT;
    /// The output stage conducts only a part of the half-waves.
    SwitchHalf: "switch-half", None, much("% of the half-waves", 50.0, 0.0, 100.0),
        |s| stage(s / 100.0, 0.0), NO_HEAT;
    /// The output stage conducts a part of the half-waves while it is off.
    SwitchLeaks: "switch-leaks", None, much("% of the half-waves", 50.0, 0.0, 100.0),
        |s| stage(1.0, s / 100.0), CONTACTOR_OPEN;
    /// The contactor welds: once closed, it does not open.
    ContactorWelded: "contactor-welded", None, None,
        |_| Contactor(ContactorCondition::Welded), "the output stage kept the heat off";
    /// The contactor drops out and does not close.
    ContactorDead: "contactor-dead", None, None,
        |_| Contactor(ContactorCondition::Dead), NO_HEAT;
    /// The auxiliary contact says that the contactor is open.
    AuxiliaryOpen: "auxiliary-open", Some(AuxiliaryContact), None,
        |_| says(SwitchContact::Auxiliary, false), AUXILIARY_UNSEEN;
    /// The auxiliary contact says that the contactor is closed.
    AuxiliaryClosed: "auxiliary-closed", Some(AuxiliaryContact), None,
        |_| says(SwitchContact::Auxiliary, true), AUXILIARY_UNSEEN;
    /// The auxiliary contact keeps what it says.
    AuxiliaryStuck: "auxiliary-stuck", Some(AuxiliaryContact), None,
        |_| Contact(SwitchContact::Auxiliary, ContactFault::Stuck), AUXILIARY_UNSEEN;
    /// The current sensor reads nothing.
    CurrentDead: "current-dead", Some(CurrentSensor), None,
        |_| Current(CurrentFault::Share(0.0)), CURRENT_UNSEEN;
    /// The current sensor does not answer.
    CurrentSilent: "current-silent", Some(CurrentSensor), None,
        |_| Current(CurrentFault::Silent), CURRENT_UNSEEN;
    /// The current sensor reads a part of the current.
    CurrentScaled: "current-scaled", Some(CurrentSensor), much("% of the current", 50.0, 0.0, 1000.0),
        |s| Current(CurrentFault::Share(s / 100.0)), CURRENT_UNSEEN;
    /// The contact that proves the chamber shut is lost.
    ClosureLost: "closure-lost", None, None,
        |_| says(SwitchContact::Shut, false), "nothing needed the chamber to be shut after that";
    /// The contact that proves the chamber shut does not open.
    ShutStuck: "shut-stuck", None, None,
        |_| says(SwitchContact::Shut, true), "the chamber stayed shut after that";
    /// The contact that proves the chamber open is lost.
    OpenLost: "open-lost", None, None,
        |_| says(SwitchContact::Open, false), NOT_MOVED;
    /// The contact that proves the chamber open is stuck.
    OpenStuck: "open-stuck", None, None,
        |_| says(SwitchContact::Open, true), NOT_MOVED;
    /// Somebody opens the chamber.
    ClosureOpened: "closure-opened", None, much("% of the way", 33.0, 1.0, 100.0),
        |s| OpenedByHand(s / 100.0), "the chamber was open already";
    /// The lift or door does not move.
    ClosureJammed: "closure-jammed", None, None,
        |_| ClosureJammed, NOT_MOVED;
    /// A seal leaks.
    SealLeaks: "seal-leaks", Some(Pump), much("Pa m³/s", 5.0, 0.0001, 1000.0),
        SealLeak, FULL_OF_AIR;
    /// The pump stands still.
    PumpDead: "pump-dead", Some(Pump), None,
        |_| PumpShare(0.0), NO_PUMP;
    /// The pump is slow.
    PumpWeak: "pump-weak", Some(Pump), much("% of its speed", 20.0, 1.0, 99.0),
        |s| PumpShare(s / 100.0), NO_PUMP;
    /// The valve between pump and chamber does not shut.
    IsolationOpen: "isolation-open", Some(Pump), None,
        |_| IsolationStuck { open: true }, FULL_OF_AIR;
    /// The valve between pump and chamber does not open.
    IsolationShut: "isolation-shut", Some(Pump), None,
        |_| IsolationStuck { open: false }, NO_PUMP;
    /// The vent does not shut.
    VentOpen: "vent-open", Some(Pump), None,
        |_| VentStuck { open: true }, FULL_OF_AIR;
    /// The vent does not open.
    VentShut: "vent-shut", Some(Pump), None,
        |_| VentStuck { open: false }, "the vent was not wanted after that";
    /// The gauge does not answer.
    GaugeDead: "gauge-dead", Some(Pump), None,
        |_| Gauge(GaugeFault::Dead), NO_PRESSURE;
    /// The gauge repeats its reading.
    GaugeFrozen: "gauge-frozen", Some(Pump), None,
        |_| Gauge(GaugeFault::Frozen), NO_PRESSURE;
    /// The gauge reads too low.
    GaugeLow: "gauge-low", Some(Pump), much("% of the pressure", 20.0, 0.0, 99.0),
        |s| Gauge(GaugeFault::Share(s / 100.0)), NO_PRESSURE;
    /// The gauge reads too high.
    GaugeHigh: "gauge-high", Some(Pump), much("% of the pressure", 300.0, 101.0, 10_000.0),
        |s| Gauge(GaugeFault::Share(s / 100.0)), NO_PRESSURE;
    /// The mains are low.
    MainsLow: "mains-low", None, much("% of their voltage", 80.0, 1.0, 99.0),
        |s| MainsShare(s / 100.0), NO_HEAT;
    /// The mains are high.
    MainsHigh: "mains-high", None, much("% of their voltage", 115.0, 101.0, 150.0),
        |s| MainsShare(s / 100.0), NO_HEAT;
    /// The power fails.
    MainsCut: "mains-cut", None, None,
        |_| MainsCut, OVER;
    /// The core's ticks come too fast.
    ClockFast: "clock-fast", None, much("times as fast", 1.4, 1.01, 10.0),
        |s| TickLength(1.0 / s), OVER;
    /// The core's ticks come too slowly.
    ClockSlow: "clock-slow", None, much("times as slowly", 1.4, 1.01, 10.0),
        TickLength, OVER;
    /// The core's clock stands still.
    ClockStopped: "clock-stopped", None, None,
        |_| ClockStopped, OVER;
    /// The core's clock jumps.
    ClockJump: "clock-jump", None, much("s ahead", 60.0, -86_400.0, 86_400.0),
        |s| ClockJump((s * 1000.0) as i64), OVER;
    /// A tick comes late.
    TickLate: "tick-late", None, much("ms late", 1000.0, 1.0, 3_600_000.0),
        |s| LateTick(s as u64), OVER;
    /// A bit flips in the furnace's data in memory: the allowed overshoot.
    MemoryFurnace: "memory-furnace", None, bit(23.0, NUMBER_BITS),
        |s| flip(MemoryArea::Furnace, s), UNUSED;
    /// A bit flips in the table of power as the furnace's data are loaded, before their checksum is made.
    MemoryTable: "memory-table", None, bit(27.0, NUMBER_BITS),
        |s| flip(MemoryArea::LoadedTable, s), UNUSED;
    /// A bit flips in the programme in memory, counted from its start; beyond its end from the start again.
    MemoryProgramme: "memory-programme", None, bit(100.0, PROGRAMME_BITS),
        |s| flip(MemoryArea::Programme, s), UNUSED;
    /// A bit flips in the highest setpoint in memory.
    MemoryHighestSetpoint: "memory-highest", None, bit(23.0, NUMBER_BITS),
        |s| flip(MemoryArea::HighestSetpoint, s), UNUSED;
    /// A bit flips in the setpoint in memory.
    MemorySetpoint: "memory-setpoint", None, bit(23.0, NUMBER_BITS),
        |s| flip(MemoryArea::Setpoint, s), UNUSED;
    /// A bit flips in the place in the programme, in memory.
    MemoryStep: "memory-step", None, bit(3.0, OFFSET_BITS),
        |s| flip(MemoryArea::Step, s), UNUSED;
    /// A bit of the active programme flips in flash.
    FlashProgramme: "flash-programme", Some(FlashPart), None,
        |_| Flash(FlashArea::Programme), UNUSED;
    /// A bit of the settings flips in flash.
    FlashSettings: "flash-settings", Some(FlashPart), None,
        |_| Flash(FlashArea::Settings), UNUSED;
    /// A bit of the log flips in flash.
    FlashLog: "flash-log", Some(FlashPart), None,
        |_| Flash(FlashArea::Log), UNUSED;
    /// The connection to the clients is lost.
    LinkLost: "link-lost", Some(Link), None,
        |_| LinkLost, NO_CLIENT;
}
