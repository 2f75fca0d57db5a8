//! Where a firing stands, for a device that notes it against a power cut.

use serde::{Deserialize, Serialize};

/// Where a firing was interrupted. A device writes it into its log while a firing runs, and offers it to
/// the core after a power cut. It holds nothing of the core's memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Bookmark {
    /// The step, from 0.
    pub step: u8,
    /// Time inside the band of a soak, or at the end of a move, that counts (s).
    pub gathered_s: u16,
    /// Last reading (°C).
    pub reading_c: i16,
    /// Bit 0: the chamber is open; bit 1: the shut contact was seen open; bit 2: the vacuum was drawn;
    /// bit 3: the programme ends the firing after a power cut in this step, which only the core sets.
    pub flags: u8,
}

impl Bookmark {
    /// The chamber was open.
    pub const CHAMBER_OPEN: u8 = 1;
    /// The contact that proves the chamber shut was seen open in this firing or since the last.
    pub const CONTACT_SEEN_OPEN: u8 = 1 << 1;
    /// The pressure of the vacuum stage had been reached.
    pub const VACUUM_DRAWN: u8 = 1 << 2;
    /// The firing may not go on: its programme says so for this step.
    pub const OVER: u8 = 1 << 3;

    /// Whether this flag is set.
    pub const fn has(&self, flag: u8) -> bool {
        self.flags & flag != 0
    }
}
