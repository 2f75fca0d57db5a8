//! Counters that decide how long a finding must last.

/// A count of consecutive ticks.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Debounce(u16);

impl Debounce {
    /// True once `found` has held for `ticks` ticks in a row.
    pub(super) fn held(&mut self, found: bool, ticks: u16) -> bool {
        self.0 = if found { self.0.saturating_add(1) } else { 0 };
        self.0 >= ticks
    }
}

/// A bucket that bad samples fill and good ones drain: three bad ones in a row fill it, and so
/// does a contact that comes and goes.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Leaky(u8);

impl Leaky {
    const BAD: u8 = 4;
    const FULL: u8 = 12;

    /// Takes one sample; true if the bucket is full.
    pub(super) fn take(&mut self, bad: bool) -> bool {
        self.0 = if bad {
            self.0.saturating_add(Self::BAD).min(Self::FULL)
        } else {
            self.0.saturating_sub(1)
        };
        self.0 >= Self::FULL
    }
}
