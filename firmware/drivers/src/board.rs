//! A whole board: read all inputs, write all outputs, and only then kick the watchdog.

use embedded_hal::digital::{InputPin, OutputPin};
use embedded_hal::i2c::I2c;
use embedded_hal::spi::SpiDevice;
use saggar_core::io::{ClosureContacts, Inputs, Outputs};
use saggar_core::sensors::ThermocoupleType;

use crate::ads1115::Ads1115;
use crate::ads1220::Ads1220;
use crate::closure::ClosureActuator;
use crate::contacts::{ButtonPins, set};
use crate::heater::BurstHeater;
use crate::max31856::{MainsFrequency, Max31856};
use crate::scale::{CurrentScale, PressureScale};

/// Buses and pins of a board. All outputs are active high, so that pull-down resistors keep them off
/// while the processor is in reset; contacts are wired as in [`crate::contacts`].
#[derive(Debug)]
pub struct BoardParts<C, L, B, I, O> {
    /// SPI of the control thermocouple's ADS1220, mode 1.
    pub control_spi: C,
    /// Its data-ready pin.
    pub control_ready: I,
    /// SPI of the limit thermocouple's MAX31856, mode 1.
    pub limit_spi: L,
    /// Its data-ready pin.
    pub limit_ready: I,
    /// I²C of the slow converters.
    pub i2c: B,
    /// Solid-state relay of the heater.
    pub heater: O,
    /// Contactor in series with it.
    pub contactor: O,
    /// The contactor's auxiliary contact.
    pub contactor_aux: I,
    /// Pump.
    pub pump: O,
    /// Valve between chamber and pump; opens when high.
    pub isolation_valve: O,
    /// Valve between chamber and air; opens when high.
    pub vent_valve: O,
    /// Lift or door.
    pub closure: ClosureActuator<O>,
    /// Contact of the shut end.
    pub shut_contact: I,
    /// Contact of the open end.
    pub open_contact: I,
    /// Lamp: a firing is running.
    pub lamp: O,
    /// Buzzer: the operator is wanted.
    pub buzzer: O,
    /// Start button, closes when pressed.
    pub start: I,
    /// Stop button, opens when pressed.
    pub stop: I,
    /// Confirm button, closes when pressed.
    pub confirm: I,
    /// External watchdog, which needs an edge in time.
    pub watchdog: O,
}

/// What the board depends on in its furnace.
#[derive(Clone, Copy, Debug)]
pub struct BoardConfig {
    /// Type of the control thermocouple.
    pub control: ThermocoupleType,
    /// Type of the limit thermocouple.
    pub limit: ThermocoupleType,
    /// Mains frequency.
    pub mains: MainsFrequency,
    /// Address of the pressure gauge's converter and its scale, if there is one.
    pub pressure: Option<(u8, PressureScale)>,
    /// Address of the current sensor's converter and its scale, if there is one.
    pub current: Option<(u8, CurrentScale)>,
    /// The core gets the number of zero crossings.
    pub counts_crossings: bool,
}

/// Outputs that failed since the last write.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct OutputErrors {
    /// Heater relay, at the tick or at a zero crossing.
    pub heater: bool,
    /// Contactor.
    pub contactor: bool,
    /// Pump.
    pub pump: bool,
    /// Isolation valve.
    pub isolation_valve: bool,
    /// Vent valve.
    pub vent_valve: bool,
    /// Lift or door.
    pub closure: bool,
    /// Lamp.
    pub lamp: bool,
    /// Buzzer.
    pub buzzer: bool,
    /// Not a pin: outputs were written without reading inputs first.
    pub inputs_not_read: bool,
}

impl OutputErrors {
    /// Whether the furnace must not run with this: anything but lamp and buzzer.
    pub const fn is_fatal(self) -> bool {
        self.heater
            || self.contactor
            || self.pump
            || self.isolation_valve
            || self.vent_valve
            || self.closure
            || self.inputs_not_read
    }
}

/// Proof that inputs were read and outputs written, in this order. A kick of the watchdog takes one.
///
/// Only [`Board::write`] makes one, and it can be used once:
///
/// ```compile_fail,E0451
/// let forged = saggar_drivers::Written { faults: saggar_drivers::PinFaults::default() };
/// ```
/// ```compile_fail,E0599
/// fn twice(one: &saggar_drivers::Written) -> saggar_drivers::Written { one.clone() }
/// ```
#[derive(Debug)]
#[must_use = "without it the watchdog cannot be kicked"]
pub struct KickToken {
    faults: OutputErrors,
}

impl KickToken {
    /// Errors of lamp and buzzer, with which the furnace may run on.
    pub const fn errors(&self) -> OutputErrors {
        self.faults
    }
}

/// A board with all its parts.
#[derive(Debug)]
pub struct Board<C, L, B, I, O> {
    control: Ads1220<C, I>,
    limit: Max31856<L, I>,
    i2c: B,
    pressure: Option<(Ads1115, PressureScale)>,
    current: Option<(Ads1115, CurrentScale)>,
    heater: BurstHeater<O>,
    counts_crossings: bool,
    cycles_per_tick: u8,
    contactor: O,
    contactor_aux: I,
    pump: O,
    isolation_valve: O,
    vent_valve: O,
    closure: ClosureActuator<O>,
    shut_contact: I,
    open_contact: I,
    contacts: Option<ClosureContacts>,
    lamp: O,
    buzzer: O,
    buttons: ButtonPins<I>,
    watchdog: O,
    watchdog_high: bool,
    read: bool,
    heater_failed: bool,
}

impl<C: SpiDevice, L: SpiDevice, B: I2c, I: InputPin, O: OutputPin> Board<C, L, B, I, O> {
    /// Assembles the board. No pin is touched yet; call [`Board::safe`] first.
    pub fn new(parts: BoardParts<C, L, B, I, O>, settings: &BoardConfig) -> Self {
        let BoardConfig { control, limit, mains, pressure, current, counts_crossings } =
            *settings;
        Self {
            control: Ads1220::new(parts.control_spi, parts.control_ready, control),
            limit: Max31856::new(parts.limit_spi, parts.limit_ready, limit, mains),
            i2c: parts.i2c,
            pressure: pressure.map(|(address, scale)| (Ads1115::new(address), scale)),
            current: current.map(|(address, scale)| (Ads1115::new(address), scale)),
            heater: BurstHeater::new(parts.heater),
            counts_crossings,
            cycles_per_tick: mains.cycles_per_tick(),
            contactor: parts.contactor,
            contactor_aux: parts.contactor_aux,
            pump: parts.pump,
            isolation_valve: parts.isolation_valve,
            vent_valve: parts.vent_valve,
            closure: parts.closure,
            shut_contact: parts.shut_contact,
            open_contact: parts.open_contact,
            contacts: None,
            lamp: parts.lamp,
            buzzer: parts.buzzer,
            buttons: ButtonPins::new(parts.start, parts.stop, parts.confirm),
            watchdog: parts.watchdog,
            watchdog_high: false,
            read: false,
            heater_failed: false,
        }
    }

    /// Reads all inputs of the core: first thing in a tick.
    ///
    /// What does not answer is `None`. Closure contacts that cannot be read are neither shut nor open;
    /// the contactor's contact then counts as closed, stop as pressed, start and confirm as not.
    pub fn read(&mut self) -> Inputs {
        self.read = true;
        self.contacts = self.closure_contacts();
        let i2c = &mut self.i2c;
        let pressure_pa = self.pressure.as_mut().and_then(|(chip, scale)| {
            let code = chip.read(i2c)?;
            scale.pascals(code)
        });
        let heater_current_ma = self.current.as_mut().and_then(|(chip, scale)| {
            let code = chip.read(i2c)?;
            scale.milliamperes(code)
        });
        // Taken in any case: otherwise they would pile up.
        let crossings = self.heater.take_crossings();
        Inputs {
            control: self.control.read(),
            limit: self.limit.read(),
            pressure_pa,
            closure: self.contacts.unwrap_or_default(),
            contactor_closed: self.contactor_aux.is_low().unwrap_or(true),
            heater_current_ma,
            mains_crossings: self.counts_crossings.then_some(crossings),
            buttons: self.buttons.read(),
        }
    }

    fn closure_contacts(&mut self) -> Option<ClosureContacts> {
        let shut = self.shut_contact.is_low().ok();
        let open = self.open_contact.is_low().ok();
        Some(ClosureContacts { shut: shut?, open: open? })
    }

    /// Writes the outputs of the core: last thing in a tick. Every output is tried, whatever fails.
    ///
    /// # Errors
    /// The outputs that failed, or that no inputs were read in this tick. The watchdog then cannot be
    /// kicked. If heater or contactor failed, both have been switched off.
    pub fn write(&mut self, outputs: &Outputs) -> Result<KickToken, OutputErrors> {
        let heater = self.heater.load(outputs.heater_cycles, self.cycles_per_tick).is_err();
        let mut faults = OutputErrors {
            heater: heater || self.heater_failed,
            contactor: set(&mut self.contactor, outputs.contactor).is_err(),
            pump: set(&mut self.pump, outputs.pump).is_err(),
            isolation_valve: set(&mut self.isolation_valve, outputs.isolation_valve).is_err(),
            vent_valve: set(&mut self.vent_valve, outputs.vent_valve).is_err(),
            closure: self.closure.drive(outputs.open_closure, self.contacts).is_err(),
            lamp: set(&mut self.lamp, outputs.lamp).is_err(),
            buzzer: set(&mut self.buzzer, outputs.buzzer).is_err(),
            inputs_not_read: !self.read,
        };
        self.read = false;
        self.heater_failed = false;
        if faults.heater || faults.contactor || faults.inputs_not_read {
            faults.heater |= self.heater.off().is_err();
            faults.contactor |= self.contactor.set_low().is_err();
        }
        if faults.is_fatal() { Err(faults) } else { Ok(KickToken { faults }) }
    }

    /// Sets the heater's pin for the half-cycle that begins; to be called at each zero crossing. A
    /// failure of the pin switches the heater off and is reported by the next [`Board::write`].
    ///
    /// A late call, because a bus was busy, moves an edge of the pin into the half-cycle; see
    /// docs/drivers.md.
    pub fn zero_crossing(&mut self) {
        self.heater_failed |= self.heater.zero_crossing().is_err();
    }

    /// Gives the external watchdog an edge; once a tick, after writing.
    ///
    /// # Errors
    /// The watchdog's pin failed; the watchdog will then trip.
    pub fn kick(&mut self, done: KickToken) -> Result<(), O::Error> {
        let KickToken { faults: _ } = done;
        self.watchdog_high = !self.watchdog_high;
        set(&mut self.watchdog, self.watchdog_high)
    }

    /// Heat off, contactor open, nothing moves, everything else as in `Outputs::default()`; for the
    /// start and the end of the program. Every output is tried.
    pub fn safe(&mut self) -> OutputErrors {
        OutputErrors {
            heater: self.heater.off().is_err(),
            contactor: self.contactor.set_low().is_err(),
            pump: self.pump.set_low().is_err(),
            isolation_valve: self.isolation_valve.set_low().is_err(),
            vent_valve: self.vent_valve.set_low().is_err(),
            closure: self.closure.stop().is_err(),
            lamp: self.lamp.set_low().is_err(),
            buzzer: self.buzzer.set_low().is_err(),
            inputs_not_read: false,
        }
    }
}
