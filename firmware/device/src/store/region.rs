//! A region of the flash.

/// A region of the flash, made of whole erase sectors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Region {
    /// First byte.
    pub at: u32,
    /// Length in bytes.
    pub bytes: u32,
}

impl Region {
    #[inline]
    pub(super) fn fits(&self, sector: u32, bytes_min: usize, capacity: usize) -> bool {
        let end = self.at.checked_add(self.bytes).map(usize::try_from);
        self.at.is_multiple_of(sector)
            && self.bytes.is_multiple_of(sector)
            && usize::try_from(self.bytes).is_ok_and(|bytes| bytes >= bytes_min)
            && matches!(end, Some(Ok(end)) if end <= capacity)
    }

    pub(super) const fn is_apart_from(&self, other: &Self) -> bool {
        self.at.saturating_add(self.bytes) <= other.at
            || other.at.saturating_add(other.bytes) <= self.at
    }
}
