//! Two slots for programmes: the active one is never touched; the other takes the next one and
//! becomes active by the last bytes that are written to it.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::programme::{DIGEST_BYTES, IMAGE_BYTES_MAX};
use sha2::{Digest, Sha256};

use super::layout::Side;
use super::lines::{LINE, Lines};
use super::{Active, HEADER_BYTES, Region, Store, StoreError};

/// The line at which the programme begins.
const BODY: u32 = 3;
const _: () = assert!(BODY as usize * LINE as usize == HEADER_BYTES);

/// What [`Store::open`] found in a slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Found {
    /// Nothing.
    Blank,
    /// A programme with its digest.
    Whole,
    /// What a cut left; it was erased.
    Torn,
    /// What a cut left, and the flash would not erase it.
    Stuck,
    /// A committed programme, newer than any that is whole, whose bytes have changed since. It
    /// is left as it is until the next upload.
    Damaged,
}

/// A programme on its way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Staged {
    /// Its length in bytes.
    pub bytes: u16,
    /// How many of them are in flash.
    pub written: u16,
}

/// What is in a slot.
#[derive(Clone, Copy)]
enum Look {
    Blank,
    Whole(Active),
    /// The header is good and the bytes are not what it says.
    Broken(Active),
    Torn,
}

impl Look {
    const fn header(&self) -> Option<Active> {
        match self {
            Self::Whole(header) | Self::Broken(header) => Some(*header),
            Self::Blank | Self::Torn => None,
        }
    }

    const fn whole(&self) -> Option<Active> {
        match self {
            Self::Whole(header) => Some(*header),
            Self::Blank | Self::Broken(_) | Self::Torn => None,
        }
    }
}

/// What is remembered of the slots.
pub(super) struct Slots {
    pub(super) active: Option<(Side, Active)>,
    pub(super) found: [Found; 2],
    /// Sequence of the newest header that can be read; 0 if none.
    newest: u32,
    staged: Option<Staged>,
}

impl Slots {
    /// Looks at both slots and erases what a cut left.
    pub(super) fn open<F: NorFlash>(
        flash: &mut Lines<F>,
        [first, second]: [Region; 2],
    ) -> Result<Self, StoreError> {
        let looks = [look(flash, first)?, look(flash, second)?];
        let [a, b] = looks;
        let active = match (a.whole(), b.whole()) {
            (Some(a), Some(b)) if b.is_later_than(&a) => Some((Side::Second, b)),
            (Some(a), _) => Some((Side::First, a)),
            (None, b) => b.map(|b| (Side::Second, b)),
        };
        let newest = match (a.header(), b.header()) {
            (Some(a), Some(b)) if b.is_later_than(&a) => b.sequence,
            (Some(a), _) => a.sequence,
            (None, b) => b.map_or(0, |b| b.sequence),
        };
        let whole = active.map(|(_, header)| header);
        let found = [settle(flash, first, a, whole), settle(flash, second, b, whole)];
        Ok(Self { active, found, newest, staged: None })
    }

    /// The slot for the next programme.
    const fn passive(&self) -> Side {
        match self.active {
            Some((side, _)) => side.other(),
            None => Side::First,
        }
    }
}

/// The repair. Nothing here may keep a whole programme from being used, so a slot that cannot
/// be erased is only told of.
fn settle<F: NorFlash>(
    flash: &mut Lines<F>,
    region: Region,
    look: Look,
    whole: Option<Active>,
) -> Found {
    match look {
        Look::Blank => return Found::Blank,
        Look::Whole(_) => return Found::Whole,
        // A cut breaks only the older of two: the erase of an upload.
        Look::Broken(header) if whole.is_none_or(|whole| !whole.is_later_than(&header)) => {
            return Found::Damaged;
        }
        Look::Broken(_) | Look::Torn => {}
    }
    if flash.erase(region).is_ok() { Found::Torn } else { Found::Stuck }
}

fn look<F: NorFlash>(flash: &mut Lines<F>, region: Region) -> Result<Look, StoreError> {
    let lines = [flash.read(region, 0)?, flash.read(region, 1)?, flash.read(region, 2)?];
    let bytes = lines.as_flattened().first_chunk();
    let Some(header) = bytes.and_then(Active::decode) else {
        let blank = flash.is_blank(region)?;
        return Ok(if blank { Look::Blank } else { Look::Torn });
    };
    let same = digest_of(flash, region, header.bytes)? == header.digest;
    Ok(if same { Look::Whole(header) } else { Look::Broken(header) })
}

/// SHA-256 of what is in flash.
fn digest_of<F: NorFlash>(
    flash: &mut Lines<F>,
    region: Region,
    bytes: u16,
) -> Result<[u8; DIGEST_BYTES], StoreError> {
    let mut hash = Sha256::new();
    let mut left = bytes;
    let mut index = BODY;
    while left > 0 {
        let line = flash.read(region, index)?;
        let piece = line.get(..usize::from(left.min(LINE))).unwrap_or(&line);
        hash.update(piece);
        left = left.saturating_sub(LINE);
        index = index.saturating_add(1);
    }
    Ok(hash.finalize().into())
}

/// Copies bytes of a programme; returns how many there were.
fn read_body<F: NorFlash>(
    flash: &mut Lines<F>,
    region: Region,
    bytes: u16,
    offset: u16,
    into: &mut [u8],
) -> Result<usize, StoreError> {
    let count = usize::from(bytes.saturating_sub(offset)).min(into.len());
    let mut room = into.iter_mut().take(count);
    let mut index = BODY.saturating_add(u32::from(offset / LINE));
    let mut skip = usize::from(offset % LINE);
    while room.len() > 0 {
        let line = flash.read(region, index)?;
        for (from, to) in line.iter().skip(skip).zip(room.by_ref()) {
            *to = *from;
        }
        skip = 0;
        index = index.saturating_add(1);
    }
    Ok(count)
}

impl<F: NorFlash> Store<F> {
    /// The programme that is valid.
    pub fn active(&self) -> Option<Active> {
        self.slots.active.map(|(_, header)| header)
    }

    /// What [`Self::open`] found in the two slots, in the order of the layout.
    pub fn found(&self) -> [Found; 2] {
        self.slots.found
    }

    /// Whether [`Self::open`] found that a committed programme has changed in flash, so that an
    /// older one, or none, is active in its place.
    pub fn damaged(&self) -> bool {
        self.slots.found.contains(&Found::Damaged)
    }

    /// The programme that is on its way, if one is.
    pub fn staged(&self) -> Option<Staged> {
        self.slots.staged
    }

    /// Copies bytes of the active programme from an offset on; returns how many there were.
    ///
    /// # Errors
    /// [`StoreError::NoProgramme`], or what the flash says.
    pub fn read_programme(
        &mut self,
        offset: u16,
        into: &mut [u8],
    ) -> Result<usize, StoreError> {
        let (side, header) = self.slots.active.ok_or(StoreError::NoProgramme)?;
        let region = side.of(self.layout.slots);
        read_body(&mut self.flash, region, header.bytes, offset, into)
    }

    /// As [`Self::read_programme`], of what is on its way.
    ///
    /// # Errors
    /// [`StoreError::NotBegun`], or what the flash says.
    pub fn read_staged(&mut self, offset: u16, into: &mut [u8]) -> Result<usize, StoreError> {
        let staged = self.slots.staged.ok_or(StoreError::NotBegun)?;
        let region = self.slots.passive().of(self.layout.slots);
        read_body(&mut self.flash, region, staged.written, offset, into)
    }

    /// Makes room for a programme of this length and gives up one that was on its way. The
    /// active programme is not touched.
    ///
    /// # Errors
    /// [`StoreError::BadLength`] for none or more than [`IMAGE_BYTES_MAX`], or what the flash
    /// says.
    pub fn begin(&mut self, bytes: u16) -> Result<(), StoreError> {
        self.slots.staged = None;
        if !(1..=IMAGE_BYTES_MAX).contains(&usize::from(bytes)) {
            return Err(StoreError::BadLength);
        }
        // Even a slot that reads blank: the erase before may have been cut, and what reads as
        // erased then need not stay so.
        self.flash.erase(self.slots.passive().of(self.layout.slots))?;
        self.slots.staged = Some(Staged { bytes, written: 0 });
        Ok(())
    }

    /// Writes the next bytes. All pieces but the last are whole multiples of 16 bytes.
    ///
    /// # Errors
    /// [`StoreError::NotBegun`]; [`StoreError::OutOfOrder`] and [`StoreError::BadLength`] change
    /// nothing; after any other error the upload must begin anew.
    pub fn write(&mut self, offset: u16, data: &[u8]) -> Result<(), StoreError> {
        let staged = self.slots.staged.ok_or(StoreError::NotBegun)?;
        if offset != staged.written {
            return Err(StoreError::OutOfOrder { expected: staged.written });
        }
        let length = u16::try_from(data.len()).map_err(|_| StoreError::BadLength)?;
        let end = offset.checked_add(length).ok_or(StoreError::BadLength)?;
        let whole = end == staged.bytes || length.is_multiple_of(LINE);
        if end > staged.bytes || !whole {
            return Err(StoreError::BadLength);
        }
        // A line that failed half-way cannot be written a second time.
        self.slots.staged = None;
        let region = self.slots.passive().of(self.layout.slots);
        let first = BODY.saturating_add(u32::from(offset / LINE));
        self.flash.write_from(region, first, data)?;
        self.slots.staged = Some(Staged { written: end, ..staged });
        Ok(())
    }

    /// Makes what was written the active programme, if its bytes in flash have this digest. For
    /// the digest of the active programme it does nothing but give up what is on its way, so
    /// that a commit whose answer was lost can be repeated.
    ///
    /// # Errors
    /// [`StoreError::NotBegun`]; [`StoreError::Incomplete`] and [`StoreError::OtherDigest`]
    /// change nothing; after any other error the upload must begin anew, and the programme
    /// before is active, but for [`StoreError::Undecided`] also after the next start.
    pub fn commit(&mut self, digest: &[u8; DIGEST_BYTES]) -> Result<(), StoreError> {
        if self.active().is_some_and(|active| active.digest == *digest) {
            self.abandon();
            return Ok(());
        }
        let staged = self.slots.staged.ok_or(StoreError::NotBegun)?;
        if staged.written != staged.bytes {
            return Err(StoreError::Incomplete { written: staged.written });
        }
        let side = self.slots.passive();
        let region = side.of(self.layout.slots);
        if digest_of(&mut self.flash, region, staged.bytes)? != *digest {
            return Err(StoreError::OtherDigest);
        }
        self.slots.staged = None;
        let sequence = self.slots.newest.wrapping_add(1);
        let header = Active { digest: *digest, bytes: staged.bytes, sequence };
        if let Err(why) = self.seal(region, &header) {
            // Perhaps the header is whole all the same. Who is told of a failure must find the
            // old programme after the next start; where the flash does not give the new one up,
            // it is committed.
            let undone = self.flash.erase(region).is_ok();
            if undone || !self.stands(region, &header).map_err(|_| StoreError::Undecided)? {
                return Err(why);
            }
        }
        self.slots.active = Some((side, header));
        self.slots.newest = sequence;
        Ok(())
    }

    /// Writes a header and looks at the slot as the next start will.
    fn seal(&mut self, region: Region, header: &Active) -> Result<(), StoreError> {
        self.flash.write_from(region, 0, &header.encode())?;
        if self.stands(region, header)? {
            Ok(())
        } else {
            Err(StoreError::NotKept { at: region.at })
        }
    }

    /// The next start will find this header with its programme in a slot.
    #[inline(never)]
    fn stands(&mut self, region: Region, header: &Active) -> Result<bool, StoreError> {
        Ok(look(&mut self.flash, region)?.whole().is_some_and(|there| there == *header))
    }

    /// Gives up what is on its way.
    pub fn abandon(&mut self) {
        self.slots.staged = None;
    }
}
