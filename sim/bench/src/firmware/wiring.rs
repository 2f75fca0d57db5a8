//! The wiring between a furnace and a board: instrument readings become register contents of the
//! board's chips, and the board's output pins become outputs to the furnace.

use crate::chips::ads1115::Ads1115Model;
use crate::chips::ads1220::Ads1220Model;
use crate::chips::max31856::Max31856Model;
use crate::chips::{ChipFault, Terminals};
use saggar_core::io::{Inputs, Outputs, ThermocoupleSample};
use saggar_lockstep::{BusTransfer, CURRENT, GAUGE, Input, Output, Part, TRANSFER_BYTES_MAX};

/// Ticks without an edge after which the external watchdog opens the contactor: the maximum that the
/// retrofit guide allows.
const WATCHDOG_TICKS: u8 = 10;

/// Level of a data line that no chip drives.
const UNDRIVEN: u8 = 0xFF;

/// The chips on a board's buses.
#[derive(Clone, Debug, Default)]
struct PartModels {
    control: Ads1220Model,
    limit: Max31856Model,
    gauge: Ads1115Model,
    sensor: Ads1115Model,
}

/// Chips, pins and the external watchdog, between a furnace and a board.
#[derive(Clone, Debug, Default)]
pub struct Wiring {
    parts: PartModels,
    contacts: u32,
    mains_crossings: Option<u8>,
    pins_out: u32,
    /// Half-cycles of the mains in the last tick, bit 0 first.
    half_cycles: u32,
    open: bool,
    /// Level of the watchdog pin in the last tick, and ticks since it last changed.
    watchdog_level: bool,
    quiet_ticks: u8,
    /// Bus transfers of the current tick, in order.
    requests: Vec<BusTransfer>,
}

impl Wiring {
    /// The same wiring after a power cut: the chips and pins have forgotten everything, and only the drive
    /// of the lift or door stays as it was.
    pub(super) fn switched_off(&self) -> Self {
        Self { open: self.open, ..Self::default() }
    }

    /// Begins a tick: applies the instrument readings to the chips and pins.
    pub fn set_inputs(&mut self, inputs: &Inputs) {
        let parts = &mut self.parts;
        let (terminals, fault) = terminals_of(inputs.control.as_ref());
        parts.control.set(terminals, fault);
        let (terminals, fault) = terminals_of(inputs.limit.as_ref());
        parts.limit.set(terminals, fault);
        let gauge = GAUGE.1;
        let mv = inputs
            .pressure_pa
            .map(|pa| f64::from(gauge.zero_mv) + f64::from(pa) / f64::from(gauge.pa_per_mv));
        parts.gauge.set(mv.unwrap_or(0.0), silent_unless(mv.is_some()));
        let mv =
            inputs.heater_current_ma.map(|ma| f64::from(ma) / f64::from(CURRENT.1.ma_per_mv));
        parts.sensor.set(mv.unwrap_or(0.0), silent_unless(mv.is_some()));
        parts.control.tick();
        parts.limit.tick();
        parts.gauge.tick();
        parts.sensor.tick();
        self.contacts = contacts(inputs);
        self.mains_crossings = inputs.mains_crossings;
        self.requests.clear();
    }

    /// Levels of the board's input pins.
    pub fn pins(&self) -> u32 {
        let high = |pin: Input, high: bool| if high { pin.bit() } else { 0 };
        self.contacts
            | high(Input::ControlReady, !self.parts.control.data_ready_low())
            | high(Input::LimitReady, !self.parts.limit.data_ready_low())
    }

    /// Zero crossings of the mains in a tick; `None` if the furnace does not count them.
    pub fn mains_crossings(&self) -> Option<u8> {
        self.mains_crossings
    }

    /// Performs a bus transfer and returns it with the chip's reply.
    pub fn exchange(&mut self, request: &BusTransfer) -> BusTransfer {
        self.requests.push(*request);
        let mut out = [0; TRANSFER_BYTES_MAX];
        let sent = request.copy_request(&mut out);
        let mut buffer = [0; TRANSFER_BYTES_MAX];
        let reply = &mut buffer[..request.reply_len()];
        let acknowledged = match request.part() {
            Some(Part::Control) => {
                self.parts.control.transfer(sent, reply);
                true
            }
            Some(Part::Limit) => {
                self.parts.limit.transfer(sent, reply);
                true
            }
            Some(Part::Slow) => self.slow_bus(sent, reply),
            None => false,
        };
        request.with_reply(acknowledged.then_some(reply), self.pins())
    }

    fn slow_bus(&mut self, sent: &[u8], reply: &mut [u8]) -> bool {
        let Some((address, bytes)) = sent.split_first() else { return false };
        let chip = if *address == GAUGE.0 {
            &mut self.parts.gauge
        } else if *address == CURRENT.0 {
            &mut self.parts.sensor
        } else {
            return false;
        };
        match (bytes.is_empty(), reply.is_empty()) {
            (false, true) => chip.write(bytes),
            (true, _) => chip.read(reply),
            (false, false) => chip.write_read(bytes, reply),
        }
        .is_ok()
    }

    /// Predicts the replies to these transfers, made one after the other, without performing them.
    pub fn predict(&self, requests: &[BusTransfer]) -> Vec<BusTransfer> {
        let mut copy = self.clone();
        requests.iter().map(|request| copy.exchange(request)).collect()
    }

    /// The bus transfers since [`Self::set_inputs`].
    pub fn exchanges(&self) -> &[BusTransfer] {
        &self.requests
    }

    /// Sets an output pin of the board high or low.
    pub fn drive(&mut self, pin: Output, high: bool) {
        if high {
            self.pins_out |= pin.bit();
        } else {
            self.pins_out &= !pin.bit();
        }
    }

    /// Records whether the heater pin is high in this half-cycle of the mains.
    pub fn half_cycle(&mut self, index: u32) {
        let on = u32::from(self.pins_out & Output::Heater.bit() != 0);
        self.half_cycles |= on << index.min(31);
    }

    /// Sets all output pins, and the conducting half-cycles of the tick.
    pub fn drive_all(&mut self, pins: u32, half_cycles: u32) {
        self.pins_out = pins;
        self.half_cycles = half_cycles;
    }

    /// Ends the tick and returns the outputs that reach the furnace. The contactor is open when the
    /// watchdog has seen no edge, whatever the contactor pin.
    pub fn end_tick(&mut self) -> Outputs {
        let pins = self.pins_out;
        let on = |pin: Output| pins & pin.bit() != 0;
        // The lift does not move while neither output is on.
        if on(Output::ToOpen) {
            self.open = true;
        } else if on(Output::ToShut) {
            self.open = false;
        }
        let level = on(Output::Watchdog);
        self.quiet_ticks =
            if level == self.watchdog_level { self.quiet_ticks.saturating_add(1) } else { 0 };
        self.watchdog_level = level;
        let kicked = self.quiet_ticks < WATCHDOG_TICKS;
        let halves = std::mem::take(&mut self.half_cycles);
        // Only whole cycles count; a single half-wave would load the mains with direct current.
        let cycles = (0..8).fold(0u8, |all, cycle| {
            let both = halves >> (2 * cycle) & 3 == 3;
            all | u8::from(both) << cycle
        });
        Outputs {
            heater_cycles: cycles,
            contactor: on(Output::Contactor) && kicked,
            pump: on(Output::Pump),
            isolation_valve: on(Output::IsolationValve),
            vent_valve: on(Output::VentValve),
            open_closure: self.open,
            lamp: on(Output::Lamp),
            buzzer: on(Output::Buzzer),
        }
    }
}

const fn silent_unless(responds: bool) -> ChipFault {
    if responds { ChipFault::None } else { ChipFault::Silent(UNDRIVEN) }
}

fn terminals_of(sample: Option<&ThermocoupleSample>) -> (Terminals, ChipFault) {
    let terminals = sample.map_or(Terminals::default(), |sample| Terminals {
        emf_nv: sample.emf_nv,
        cold_mc: sample.cold_junction_mc,
        open: sample.open,
        over_under: false,
    });
    (terminals, silent_unless(sample.is_some()))
}

/// Contacts and buttons as they are wired: a closed contact reads low; the stop button opens when pressed.
fn contacts(inputs: &Inputs) -> u32 {
    let high = |pin: Input, high: bool| if high { pin.bit() } else { 0 };
    high(Input::ContactorAux, !inputs.contactor_closed)
        | high(Input::Shut, !inputs.closure.shut)
        | high(Input::Open, !inputs.closure.open)
        | high(Input::Start, !inputs.buttons.start)
        | high(Input::Stop, inputs.buttons.stop)
        | high(Input::Confirm, !inputs.buttons.confirm)
}
