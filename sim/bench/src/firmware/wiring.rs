//! The wires between a furnace and a board: what the instruments say becomes registers of the
//! parts that a board has, and what the board's pins do becomes what moves the furnace.

use crate::chips::ads1115::Ads1115Model;
use crate::chips::ads1220::Ads1220Model;
use crate::chips::max31856::Max31856Model;
use crate::chips::{ChipFault, Terminals};
use saggar_core::io::{Inputs, Outputs, ThermocoupleSample};
use saggar_lockstep::{BusTransfer, CURRENT, GAUGE, Input, Output, Part, TRANSFER_BYTES_MAX};

/// Ticks without an edge after which the external watchdog opens the contactor: the longest that
/// the retrofit guide allows.
const WATCHDOG_TICKS: u8 = 10;

/// Level of a line that nobody drives.
const HANGS: u8 = 0xFF;

/// The parts on a board's buses.
#[derive(Clone, Debug, Default)]
struct PartModels {
    control: Ads1220Model,
    limit: Max31856Model,
    gauge: Ads1115Model,
    sensor: Ads1115Model,
}

/// Parts, pins, and the external watchdog, between a furnace and a board.
#[derive(Clone, Debug, Default)]
pub struct Wiring {
    parts: PartModels,
    contacts: u32,
    pins_out: u32,
    /// Half-cycles of the mains in the last tick, bit 0 first.
    half_cycles: u32,
    open: bool,
    edge: bool,
    quiet_ticks: u8,
    /// What the board asked in the last tick, in order.
    asked: Vec<BusTransfer>,
}

impl Wiring {
    /// What the instruments say at the beginning of a tick.
    pub fn set_inputs(&mut self, inputs: &Inputs) {
        let parts = &mut self.parts;
        let (terminals, ailment) = terminals_of(inputs.control.as_ref());
        parts.control.set(terminals, ailment);
        let (terminals, ailment) = terminals_of(inputs.limit.as_ref());
        parts.limit.set(terminals, ailment);
        let gauge = GAUGE.1;
        let mv = inputs
            .pressure_pa
            .map(|pa| f64::from(gauge.zero_mv) + f64::from(pa) / f64::from(gauge.pa_per_mv));
        parts.gauge.set(mv.unwrap_or(0.0), ailing(mv.is_some()));
        let mv =
            inputs.heater_current_ma.map(|ma| f64::from(ma) / f64::from(CURRENT.1.ma_per_mv));
        parts.sensor.set(mv.unwrap_or(0.0), ailing(mv.is_some()));
        parts.control.tick();
        parts.limit.tick();
        parts.gauge.tick();
        parts.sensor.tick();
        self.contacts = contacts(inputs);
        self.asked.clear();
    }

    /// Levels of the board's input pins.
    pub fn pins(&self) -> u32 {
        let high = |pin: Input, high: bool| if high { pin.bit() } else { 0 };
        self.contacts
            | high(Input::ControlReady, !self.parts.control.data_ready_low())
            | high(Input::LimitReady, !self.parts.limit.data_ready_low())
    }

    /// The board asks a part.
    pub fn exchange(&mut self, question: &BusTransfer) -> BusTransfer {
        self.asked.push(*question);
        let mut out = [0; TRANSFER_BYTES_MAX];
        let sent = question.copy_request(&mut out);
        let mut room = [0; TRANSFER_BYTES_MAX];
        let back = &mut room[..question.reply_len()];
        let answered = match question.part() {
            Some(Part::Control) => {
                self.parts.control.transfer(sent, back);
                true
            }
            Some(Part::Limit) => {
                self.parts.limit.transfer(sent, back);
                true
            }
            Some(Part::Slow) => self.slow(sent, back),
            None => false,
        };
        question.with_reply(answered.then_some(back), self.pins())
    }

    fn slow(&mut self, sent: &[u8], back: &mut [u8]) -> bool {
        let Some((address, bytes)) = sent.split_first() else { return false };
        let chip = if *address == GAUGE.0 {
            &mut self.parts.gauge
        } else if *address == CURRENT.0 {
            &mut self.parts.sensor
        } else {
            return false;
        };
        match (bytes.is_empty(), back.is_empty()) {
            (false, true) => chip.write(bytes),
            (true, _) => chip.read(back),
            (false, false) => chip.write_read(bytes, back),
        }
        .is_ok()
    }

    /// What the parts would answer to these questions, one after the other.
    pub fn predict(&self, questions: &[BusTransfer]) -> Vec<BusTransfer> {
        let mut copy = self.clone();
        questions.iter().map(|question| copy.exchange(question)).collect()
    }

    /// The bus transfers since [`Self::set_inputs`].
    pub fn exchanges(&self) -> &[BusTransfer] {
        &self.asked
    }

    /// A pin of the board goes high or low.
    pub fn drive(&mut self, pin: Output, high: bool) {
        if high {
            self.pins_out |= pin.bit();
        } else {
            self.pins_out &= !pin.bit();
        }
    }

    /// A half-cycle of the mains passes with the heater's pin as it is.
    pub fn half_cycle(&mut self, index: u32) {
        let on = u32::from(self.pins_out & Output::Heater.bit() != 0);
        self.half_cycles |= on << index.min(31);
    }

    /// All pins at once, and the half-cycles of a tick.
    pub fn drive_all(&mut self, pins: u32, half_cycles: u32) {
        self.pins_out = pins;
        self.half_cycles = half_cycles;
    }

    /// The tick is over: what the pins make the furnace do. A contactor whose watchdog has seen no
    /// edge is open, whatever the pin says.
    pub fn end_tick(&mut self) -> Outputs {
        let pins = self.pins_out;
        let on = |pin: Output| pins & pin.bit() != 0;
        // A lift stays where it is when neither output is on.
        if on(Output::ToOpen) {
            self.open = true;
        } else if on(Output::ToShut) {
            self.open = false;
        }
        let edge = on(Output::Watchdog);
        self.quiet_ticks =
            if edge == self.edge { self.quiet_ticks.saturating_add(1) } else { 0 };
        self.edge = edge;
        let kicked = self.quiet_ticks < WATCHDOG_TICKS;
        let halves = std::mem::take(&mut self.half_cycles);
        // Both halves of a cycle, or it would be direct current.
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

const fn ailing(answers: bool) -> ChipFault {
    if answers { ChipFault::None } else { ChipFault::Silent(HANGS) }
}

fn terminals_of(sample: Option<&ThermocoupleSample>) -> (Terminals, ChipFault) {
    let terminals = sample.map_or(Terminals::default(), |sample| Terminals {
        emf_nv: sample.emf_nv,
        cold_mc: sample.cold_junction_mc,
        open: sample.open,
        over_under: false,
    });
    (terminals, ailing(sample.is_some()))
}

/// Contacts and buttons as they are wired: low is closed, and a stop button opens when pressed.
fn contacts(inputs: &Inputs) -> u32 {
    let high = |pin: Input, high: bool| if high { pin.bit() } else { 0 };
    high(Input::ContactorAux, !inputs.contactor_closed)
        | high(Input::Shut, !inputs.closure.shut)
        | high(Input::Open, !inputs.closure.open)
        | high(Input::Start, !inputs.buttons.start)
        | high(Input::Stop, inputs.buttons.stop)
        | high(Input::Confirm, !inputs.buttons.confirm)
}
