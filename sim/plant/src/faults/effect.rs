//! The kinds of effects that faults have, as data: an effect carries its own figures.

use crate::mains::ContactorCondition;
use crate::spec::FurnaceSpec;

/// A part that not every furnace has, or that only a whole device has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FurnacePart {
    /// The pump, with its valves and the gauge.
    Pump,
    /// The sensor of the heater's current.
    CurrentSensor,
    /// The auxiliary contact of the contactor.
    AuxiliaryContact,
    /// The connection to clients, which only a whole device has.
    Link,
    /// The flash, which only a whole device has.
    Flash,
}

impl FurnacePart {
    /// Its name in a sentence.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pump => "pump",
            Self::CurrentSensor => "current sensor",
            Self::AuxiliaryContact => "auxiliary contact",
            Self::Link => "link",
            Self::Flash => "flash",
        }
    }

    /// Whether this furnace has it. Link and flash belong to the device, not to the furnace.
    pub const fn is_part_of(self, furnace: &FurnaceSpec) -> bool {
        match self {
            Self::Pump => furnace.pump.is_some(),
            Self::CurrentSensor => furnace.inputs.heater_current,
            Self::AuxiliaryContact => furnace.inputs.auxiliary_contact,
            Self::Link | Self::Flash => true,
        }
    }

    /// Whether only a whole device has it, so that a rehearsal of the bare core has not.
    pub const fn needs_a_device(self) -> bool {
        match self {
            Self::Pump | Self::CurrentSensor | Self::AuxiliaryContact => false,
            Self::Link | Self::Flash => true,
        }
    }
}

/// One of the two thermocouple channels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SensorChannel {
    /// The channel that the control follows.
    Control,
    /// The independent channel.
    Limit,
}

/// What a fault does. The later of two faults of the same kind wins, except that shares multiply and
/// errors add up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FaultEffect {
    /// The tip of a thermocouple does not follow the chamber.
    Tip(SensorChannel, TipFault),
    /// The signal of a thermocouple is wrong on its way to the core.
    Signal(SensorChannel, SignalFault),
    /// An auxiliary or end contact is wrong.
    Contact(SwitchContact, ContactFault),
    /// The gauge is wrong.
    Gauge(GaugeFault),
    /// The current sensor is wrong.
    Current(CurrentFault),
    /// The contactor does not follow its coil.
    Contactor(ContactorCondition),
    /// The output stage conducts wrongly.
    OutputStage {
        /// Share of the mains' half-waves that it conducts while on.
        on_share: f64,
        /// The same while off.
        off_share: f64,
    },
    /// The element takes this share of its power.
    ElementShare(f64),
    /// The mains have this share of their voltage.
    MainsShare(f64),
    /// The mains are cut: the controller is off, too. Whoever runs the firmware cuts and boots it.
    MainsCut,
    /// Somebody opens the chamber this far, 0 to 1.
    OpenedByHand(f64),
    /// The lift or door does not move.
    ClosureJammed,
    /// The valve between pump and chamber stays open or shut.
    IsolationStuck {
        /// It stays open.
        open: bool,
    },
    /// The valve between chamber and atmosphere stays open or shut.
    VentStuck {
        /// It stays open.
        open: bool,
    },
    /// The pump has this share of its speed.
    PumpShare(f64),
    /// A seal leaks (Pa m³/s).
    SealLeak(f64),
    /// The core's clock is wrong: a tick of 100 ms lasts this multiple of it in truth.
    TickLength(f64),
    /// The core's clock stands still while the ticks go on.
    ClockStopped,
    /// The core's clock jumps once (ms).
    ClockJump(i64),
    /// One tick comes late (ms).
    LateTick(u64),
    /// A bit of the core's memory flips once.
    Memory(MemoryFault),
    /// A bit of the flash flips once. Whoever runs the device flips it.
    Flash(FlashArea),
    /// The device gets no frame and sends none. Whoever runs the link loses it.
    LinkLost,
}

impl FaultEffect {
    /// Whether it happens in one tick, so that there is nothing to mend afterwards.
    pub const fn happens_once(&self) -> bool {
        match self {
            Self::ClockJump(_) | Self::LateTick(_) | Self::Memory(_) | Self::Flash(_) => true,
            Self::Tip(..)
            | Self::Signal(..)
            | Self::Contact(..)
            | Self::Gauge(_)
            | Self::Current(_)
            | Self::Contactor(_)
            | Self::OutputStage { .. }
            | Self::ElementShare(_)
            | Self::MainsShare(_)
            | Self::MainsCut
            | Self::OpenedByHand(_)
            | Self::ClosureJammed
            | Self::IsolationStuck { .. }
            | Self::VentStuck { .. }
            | Self::PumpShare(_)
            | Self::SealLeak(_)
            | Self::TickLength(_)
            | Self::ClockStopped
            | Self::LinkLost => false,
        }
    }
}

/// What is wrong with the tip of a thermocouple.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TipFault {
    /// It is colder than the chamber at its place, by this difference (K).
    Colder(f64),
    /// It follows with an additional first-order lag, this multiple of its own.
    Slower(f64),
    /// It has slipped out of its place.
    Detached {
        /// It reaches this share of the temperature in °C.
        share: f64,
        /// The additional first-order lag, as a multiple of its own.
        lag_factor: f64,
    },
}

/// What is wrong with the signal of a thermocouple.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SignalFault {
    /// The circuit is open, and the front end detects it.
    Open,
    /// The front end does not answer.
    Silent,
    /// The terminals are shorted: no voltage.
    Short,
    /// The wires are exchanged: the voltage changes its sign.
    Reversed,
    /// The front end repeats its code.
    Frozen,
    /// The front end reads this share of the voltage.
    Gain(f64),
    /// The voltage falls (nV/s).
    Drift(f64),
    /// Noise is added to the voltage (nV, standard deviation).
    Noise(f64),
    /// The temperature of the terminals is reported wrong by this difference (thousandths of a kelvin).
    TerminalsOff(i32),
}

/// A contact that reports a position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SwitchContact {
    /// The contact that closes when the chamber is shut.
    Shut,
    /// The contact that closes when the chamber is fully open.
    Open,
    /// The auxiliary contact of the contactor.
    Auxiliary,
}

/// What is wrong with a contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ContactFault {
    /// It says this, whatever is true.
    Says(bool),
    /// It keeps what it said when the fault struck.
    Stuck,
}

/// What is wrong with the gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GaugeFault {
    /// It does not answer.
    Dead,
    /// It repeats its reading.
    Frozen,
    /// It reads this share of the pressure.
    Share(f64),
}

/// What is wrong with the current sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CurrentFault {
    /// It does not answer.
    Silent,
    /// It reads this share of the current.
    Share(f64),
}

/// Data of the core in which a bit flips.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MemoryArea {
    /// The furnace's data: the allowed overshoot.
    Furnace,
    /// The furnace's table of power, with the checksum made afterwards: it was wrong when it was loaded.
    LoadedTable,
    /// The bytes of the programme.
    Programme,
    /// The highest setpoint, which was derived from the programme.
    HighestSetpoint,
    /// The setpoint of the moment.
    Setpoint,
    /// The place in the programme: the offset of the next step.
    Step,
}

/// A flipped bit of the core's memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemoryFault {
    /// Where.
    pub area: MemoryArea,
    /// Which bit, counted from the lowest; wraps round at the end of the data.
    pub bit: u32,
}

/// A region of the flash in which a bit flips.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FlashArea {
    /// The active programme.
    Programme,
    /// The settings.
    Settings,
    /// The log.
    Log,
}
