//! What lies where in the window. All numbers are little-endian.

/// Where the window begins in the board's memory.
pub const WINDOW_BASE: usize = 0x2100_0000;

/// Bytes of the window that both sides use.
pub const WINDOW_BYTES: usize = 0x2_0000;

// The furnace's half.

/// Number of the turn that the board may take (u32): a tick, but for [`MODE_LINE`].
pub const TURN_STARTED: usize = 0x000;
/// What the board is to do besides, or instead ([`MODE_SERIAL`], [`MODE_COUNT`], [`MODE_LINE`])
/// (u32).
pub const MODE: usize = 0x004;
/// The time (ms, u64).
pub const NOW_MS: usize = 0x008;
/// Levels of the board's input pins (u32), see [`Input`](crate::Input).
pub const PINS_IN: usize = 0x010;
/// Bytes that the line brings (u32), and the bytes.
pub const RX_LEN: usize = 0x014;
/// The bytes of the line.
pub const RX: usize = 0x800;
/// Room for them.
pub const RX_CAPACITY: usize = 0x800;
/// Exchanges in the script (u32).
pub const SCRIPT_LEN: usize = 0x018;
/// Number of the exchange that was answered last (u32).
pub const REPLY_NUMBER: usize = 0x01C;
/// That answer: one [`Exchange`](crate::Exchange).
pub const REPLY: usize = 0x040;
/// The script: [`SCRIPT_MAX`] exchanges.
pub const SCRIPT: usize = 0x080;
/// Most exchanges of a script.
pub const SCRIPT_MAX: usize = 16;

// The board's half.

/// Number of the turn that the board has taken (u32).
pub const TURN_DONE: usize = 0x1000;
/// Number of the exchange that the board asks for (u32).
pub const REQUEST_NUMBER: usize = 0x1004;
/// Exchanges of the script that were used before it (u32).
pub const SCRIPT_USED: usize = 0x1008;
/// Levels of the board's output pins (u32), see [`Output`](crate::Output).
pub const PINS_OUT: usize = 0x100C;
/// The heater's pin in each half-cycle of the tick, bit 0 first (u32), and how many there were.
pub const HALF_CYCLES: usize = 0x1010;
/// How many half-cycles the mains had (u32).
pub const HALF_CYCLE_COUNT: usize = 0x1014;
/// Bytes for the line (u32), and the bytes.
pub const TX_LEN: usize = 0x1018;
/// Bytes of the log (u32), and the bytes.
pub const LOG_LEN: usize = 0x101C;
/// State of the board (u32): [`STATE_RUNS`] or why it does not.
pub const BOARD_STATE: usize = 0x1020;
/// Counters of instructions: [`METERS`] of three words, sum (u64) and largest (u32), with a gap.
pub const SECTION_COUNTERS: usize = 0x1024;
/// Sections that are counted: read, step, write, say.
pub const SECTION_COUNT: usize = 4;
/// Most bytes of stack that were in use (u32).
pub const STACK_PEAK: usize = 0x1064;
/// What a display announces (u32): the commits since the board came up, and in bit 0 that nobody
/// has confirmed the programme.
pub const DISPLAY_STATE: usize = 0x1068;
/// The tick as the core saw it and answered (the words of a `wire::Tick`), line or no line.
pub const TICK_RECORD: usize = 0x10C0;
/// The exchange that is asked for.
pub const REQUEST: usize = 0x1080;
/// The bytes for the line.
pub const TX: usize = 0x1100;
/// Room for them.
pub const TX_CAPACITY: usize = 0x700;
/// The bytes of the log.
pub const LOG: usize = 0x1800;
/// Room for them.
pub const LOG_CAPACITY: usize = 0x800;

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
/// This turn is no tick: the board is given bytes of the line between two, and answers.
pub const MODE_LINK_ONLY: u32 = 4;

/// The board runs.
pub const STATE_RUNS: u32 = 1;
/// It could not come up: no settings, or a flash that does not work.
pub const STATE_START_FAILED: u32 = 2;

/// Most bytes of an exchange in one direction.
pub const TRANSFER_BYTES_MAX: usize = 24;

/// Words of an exchange in the window.
pub const TRANSFER_WORDS: usize = 16;

/// Bytes of one.
pub const TRANSFER_BYTES: usize = TRANSFER_WORDS * 4;
