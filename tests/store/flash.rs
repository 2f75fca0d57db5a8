//! A simulated flash that loses power at any byte, or fails, or reports false success, and that records
//! operations that no flash allows.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};

/// Bytes of a sector.
pub(crate) const SECTOR: usize = 128;

/// Steps of a sector's erase, each of which counts like a byte written.
const ERASE_STEPS: usize = 8;

/// What an interruption does to the bits that were to change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Torn {
    /// None change.
    Untouched,
    /// Those in the high half of the byte change.
    High,
    /// Those in the low half of the byte change.
    Low,
    /// Random ones change.
    Any,
    /// Random ones change in the whole unit of a write or the whole sector of an erase.
    Unit,
}

impl Torn {
    pub(crate) const ALL: [Self; 5] =
        [Self::Untouched, Self::High, Self::Low, Self::Any, Self::Unit];
}

/// What a failing operation does before it returns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Failure {
    /// No effect, and an error.
    Nothing,
    /// Full effect, and an error.
    All,
    /// No effect, and success; reads are correct.
    Silent,
    /// No effect, and an error, in this and every later write and erase.
    Forever,
    /// Full effect, and an error; no effect, and an error, in every later write and erase.
    Last,
}

impl Failure {
    pub(crate) const ALL: [Self; 5] =
        [Self::Nothing, Self::All, Self::Silent, Self::Forever, Self::Last];
}

/// The flash. `W` is the unit of a write.
#[derive(Clone)]
pub(crate) struct Flash<const W: usize = 8> {
    pub(crate) bytes: Vec<u8>,
    /// Bytes and steps until the power fails.
    pub(crate) fuel: u64,
    pub(crate) torn: Torn,
    pub(crate) seed: u64,
    /// First and last byte that must not change, and whether a change was attempted.
    pub(crate) guarded: Option<(usize, usize)>,
    pub(crate) touched: bool,
    /// An operation was requested that no flash allows.
    pub(crate) abused: Option<&'static str>,
    /// Bytes and steps so far.
    pub(crate) spent: u64,
    pub(crate) calls: u64,
    pub(crate) fails: Option<(u64, Failure)>,
    /// Number of erases of each sector.
    pub(crate) erases: Vec<u32>,
    dead: bool,
}

impl<const W: usize> Flash<W> {
    pub(crate) fn new(bytes: Vec<u8>) -> Self {
        let erases = vec![0; bytes.len() / SECTOR];
        Self {
            bytes,
            fuel: u64::MAX,
            torn: Torn::Untouched,
            seed: 1,
            guarded: None,
            touched: false,
            abused: None,
            spent: 0,
            calls: 0,
            fails: None,
            erases,
            dead: false,
        }
    }

    /// Restores power for this many bytes and steps.
    pub(crate) fn revive(&mut self, fuel: u64) {
        self.fuel = fuel;
        self.dead = false;
        self.spent = 0;
    }

    /// xorshift64 (Marsaglia 2003, value from memory): any spread of bits will do.
    fn random(&mut self) -> u8 {
        self.seed ^= self.seed << 13;
        self.seed ^= self.seed >> 7;
        self.seed ^= self.seed << 17;
        self.seed.to_le_bytes()[3]
    }

    fn burn(&mut self) -> bool {
        if self.spent >= self.fuel {
            self.dead = true;
            return false;
        }
        self.spent += 1;
        true
    }

    /// Interrupts the change of a byte.
    fn tear(&mut self, at: usize, to: u8) {
        let changes = match self.torn {
            Torn::Untouched => 0,
            Torn::High => 0xF0,
            Torn::Low => 0x0F,
            Torn::Any | Torn::Unit => self.random(),
        };
        self.bytes[at] ^= (self.bytes[at] ^ to) & changes;
    }

    /// Counts an operation; `Some` with its result if it ends here.
    fn call(&mut self, writes: bool) -> Option<Result<(), NorFlashErrorKind>> {
        let now = self.calls;
        self.calls += 1;
        if self.dead {
            return Some(Err(NorFlashErrorKind::Other));
        }
        match self.fails {
            Some((at, Failure::Nothing)) if at == now => Some(Err(NorFlashErrorKind::Other)),
            Some((at, Failure::Silent)) if at == now && writes => Some(Ok(())),
            Some((at, Failure::Forever)) if at <= now && writes => {
                Some(Err(NorFlashErrorKind::Other))
            }
            Some((at, Failure::Last)) if at < now && writes => {
                Some(Err(NorFlashErrorKind::Other))
            }
            _ => None,
        }
    }

    fn answer(&self) -> Result<(), NorFlashErrorKind> {
        match self.fails {
            Some((at, Failure::All | Failure::Last)) if at + 1 == self.calls => {
                Err(NorFlashErrorKind::Other)
            }
            _ => Ok(()),
        }
    }

    fn watch(&mut self, from: usize, to: usize) {
        self.touched |= self.guarded.is_some_and(|(first, last)| from <= last && first < to);
    }

    fn allow(&mut self, check: Result<(), NorFlashErrorKind>) -> Result<(), NorFlashErrorKind> {
        if check.is_err() {
            self.abused = Some("out of bounds or not aligned");
        }
        check
    }
}

impl<const W: usize> ErrorType for Flash<W> {
    type Error = NorFlashErrorKind;
}

impl<const W: usize> ReadNorFlash for Flash<W> {
    const READ_SIZE: usize = W;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        if let Some(end) = self.call(false) {
            return end;
        }
        self.allow(check_read(self, offset, bytes.len()))?;
        let at = offset as usize;
        bytes.copy_from_slice(&self.bytes[at..at + bytes.len()]);
        self.answer()
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const W: usize> NorFlash for Flash<W> {
    const WRITE_SIZE: usize = W;
    const ERASE_SIZE: usize = SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        if let Some(end) = self.call(true) {
            return end;
        }
        self.allow(check_erase(self, from, to))?;
        self.watch(from as usize, to as usize);
        let sectors = from as usize / SECTOR..to as usize / SECTOR;
        for sector in sectors {
            self.erases[sector] += 1;
            let piece = SECTOR / ERASE_STEPS;
            for step in 0..ERASE_STEPS {
                // The order within a sector is unspecified: two models begin at the end.
                let backwards = matches!(self.torn, Torn::Low | Torn::Any);
                let place = if backwards { ERASE_STEPS - 1 - step } else { step };
                let at = sector * SECTOR + place * piece;
                if !self.burn() {
                    let whole = self.torn == Torn::Unit;
                    let (at, last) = if whole {
                        (sector * SECTOR, (sector + 1) * SECTOR)
                    } else {
                        (at, at + 1)
                    };
                    (at..last).for_each(|at| self.tear(at, 0xFF));
                    return Err(NorFlashErrorKind::Other);
                }
                self.bytes[at..at + piece].fill(0xFF);
            }
        }
        self.answer()
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        if let Some(end) = self.call(true) {
            return end;
        }
        self.allow(check_write(self, offset, bytes.len()))?;
        let begin = offset as usize;
        self.watch(begin, begin + bytes.len());
        for (at, byte) in (begin..).zip(bytes) {
            if self.bytes[at] & byte != *byte {
                self.abused = Some("a bit cannot become 1 by a write");
            }
            if !self.burn() {
                let unit = at / W * W;
                let whole = self.torn == Torn::Unit;
                let torn = if whole { unit..unit + W } else { at..at + 1 };
                torn.for_each(|at| self.tear(at, bytes[at - begin] & self.bytes[at]));
                return Err(NorFlashErrorKind::Other);
            }
            self.bytes[at] &= byte;
        }
        self.answer()
    }
}
