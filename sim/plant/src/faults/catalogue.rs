//! The catalogue: one row a fault.

use super::effect::FaultEffect::{self, *};
use super::effect::FurnacePart::{self, AuxiliaryContact, CurrentSensor, Pump};
use super::effect::SensorChannel::{Control, Limit};
use super::effect::{ContactFault, GaugeFault, SignalFault, SwitchContact, TipFault};
use crate::mains::ContactorCondition;

/// What the catalogue knows about a fault.
struct CatalogueRow {
    name: &'static str,
    needs: Option<FurnacePart>,
    effect: FaultEffect,
    unnoticed: &'static str,
}

/// Defines the faults together with their rows, so that none is without.
macro_rules! catalogue {
    ($($(#[$doc:meta])* $fault:ident: $name:literal, $needs:expr, $effect:expr, $unnoticed:expr;)*) => {
        /// One fault.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Fault {
            $($(#[$doc])* $fault,)*
        }

        impl Fault {
            /// All faults.
            pub const ALL: [Self; [$($name),*].len()] = [$(Self::$fault),*];

            const fn row(self) -> CatalogueRow {
                let (name, needs, effect, unnoticed) = match self {
                    $(Self::$fault => ($name, $needs, $effect, $unnoticed),)*
                };
                CatalogueRow { name, needs, effect, unnoticed }
            }
        }
    };
}

impl Fault {
    /// Its name on a command line.
    pub const fn name(self) -> &'static str {
        self.row().name
    }

    /// The part that a furnace needs for this fault.
    pub const fn needs(self) -> Option<FurnacePart> {
        self.row().needs
    }

    /// What it does.
    pub const fn effect(self) -> FaultEffect {
        self.row().effect
    }

    /// Why a firing may continue unchanged after the fault.
    pub const fn unnoticed_reason(self) -> &'static str {
        self.row().unnoticed
    }

    /// The fault with this name on the command line.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fault| fault.name() == name)
    }
}

const OVER: &str = "the firing was over";
const NO_HEAT: &str = "no heat was wanted after that";
const NOT_READ: &str = "nothing followed the reading after that";
const LIMIT_UNSEEN: &str = "the limit channel stayed within what the interlocks allow";
const CURRENT_UNSEEN: &str = "no interlock needed the current after that";
const AUXILIARY_UNSEEN: &str = "no interlock needed the auxiliary contact after that";
const NO_PRESSURE: &str = "no pressure was waited for after that";
const NO_PUMP: &str = "the pump was not wanted after that";
const FULL_OF_AIR: &str = "the chamber was full of air after that";

/// A drift of half a kelvin a minute (nV/s): at the 12 µV/K of a type S near 1100 °C.
const DRIFT_NV_PER_S: f64 = 100.0;

/// A thermocouple that has slipped out reads 96 % of the temperature, with ten times the lag.
const DETACHED: TipFault = TipFault::Detached { share: 0.96, lag_factor: 10.0 };

/// How much a wrong clock is wrong.
const CLOCK_FACTOR: f64 = 1.4;

catalogue! {
    /// The control thermocouple breaks.
    ControlOpen: "control-open", None, Signal(Control, SignalFault::Open), OVER;
    /// The control thermocouple is shorted: it reads the terminals' temperature.
    ControlShort: "control-short", None, Signal(Control, SignalFault::Short),
        "the sensor was no hotter than its terminals";
    /// The control thermocouple reads half a kelvin less every minute.
    ControlDrift: "control-drift", None, Signal(Control, SignalFault::Drift(DRIFT_NV_PER_S)),
        "it had lost too little to be seen";
    /// The limit thermocouple breaks.
    LimitOpen: "limit-open", None, Signal(Limit, SignalFault::Open), OVER;
    /// The element breaks.
    ElementOpen: "element-open", None, ElementShare(0.0), NO_HEAT;
    /// The heater's switch conducts permanently. The contactor still opens.
    SwitchStuck: "switch-stuck", None, OutputStage { on_share: 1.0, off_share: 1.0 },
        "the contactor stayed open after that";
    /// The contact that proves the chamber shut is lost.
    ClosureLost: "closure-lost", None, Contact(SwitchContact::Shut, ContactFault::Says(false)),
        "nothing needed the chamber to be shut after that";
    /// A seal fails: a leak of 5 Pa m³/s.
    SealLeaks: "seal-leaks", Some(Pump), SealLeak(5.0), FULL_OF_AIR;
    /// The pump stands still.
    PumpDead: "pump-dead", Some(Pump), PumpShare(0.0), NO_PUMP;
    /// A tick comes a second late.
    TickLate: "tick-late", None, LateTick(1000), OVER;

    /// The front end of the control channel reads 3 % of the voltage too little.
    ControlGain: "control-gain", None, Signal(Control, SignalFault::Gain(0.97)), NOT_READ;
    /// The control thermocouple reads 30 K too little.
    ControlOffset: "control-offset", None, Tip(Control, TipFault::Colder(30.0)), NOT_READ;
    /// The front end of the control channel repeats its code.
    ControlFrozen: "control-frozen", None, Signal(Control, SignalFault::Frozen), NOT_READ;
    /// The control thermocouple slips out of its place.
    ControlDetached: "control-detached", None, Tip(Control, DETACHED), NOT_READ;
    /// The control thermocouple follows with ten times its lag.
    ControlLagging: "control-lagging", None, Tip(Control, TipFault::Slower(10.0)), NOT_READ;
    /// The wires of the control thermocouple are exchanged.
    ControlReversed: "control-reversed", None, Signal(Control, SignalFault::Reversed),
        "the sensor was no hotter than its terminals";
    /// The terminals of the control thermocouple are reported 30 K too cold.
    ControlTerminals: "control-terminals", None,
        Signal(Control, SignalFault::TerminalsOff(-30_000)), NOT_READ;
    /// The front end of the limit channel repeats its code.
    LimitFrozen: "limit-frozen", None, Signal(Limit, SignalFault::Frozen), LIMIT_UNSEEN;
    /// The limit thermocouple slips out of its place.
    LimitDetached: "limit-detached", None, Tip(Limit, DETACHED), LIMIT_UNSEEN;
    /// The limit thermocouple reads half a kelvin less every minute.
    LimitDrift: "limit-drift", None, Signal(Limit, SignalFault::Drift(DRIFT_NV_PER_S)),
        LIMIT_UNSEEN;
    /// The contactor welds: once closed, it does not open.
    ContactorWelded: "contactor-welded", None, Contactor(ContactorCondition::Welded),
        "the output stage kept the heat off";
    /// The contactor drops out and does not close.
    ContactorDead: "contactor-dead", None, Contactor(ContactorCondition::Dead), NO_HEAT;
    /// The auxiliary contact says that the contactor is open.
    AuxiliaryOpen: "auxiliary-open", Some(AuxiliaryContact),
        Contact(SwitchContact::Auxiliary, ContactFault::Says(false)), AUXILIARY_UNSEEN;
    /// The auxiliary contact keeps what it says.
    AuxiliaryStuck: "auxiliary-stuck", Some(AuxiliaryContact),
        Contact(SwitchContact::Auxiliary, ContactFault::Stuck), AUXILIARY_UNSEEN;
    /// The current sensor reads nothing.
    CurrentDead: "current-dead", Some(CurrentSensor), CurrentReadsZero, CURRENT_UNSEEN;
    /// The output stage conducts only every other half-wave.
    SwitchHalf: "switch-half", None, OutputStage { on_share: 0.5, off_share: 0.0 }, NO_HEAT;
    /// The output stage conducts every other half-wave while it is off.
    SwitchLeaks: "switch-leaks", None, OutputStage { on_share: 1.0, off_share: 0.5 },
        "the contactor stayed open after that";
    /// The element has aged: it takes 75 % of its power.
    ElementAged: "element-aged", None, ElementShare(0.75), NO_HEAT;
    /// The contact that proves the chamber shut does not open.
    ShutStuck: "shut-stuck", None, Contact(SwitchContact::Shut, ContactFault::Says(true)),
        "the chamber stayed shut after that";
    /// Somebody opens the chamber by a third.
    ClosureOpened: "closure-opened", None, OpenedByHand(1.0 / 3.0),
        "the chamber was open already";
    /// The valve between pump and chamber does not shut.
    IsolationOpen: "isolation-open", Some(Pump), IsolationStuck { open: true }, FULL_OF_AIR;
    /// The valve between pump and chamber does not open.
    IsolationShut: "isolation-shut", Some(Pump), IsolationStuck { open: false }, NO_PUMP;
    /// The vent does not shut.
    VentOpen: "vent-open", Some(Pump), VentStuck { open: true }, FULL_OF_AIR;
    /// The vent does not open.
    VentShut: "vent-shut", Some(Pump), VentStuck { open: false },
        "the vent was not wanted after that";
    /// The pump has a fifth of its speed.
    PumpWeak: "pump-weak", Some(Pump), PumpShare(0.2), NO_PUMP;
    /// The gauge does not answer.
    GaugeDead: "gauge-dead", Some(Pump), Gauge(GaugeFault::Dead), NO_PRESSURE;
    /// The gauge repeats its reading.
    GaugeFrozen: "gauge-frozen", Some(Pump), Gauge(GaugeFault::Frozen), NO_PRESSURE;
    /// The gauge reads a fifth of the pressure.
    GaugeLow: "gauge-low", Some(Pump), Gauge(GaugeFault::Share(0.2)), NO_PRESSURE;
    /// The core's ticks come 1.4 times as fast.
    ClockFast: "clock-fast", None, TickLength(1.0 / CLOCK_FACTOR), OVER;
    /// The core's ticks come 1.4 times as slowly.
    ClockSlow: "clock-slow", None, TickLength(CLOCK_FACTOR), OVER;
}
