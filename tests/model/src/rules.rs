//! What must hold in every tick and in every action, judged from outside: from what the furnace is like and
//! what was pressed, not from why the core did it.

use saggar_core::io::Buttons;
use saggar_core::{Cause, Inputs, Outputs};

use crate::plant::{Fault, Surroundings};

/// A rule that was broken. Each is a property of the model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Rule {
    /// Heat only while firing, not tripped, closed, both channels valid and below every limit, on time.
    HeatProven,
    /// A latched trip ends only by a press of confirm at the device, with its cause gone.
    LatchHolds,
    /// A firing begins or goes on only by a press of start at the device.
    StartPressed,
    /// An upload changes nothing while a firing runs or a trip is latched, and starts nothing.
    UploadHarmless,
    /// The contactor is open while a trip is latched.
    ContactorOpen,
    /// The vent opens only while both channels prove the chamber cool.
    VentCool,
    /// The valve to the pump is open only while the pump runs.
    PumpRuns,
    /// The lift opens only a cool chamber full of air.
    OpensCool,
}

impl Rule {
    /// What it says.
    pub const fn says(self) -> &'static str {
        match self {
            Self::HeatProven => "heat is proven safe",
            Self::LatchHolds => "a trip ends by confirm, with its cause gone",
            Self::StartPressed => "a firing begins by a press of start",
            Self::UploadHarmless => "an upload starts, changes and clears nothing it must not",
            Self::ContactorOpen => "the contactor is open while a trip is latched",
            Self::VentCool => "the vent opens only a cool chamber",
            Self::PumpRuns => "the pump runs while its valve is open",
            Self::OpensCool => "the lift opens only a cool chamber full of air",
        }
    }
}

/// The rules that were broken on the way to a state.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Broken(u8);

impl Broken {
    /// Notes a rule as broken unless it holds.
    pub const fn check(&mut self, rule: Rule, holds: bool) {
        if !holds {
            self.0 |= 1 << rule as u8;
        }
    }

    /// Whether this rule was broken.
    pub const fn has(self, rule: Rule) -> bool {
        self.0 & 1 << rule as u8 != 0
    }
}

/// What can be seen of the core between two ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// A firing is running.
    pub firing: bool,
    /// The latched trip.
    pub trip: Option<Cause>,
}

/// One tick as it is seen from outside.
#[derive(Debug)]
pub struct TickSeen<'a> {
    /// Before and after it.
    pub before: Seen,
    /// After it.
    pub after: Seen,
    /// The furnace.
    pub around: &'a Surroundings,
    /// What the core was shown.
    pub inputs: &'a Inputs,
    /// The outputs of the tick before.
    pub last: &'a Outputs,
    /// Its outputs.
    pub outputs: &'a Outputs,
    /// The buttons of the tick before; all of them at power-up.
    pub held: Buttons,
    /// It came in time.
    pub on_time: bool,
}

impl TickSeen<'_> {
    /// Notes the rules that this tick breaks.
    pub fn judge(&self, broken: &mut Broken) {
        let TickSeen { before, after, around, inputs, outputs, .. } = self;
        let heats = outputs.heater_cycles != 0;
        let proven = before.firing
            && after == &Seen { firing: true, trip: None }
            && self.channels_valid()
            && !around.open
            && self.on_time
            && outputs.contactor
            && self.hottest_c() < 432;
        broken.check(Rule::HeatProven, !heats || proven);
        let pressed = inputs.buttons.confirm && !self.held.confirm;
        let ended = before.trip.is_some() && before.trip != after.trip;
        let accepted = after.trip.is_none() && pressed && !before.firing;
        let gone = before.trip.is_none_or(|cause| self.is_gone(cause));
        broken.check(Rule::LatchHolds, !ended || (accepted && gone));
        let started = inputs.buttons.start && !self.held.start;
        broken.check(Rule::StartPressed, before.firing || !after.firing || started);
        let dead = !outputs.contactor && !heats;
        broken.check(Rule::ContactorOpen, after.trip.is_none() || dead);
        let cool = self.channels_valid() && self.hottest_c() < 415;
        broken.check(Rule::VentCool, !outputs.vent_valve || cool);
        broken.check(Rule::PumpRuns, !outputs.isolation_valve || outputs.pump);
        let opens = outputs.open_closure && !self.last.open_closure;
        let air = inputs.pressure_pa.is_some_and(|pa| pa > 100_000);
        // A chamber that is found open stays open.
        let may_open = (!around.warm && air) || around.open;
        broken.check(Rule::OpensCool, !opens || may_open);
    }

    /// Both thermocouples are whole and were read.
    fn channels_valid(&self) -> bool {
        let read = self.inputs.control.is_some() && self.inputs.limit.is_some();
        read && !self.around.has(Fault::ControlOpen) && !self.around.has(Fault::LimitOpen)
    }

    /// The hottest that the chamber can be by now (°C): a sample ages, at 200 K/s.
    fn hottest_c(&self) -> u32 {
        let read_c = if self.around.warm { 426 } else { 402 };
        read_c + u32::from(self.around.age_ms()) / 5
    }

    /// Whether the cause of a trip is gone, as far as it can be seen while nothing is fired.
    fn is_gone(&self, cause: Cause) -> bool {
        let hottest_c = self.hottest_c();
        match cause {
            Cause::SensorOpen | Cause::SensorImplausible | Cause::ChannelsDisagree => {
                self.channels_valid()
            }
            Cause::AboveProgrammeLimit => self.channels_valid() && hottest_c < 432,
            Cause::AboveFurnaceLimit => self.channels_valid() && hottest_c < 470,
            Cause::HeaterStuckOn => self.inputs.heater_current_ma == Some(0),
            Cause::ClosureOpen => !self.around.open,
            Cause::TickOverrun => self.on_time,
            Cause::ContactorNotFollowing => !self.inputs.contactor_closed,
            Cause::GaugeImplausible => self.inputs.pressure_pa.is_some(),
            Cause::HeaterWithoutEffect
            | Cause::VacuumLate
            | Cause::ProgrammeChanged
            | Cause::AboveSetpoint
            | Cause::FurnaceDataChanged
            | Cause::SensorFrozen
            | Cause::SensorLagging
            | Cause::TerminalsDisagree
            | Cause::NoHeaterCurrent
            | Cause::HeaterCurrentWrong
            | Cause::ClockWrong
            | Cause::ClosureStuck
            | Cause::IsolationStuck
            | Cause::VacuumLost => true,
        }
    }
}
