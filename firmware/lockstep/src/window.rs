//! Layout of the window: byte offsets, unless stated otherwise. All numbers are little-endian.

/// Address of the window in the board's memory.
pub const WINDOW_BASE: usize = 0x2100_0000;

/// Size of the window (bytes).
pub const WINDOW_BYTES: usize = 0x2_0000;

// The furnace's half.

/// Number of the turn that the board may take (u32). A turn is a tick, except with
/// [`MODE_LINK_ONLY`].
pub const TURN_STARTED: usize = 0x000;
/// Flags of the turn: [`MODE_SERIAL`], [`MODE_COUNT`], [`MODE_LINK_ONLY`] (u32).
pub const MODE: usize = 0x004;
/// The time (ms, u64).
pub const NOW_MS: usize = 0x008;
/// Levels of the board's input pins (u32), see [`Input`](crate::Input).
pub const PINS_IN: usize = 0x010;
/// Number of bytes in [`RX`] (u32).
pub const RX_LEN: usize = 0x014;
/// Bytes that arrive over the link.
pub const RX: usize = 0x800;
/// Capacity of [`RX`] (bytes).
pub const RX_CAPACITY: usize = 0x800;
/// Number of transfers in the script (u32).
pub const SCRIPT_LEN: usize = 0x018;
/// Number of the request that was answered last (u32).
pub const REPLY_NUMBER: usize = 0x01C;
/// Zero crossings of the mains in the tick (u32).
pub const MAINS_CROSSINGS: usize = 0x020;
/// The answered request: one [`BusTransfer`](crate::BusTransfer).
pub const REPLY: usize = 0x040;
/// The script: up to [`SCRIPT_MAX`] transfers.
pub const SCRIPT: usize = 0x080;
/// Maximum number of transfers in the script.
pub const SCRIPT_MAX: usize = 16;

// The board's half.

/// Number of the turn that the board has completed (u32).
pub const TURN_DONE: usize = 0x1000;
/// Number of the board's last request (u32).
pub const REQUEST_NUMBER: usize = 0x1004;
/// Number of transfers of the script that were used before the request (u32).
pub const SCRIPT_USED: usize = 0x1008;
/// Levels of the board's output pins (u32), see [`Output`](crate::Output).
pub const PINS_OUT: usize = 0x100C;
/// Level of the heater pin in each mains half-cycle of the tick, bit 0 first (u32).
pub const HALF_CYCLES: usize = 0x1010;
/// Number of mains half-cycles in the tick (u32).
pub const HALF_CYCLE_COUNT: usize = 0x1014;
/// Number of bytes in [`TX`] (u32).
pub const TX_LEN: usize = 0x1018;
/// Number of bytes in [`LOG`] (u32).
pub const LOG_LEN: usize = 0x101C;
/// State of the board (u32): [`STATE_RUNS`] or [`STATE_START_FAILED`].
pub const BOARD_STATE: usize = 0x1020;
/// Instruction counters of [`SECTION_COUNT`] sections: sum (u64), maximum (u32), padding (u32).
pub const SECTION_COUNTERS: usize = 0x1024;
/// Number of counted sections: read, step, write, link.
pub const SECTION_COUNT: usize = 4;
/// Maximum stack use (bytes, u32).
pub const STACK_PEAK: usize = 0x1064;
/// Display state (u32): the number of commits since the board started, and in bit 0 whether the
/// programme is still unconfirmed.
pub const DISPLAY_STATE: usize = 0x1068;
/// The inputs and outputs of the core in this tick (the words of a `wire::Tick`), with or without a
/// link.
pub const TICK_RECORD: usize = 0x10C0;
/// The requested transfer.
pub const REQUEST: usize = 0x1080;
/// Bytes to send over the link.
pub const TX: usize = 0x1100;
/// Capacity of [`TX`] (bytes).
pub const TX_CAPACITY: usize = 0x700;
/// Bytes of the board's debug log.
pub const LOG: usize = 0x1800;
/// Capacity of [`LOG`] (bytes).
pub const LOG_CAPACITY: usize = 0x800;

/// The flash for programmes, journal and settings.
pub const FLASH: usize = 0x1_0000;
/// Size of the flash (bytes).
pub const FLASH_BYTES: usize = 0xC000;
/// Size of an erase sector (bytes).
pub const FLASH_SECTOR: usize = 0x1000;

/// The link is the emulated serial port instead of this window.
pub const MODE_SERIAL: u32 = 1;
/// Count the instructions of each section. Off by default: reading the timer takes longer than the
/// sections themselves.
pub const MODE_COUNT: u32 = 2;
/// This turn is not a tick: the board only processes bytes from the link between two ticks.
pub const MODE_LINK_ONLY: u32 = 4;

/// The board is running.
pub const STATE_RUNS: u32 = 1;
/// The board could not start: it has no settings, or its flash does not work.
pub const STATE_START_FAILED: u32 = 2;

/// Maximum length of a transfer in one direction (bytes).
pub const TRANSFER_BYTES_MAX: usize = 24;

/// Size of a transfer in the window (words).
pub const TRANSFER_WORDS: usize = 16;

/// Size of a transfer in the window (bytes).
pub const TRANSFER_BYTES: usize = TRANSFER_WORDS * 4;
