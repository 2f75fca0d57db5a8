//! One tick on the link: all inputs and outputs of the core, so that it can be replayed.

use saggar_core::io::{Buttons, ClosureContacts, Inputs, Outputs, ThermocoupleSample};
use serde::{Deserialize, Serialize};

/// Words of a packed tick.
pub const TICK_WORDS: usize = 13;

/// A thermocouple channel; zeros where the front end did not answer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChannelSample {
    emf_nv: i32,
    cold_junction_mc: i32,
    age_ms: u16,
}

/// One tick: the measurements as numbers, everything else as bits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tick {
    /// Ticks since boot; a gap is a tick lost on the link.
    pub number: u32,
    /// The time that the core was given (ms).
    pub at_ms: u64,
    control: ChannelSample,
    limit: ChannelSample,
    pressure_pa: u32,
    heater_current_ma: u32,
    mains_crossings: u8,
    input_bits: u16,
    output_bits: u16,
}

impl Tick {
    /// Packs the inputs and outputs of a tick.
    pub fn new(number: u32, at_ms: u64, inputs: &Inputs, outputs: &Outputs) -> Self {
        let sample = |sample: Option<ThermocoupleSample>| {
            let s = sample.unwrap_or_default();
            ChannelSample {
                emf_nv: s.emf_nv,
                cold_junction_mc: s.cold_junction_mc,
                age_ms: s.age_ms,
            }
        };
        Self {
            number,
            at_ms,
            control: sample(inputs.control),
            limit: sample(inputs.limit),
            pressure_pa: inputs.pressure_pa.unwrap_or(0),
            heater_current_ma: inputs.heater_current_ma.unwrap_or(0),
            mains_crossings: inputs.mains_crossings.unwrap_or(0),
            input_bits: input_bits(inputs),
            output_bits: output_bits(outputs),
        }
    }

    /// The tick as words, for an emulated board that compares it with its furnace's side in every tick.
    pub fn words(&self) -> [u32; TICK_WORDS] {
        let at = self.at_ms.to_le_bytes();
        let [a, b, c, d, e, f, g, h] = at;
        let channel = |c: &ChannelSample| {
            [c.emf_nv.cast_unsigned(), c.cold_junction_mc.cast_unsigned(), u32::from(c.age_ms)]
        };
        let ([c0, c1, c2], [l0, l1, l2]) = (channel(&self.control), channel(&self.limit));
        let bits = u32::from(self.input_bits) | u32::from(self.output_bits) << 16;
        let (low, high) = (u32::from_le_bytes([a, b, c, d]), u32::from_le_bytes([e, f, g, h]));
        let (pressure, current) = (self.pressure_pa, self.heater_current_ma);
        let crossings = u32::from(self.mains_crossings);
        [self.number, low, high, c0, c1, c2, l0, l1, l2, pressure, current, crossings, bits]
    }

    /// The tick in these words.
    pub fn from_words(words: [u32; TICK_WORDS]) -> Self {
        let [
            number,
            low,
            high,
            c0,
            c1,
            c2,
            l0,
            l1,
            l2,
            pressure_pa,
            heater_current_ma,
            rest @ ..,
        ] = words;
        let [crossings, bits] = rest;
        let [mains_crossings, ..] = crossings.to_le_bytes();
        let half = |word: u32| {
            let [a, b, _, _] = word.to_le_bytes();
            u16::from_le_bytes([a, b])
        };
        let channel = |emf: u32, cold: u32, age: u32| ChannelSample {
            emf_nv: emf.cast_signed(),
            cold_junction_mc: cold.cast_signed(),
            age_ms: half(age),
        };
        Self {
            number,
            at_ms: u64::from(low) | u64::from(high) << 32,
            control: channel(c0, c1, c2),
            limit: channel(l0, l1, l2),
            pressure_pa,
            heater_current_ma,
            mains_crossings,
            input_bits: half(bits),
            output_bits: half(bits >> 16),
        }
    }

    /// The core's inputs.
    pub fn inputs(&self) -> Inputs {
        let bits = BitFlags(self.input_bits);
        let channel = |there: u8, open: u8, channel: &ChannelSample| {
            bits.at(there).then_some(ThermocoupleSample {
                emf_nv: channel.emf_nv,
                cold_junction_mc: channel.cold_junction_mc,
                open: bits.at(open),
                age_ms: channel.age_ms,
            })
        };
        Inputs {
            control: channel(0, 1, &self.control),
            limit: channel(2, 3, &self.limit),
            pressure_pa: bits.at(4).then_some(self.pressure_pa),
            closure: ClosureContacts { shut: bits.at(5), open: bits.at(6) },
            contactor_closed: bits.at(7),
            heater_current_ma: bits.at(8).then_some(self.heater_current_ma),
            mains_crossings: bits.at(12).then_some(self.mains_crossings),
            buttons: Buttons { start: bits.at(9), stop: bits.at(10), confirm: bits.at(11) },
        }
    }

    /// The core's outputs.
    pub fn outputs(&self) -> Outputs {
        let bits = BitFlags(self.output_bits);
        let [heater_cycles, _] = self.output_bits.to_le_bytes();
        Outputs {
            heater_cycles,
            contactor: bits.at(8),
            pump: bits.at(9),
            isolation_valve: bits.at(10),
            vent_valve: bits.at(11),
            open_closure: bits.at(12),
            lamp: bits.at(13),
            buzzer: bits.at(14),
        }
    }
}

/// Flags, packed into bits.
#[derive(Clone, Copy)]
struct BitFlags(u16);

impl BitFlags {
    const fn at(self, index: u8) -> bool {
        self.0.wrapping_shr(index as u32) & 1 == 1
    }

    fn of(flags: &[bool]) -> u16 {
        let mut bits = 0;
        for flag in flags.iter().rev() {
            bits = bits << 1 | u16::from(*flag);
        }
        bits
    }
}

fn input_bits(inputs: &Inputs) -> u16 {
    let Inputs {
        control,
        limit,
        pressure_pa,
        closure,
        contactor_closed,
        heater_current_ma,
        mains_crossings,
        buttons,
    } = inputs;
    BitFlags::of(&[
        control.is_some(),
        control.is_some_and(|sample| sample.open),
        limit.is_some(),
        limit.is_some_and(|sample| sample.open),
        pressure_pa.is_some(),
        closure.shut,
        closure.open,
        *contactor_closed,
        heater_current_ma.is_some(),
        buttons.start,
        buttons.stop,
        buttons.confirm,
        mains_crossings.is_some(),
    ])
}

fn output_bits(outputs: &Outputs) -> u16 {
    let Outputs {
        heater_cycles,
        contactor,
        pump,
        isolation_valve,
        vent_valve,
        open_closure,
        lamp,
        buzzer,
    } = *outputs;
    let flags = BitFlags::of(&[
        contactor,
        pump,
        isolation_valve,
        vent_valve,
        open_closure,
        lamp,
        buzzer,
    ]);
    u16::from(heater_cycles) | flags << 8
}
