//! The window of memory through which an emulated board and its furnace take turns: where what
//! lies, for both sides. All numbers are little-endian.
//!
//! The furnace writes its half and then [`TURN`]; the board runs one tick, writes its own half and
//! then [`DONE`] with the same number. What the board's parts will most likely be asked in that
//! tick has been asked of them beforehand: a script of exchanges with their answers. An exchange
//! that is not the next one of the script is asked by itself ([`ASKED`], [`ANSWERED`]).

use saggar_core::furnace::Furnace;
use saggar_core::store::{Layout, Region};

use crate::board::Settings;
use crate::max31856::Mains;
use crate::scale::{CurrentScale, PressureScale};

/// Where the window begins in the board's memory.
pub const BASE: usize = 0x2100_0000;

/// Bytes of the window that both sides use.
pub const BYTES: usize = 0x2_0000;

// The furnace's half.

/// Number of the tick that the board may run (u32).
pub const TURN: usize = 0x000;
/// What the board is to do besides ([`MODE_SERIAL`], [`MODE_COUNT`]) (u32).
pub const MODE: usize = 0x004;
/// The time (ms, u64).
pub const NOW_MS: usize = 0x008;
/// Levels of the board's input pins (u32), see [`Input`].
pub const PINS_IN: usize = 0x010;
/// Bytes that the line brings (u32), and the bytes.
pub const RX_BYTES: usize = 0x014;
/// The bytes of the line.
pub const RX: usize = 0x800;
/// Room for them.
pub const RX_MAX: usize = 0x800;
/// Exchanges in the script (u32).
pub const SCRIPT_COUNT: usize = 0x018;
/// Number of the exchange that was answered last (u32).
pub const ANSWERED: usize = 0x01C;
/// That answer: one [`Exchange`].
pub const ANSWER: usize = 0x040;
/// The script: [`SCRIPT_MAX`] exchanges.
pub const SCRIPT: usize = 0x080;
/// Most exchanges of a script.
pub const SCRIPT_MAX: usize = 16;

// The board's half.

/// Number of the tick that the board has run (u32).
pub const DONE: usize = 0x1000;
/// Number of the exchange that the board asks for (u32).
pub const ASKED: usize = 0x1004;
/// Exchanges of the script that were used before it (u32).
pub const USED: usize = 0x1008;
/// Levels of the board's output pins (u32), see [`Output`].
pub const PINS_OUT: usize = 0x100C;
/// The heater's pin in each half-cycle of the tick, bit 0 first (u32), and how many there were.
pub const HALF_CYCLES: usize = 0x1010;
/// How many half-cycles the mains had (u32).
pub const HALF_CYCLE_COUNT: usize = 0x1014;
/// Bytes for the line (u32), and the bytes.
pub const TX_BYTES: usize = 0x1018;
/// Bytes of the log (u32), and the bytes.
pub const LOG_BYTES: usize = 0x101C;
/// State of the board (u32): [`STATE_RUNS`] or why it does not.
pub const STATE: usize = 0x1020;
/// Counters of instructions: [`METERS`] of three words, sum (u64) and largest (u32), with a gap.
pub const METER: usize = 0x1024;
/// Sections that are counted: read, step, write, say.
pub const METERS: usize = 4;
/// Most bytes of stack that were in use (u32).
pub const STACK: usize = 0x1064;
/// Bytes of [`WITNESS`] (u32).
pub const WITNESS_BYTES: usize = 0x1068;
/// The tick as the core saw it and answered (postcard of a `wire::Tick`), line or no line.
pub const WITNESS: usize = 0x10C0;
/// Room for it.
pub const WITNESS_MAX: usize = 0x40;
/// The exchange that is asked for.
pub const QUESTION: usize = 0x1080;
/// The bytes for the line.
pub const TX: usize = 0x1100;
/// Room for them.
pub const TX_MAX: usize = 0x700;
/// The bytes of the log.
pub const LOG: usize = 0x1800;
/// Room for them.
pub const LOG_MAX: usize = 0x800;

/// The flash for programmes, log and settings.
pub const FLASH: usize = 0x1_0000;
/// Its size.
pub const FLASH_BYTES: usize = 0xC000;
/// One erase sector of it.
pub const FLASH_SECTOR: usize = 0x1000;

/// The line is the emulated serial port, not this window.
pub const MODE_SERIAL: u32 = 1;
/// Count time in the sections of a tick; looking at the timer takes longer than the sections.
pub const MODE_COUNT: u32 = 2;

/// The board runs.
pub const STATE_RUNS: u32 = 1;
/// It could not come up: no settings, or a flash that does not work.
pub const STATE_NOT_UP: u32 = 2;

/// Most bytes of an exchange in one direction.
pub const EXCHANGE_MAX: usize = 24;

/// Words of an exchange in the window.
pub const EXCHANGE_WORDS: usize = 16;

/// Bytes of one.
pub const EXCHANGE_BYTES: usize = EXCHANGE_WORDS * 4;

/// Address of the pressure gauge's converter, and the scale of the gauge.
pub const GAUGE: (u8, PressureScale) =
    (0x48, PressureScale { zero_mv: 500, pa_per_mv: 32, lowest_mv: 250, highest_mv: 4000 });

/// Address of the current sensor's converter, and its scale.
pub const CURRENT: (u8, CurrentScale) = (0x49, CurrentScale { ma_per_mv: 5 });

/// What lies where in the flash.
pub const fn layout() -> Layout {
    const SECTOR: u32 = 0x1000;
    const _: () = assert!(SECTOR as usize == FLASH_SECTOR);
    const fn sectors(first: u32, count: u32) -> Region {
        Region { at: first.saturating_mul(SECTOR), bytes: count.saturating_mul(SECTOR) }
    }
    Layout {
        slots: [sectors(0, 1), sectors(1, 1)],
        journal: [sectors(2, 4), sectors(6, 4)],
        settings: sectors(10, 1),
    }
}

/// What the board has to be told of this furnace.
pub fn settings(furnace: &Furnace) -> Settings {
    Settings {
        control: furnace.control_sensor,
        limit: furnace.limit_sensor,
        mains: if furnace.heater.mains_hz == 60 { Mains::Hz60 } else { Mains::Hz50 },
        pressure: furnace.vacuum.is_some().then_some(GAUGE),
        current: Some(CURRENT),
    }
}

/// A part on a bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// SPI of the control thermocouple.
    Control,
    /// SPI of the limit thermocouple.
    Limit,
    /// The I²C bus; the first byte out is the address.
    Slow,
}

/// Input pins, by their bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// Data-ready of the control thermocouple.
    ControlReady,
    /// Data-ready of the limit thermocouple.
    LimitReady,
    /// Auxiliary contact of the contactor.
    ContactorAux,
    /// The contact of the shut end.
    Shut,
    /// The contact of the open end.
    Open,
    /// Start button.
    Start,
    /// Stop button.
    Stop,
    /// Confirm button.
    Confirm,
}

/// Output pins, by their bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Output {
    /// Heater relay.
    Heater,
    /// Contactor.
    Contactor,
    /// Pump.
    Pump,
    /// Isolation valve.
    IsolationValve,
    /// Vent valve.
    VentValve,
    /// Lift towards open, or the door's lamp.
    ToOpen,
    /// Lift towards shut.
    ToShut,
    /// Lamp.
    Lamp,
    /// Buzzer.
    Buzzer,
    /// External watchdog.
    Watchdog,
}

impl Input {
    /// Its bit in [`PINS_IN`].
    pub const fn bit(self) -> u32 {
        1u32.wrapping_shl(self as u32)
    }
}

impl Output {
    /// Its bit in [`PINS_OUT`].
    pub const fn bit(self) -> u32 {
        1u32.wrapping_shl(self as u32)
    }
}

impl Part {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Control, Self::Limit, Self::Slow];

    const fn number(self) -> u32 {
        match self {
            Self::Control => 0,
            Self::Limit => 1,
            Self::Slow => 2,
        }
    }
}

/// One exchange on a bus: so many bytes out, so many in, and how the input pins stand after it. It
/// lies in the window as words: part, answered, bytes out, bytes in (a byte each); pins; what goes
/// out; what comes in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Exchange(pub [u32; EXCHANGE_WORDS]);

const OUT_WORD: usize = 2;
const IN_WORD: usize = OUT_WORD + EXCHANGE_MAX / 4;

impl Exchange {
    /// A question to a part; `None` if it is longer than any.
    pub fn asking(part: Part, out: &[u8], in_bytes: usize) -> Option<Self> {
        if out.len() > EXCHANGE_MAX || in_bytes > EXCHANGE_MAX {
            return None;
        }
        let counts =
            [part.number(), 0, u32::try_from(out.len()).ok()?, u32::try_from(in_bytes).ok()?];
        let [part, _, sent, wanted] = counts;
        let mut words = [0; EXCHANGE_WORDS];
        *words.first_mut()? = part | sent << 16 | wanted << 24;
        put(words.get_mut(OUT_WORD..IN_WORD)?, out);
        Some(Self(words))
    }

    /// The other asks the same of the same part.
    pub fn same_question(&self, other: &Self) -> bool {
        const NOT_ANSWERED: u32 = !0xFF00;
        let head = |e: &Self| e.0.first().map(|word| word & NOT_ANSWERED);
        head(self) == head(other)
            && self.0.get(OUT_WORD..IN_WORD) == other.0.get(OUT_WORD..IN_WORD)
    }

    /// The part that is asked.
    pub fn part(&self) -> Option<Part> {
        Part::ALL.into_iter().find(|part| part.number() == self.head(0))
    }

    /// The part answered.
    pub fn answered(&self) -> bool {
        self.head(1) != 0
    }

    /// Levels of the input pins after it.
    pub fn pins(&self) -> u32 {
        self.0.get(1).copied().unwrap_or(0)
    }

    /// What goes out: as many bytes of `room` as there are.
    pub fn sent<'a>(&self, room: &'a mut [u8; EXCHANGE_MAX]) -> &'a [u8] {
        get(self.0.get(OUT_WORD..IN_WORD).unwrap_or(&[]), room);
        usize::try_from(self.head(2)).ok().and_then(|n| room.get(..n)).unwrap_or(&[])
    }

    /// Bytes that are wanted back.
    pub fn wanted(&self) -> usize {
        usize::try_from(self.head(3)).unwrap_or(0).min(EXCHANGE_MAX)
    }

    /// What came back, into all of `room`.
    pub fn fetch(&self, room: &mut [u8]) {
        get(self.0.get(IN_WORD..).unwrap_or(&[]), room);
    }

    /// The same with its answer; `None` is a part that does not answer.
    pub fn with_answer(mut self, back: Option<&[u8]>, pins: u32) -> Self {
        if let Some(word) = self.0.get_mut(1) {
            *word = pins;
        }
        if let Some(back) = back {
            if let Some(word) = self.0.first_mut() {
                *word |= 1 << 8;
            }
            put(self.0.get_mut(IN_WORD..).unwrap_or(&mut []), back);
        }
        self
    }

    fn head(&self, byte: usize) -> u32 {
        let bytes = self.0.first().map_or([0; 4], |word| word.to_le_bytes());
        bytes.get(byte).copied().map_or(0, u32::from)
    }
}

fn put(words: &mut [u32], bytes: &[u8]) {
    for (word, four) in words.iter_mut().zip(bytes.chunks(4)) {
        let mut whole = [0; 4];
        for (place, byte) in whole.iter_mut().zip(four) {
            *place = *byte;
        }
        *word = u32::from_le_bytes(whole);
    }
}

fn get(words: &[u32], bytes: &mut [u8]) {
    let all = words.iter().flat_map(|word| word.to_le_bytes());
    for (place, byte) in bytes.iter_mut().zip(all) {
        *place = byte;
    }
}
