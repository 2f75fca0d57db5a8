//! The store under test: the real one, or a copy with planted bugs.

use sha2::{Digest, Sha256};

use super::flash::{Flash, SECTOR};

/// An operation failed; the reason does not matter here.
#[derive(Debug)]
pub(super) struct Refused;

/// A record read back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Told {
    pub(super) sequence: u32,
    pub(super) boot: u32,
    pub(super) kind: u8,
    pub(super) data: [u8; 7],
}

/// An open store.
pub(super) trait Api {
    fn active(&self) -> Option<([u8; 32], u16, u32)>;
    fn damaged(&self) -> bool;
    /// Both slots were found blank or valid.
    fn settled(&self) -> bool;
    fn read_programme(&mut self, offset: u16, into: &mut [u8]) -> Result<usize, Refused>;
    fn begin(&mut self, bytes: u16) -> Result<(), Refused>;
    fn write(&mut self, offset: u16, data: &[u8]) -> Result<(), Refused>;
    fn commit(&mut self, digest: &[u8; 32]) -> Result<(), Refused>;
    fn tell(&mut self, kind: u8, data: [u8; 7]) -> Result<(), Refused>;
    fn count_boot(&mut self) -> Result<u32, Refused>;
    fn records(&mut self, from: u32, into: &mut [Told]) -> Result<usize, Refused>;
    fn journal_lost(&self) -> bool;
    fn renew_journal(&mut self, first: u32) -> Result<(), Refused>;
    fn read_settings(&mut self, into: &mut [u8]) -> Result<usize, Refused>;
    fn write_settings(&mut self, bytes: &[u8]) -> Result<(), Refused>;
}

/// A store that can be opened.
pub(super) trait Make {
    type Store<'a>: Api;
    fn open(flash: &mut Flash) -> Result<Self::Store<'_>, Refused>;
}

/// The real store.
pub(super) struct RealStore;

/// Addresses and lengths of two slots, two regions of the journal, the settings.
pub(super) const SLOTS: [(usize, usize); 2] = [(0, 9 * SECTOR), (9 * SECTOR, 9 * SECTOR)];
pub(super) const JOURNAL: [(usize, usize); 2] = [(18 * SECTOR, SECTOR), (19 * SECTOR, SECTOR)];
pub(super) const SETTINGS: (usize, usize) = (20 * SECTOR, 7 * SECTOR);
pub(super) const CAPACITY: usize = 27 * SECTOR;

/// This layout in the types of a store's module.
macro_rules! layout {
    ($module:path) => {{
        use $module as of;
        let region = |(at, bytes): (usize, usize)| of::Region {
            at: u32::try_from(at).expect("small"),
            bytes: u32::try_from(bytes).expect("small"),
        };
        of::Layout {
            slots: $crate::store::subject::SLOTS.map(region),
            journal: $crate::store::subject::JOURNAL.map(region),
            settings: region($crate::store::subject::SETTINGS),
        }
    }};
}
pub(super) use layout;

/// Implements the traits above for the store in a module.
macro_rules! subject {
    ($name:ident, $module:path) => {
        const _: () = {
            use $crate::store::flash::Flash;
            use $crate::store::subject::{Api, Make, Refused, Told};
            use $module as of;

            impl Make for $name {
                type Store<'a> = of::Store<&'a mut Flash>;
                fn open(flash: &mut Flash) -> Result<Self::Store<'_>, Refused> {
                    let layout = $crate::store::subject::layout!($module);
                    of::Store::open(flash, layout).map_err(|_| Refused)
                }
            }

            impl Api for of::Store<&mut Flash> {
                fn active(&self) -> Option<([u8; 32], u16, u32)> {
                    self.active().map(|a| (a.digest, a.bytes, a.sequence))
                }
                fn damaged(&self) -> bool {
                    self.has_damaged_slot()
                }
                fn settled(&self) -> bool {
                    self.slot_states()
                        .iter()
                        .all(|f| matches!(f, of::SlotState::Blank | of::SlotState::Valid))
                }
                fn read_programme(
                    &mut self,
                    at: u16,
                    into: &mut [u8],
                ) -> Result<usize, Refused> {
                    self.read_programme(at, into).map_err(|_| Refused)
                }
                fn begin(&mut self, bytes: u16) -> Result<(), Refused> {
                    self.begin_upload(bytes).map_err(|_| Refused)
                }
                fn write(&mut self, offset: u16, data: &[u8]) -> Result<(), Refused> {
                    self.write_chunk(offset, data).map_err(|_| Refused)
                }
                fn commit(&mut self, digest: &[u8; 32]) -> Result<(), Refused> {
                    self.commit(digest).map_err(|_| Refused)
                }
                fn tell(&mut self, kind: u8, data: [u8; 7]) -> Result<(), Refused> {
                    self.append_record(&of::JournalRecord { kind, data }).map_err(|_| Refused)
                }
                fn count_boot(&mut self) -> Result<u32, Refused> {
                    self.count_boot().map_err(|_| Refused)
                }
                fn records(&mut self, from: u32, into: &mut [Told]) -> Result<usize, Refused> {
                    let mut room = vec![of::StoredRecord::default(); into.len()];
                    let count = self.read_records(from, &mut room).map_err(|_| Refused)?;
                    for (to, told) in into.iter_mut().zip(room) {
                        let of::JournalRecord { kind, data } = told.record;
                        *to = Told { sequence: told.sequence, boot: told.boot, kind, data };
                    }
                    Ok(count)
                }
                fn journal_lost(&self) -> bool {
                    self.journal_lost()
                }
                fn renew_journal(&mut self, first: u32) -> Result<(), Refused> {
                    self.reset_journal(first).map_err(|_| Refused)
                }
                fn read_settings(&mut self, into: &mut [u8]) -> Result<usize, Refused> {
                    self.read_settings(into).map_err(|_| Refused)
                }
                fn write_settings(&mut self, bytes: &[u8]) -> Result<(), Refused> {
                    self.write_settings(bytes).map_err(|_| Refused)
                }
            }
        };
    };
}
pub(super) use subject;

subject!(RealStore, saggar_device::store);

/// Result of a campaign.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Tally {
    pub(super) cases: u64,
    pub(super) bad: u64,
    /// The first error.
    pub(super) first: Option<String>,
}

impl Tally {
    pub(super) fn case(&mut self, wrong: Option<&str>, id: impl FnOnce() -> String) {
        self.cases += 1;
        if let Some(wrong) = wrong {
            self.bad += 1;
            self.first.get_or_insert_with(|| format!("{wrong}: {}", id()));
        }
    }

    pub(super) fn add(&mut self, other: Self) {
        self.cases += other.cases;
        self.bad += other.bad;
        self.first = self.first.take().or(other.first);
    }

    /// Asserts that a campaign on the real store found nothing.
    pub(super) fn must_be_clean(&self, what: &str) {
        println!("{what}: {} cases, {} bad", self.cases, self.bad);
        assert_eq!(self.bad, 0, "{what}: {:?}", self.first);
    }
}

pub(super) fn digest(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// Bytes that differ from those of any other mark.
pub(super) fn body(mark: u8, length: usize) -> Vec<u8> {
    (0..length).map(|at| (at as u8).wrapping_mul(31).wrapping_add(mark)).collect()
}

/// A complete upload into an open store, in chunks of 64 bytes.
pub(super) fn upload(store: &mut impl Api, bytes: &[u8]) -> Result<(), Refused> {
    store.begin(bytes.len() as u16)?;
    for (index, piece) in bytes.chunks(64).enumerate() {
        store.write(index as u16 * 64, piece)?;
    }
    store.commit(&digest(bytes))
}

/// The bytes of the active programme, if they have its digest.
pub(super) fn running(store: &mut impl Api) -> Option<Vec<u8>> {
    let (name, length, _) = store.active()?;
    let mut bytes = vec![0; usize::from(length)];
    let count = store.read_programme(0, &mut bytes).ok()?;
    (count == bytes.len() && digest(&bytes) == name).then_some(bytes)
}

/// A flash on which two programmes were committed, the older first.
pub(super) fn two<S: Make>(older: &[u8], old: &[u8]) -> Result<Flash, Refused> {
    let mut flash = Flash::new(vec![0xFF; CAPACITY]);
    let mut store = S::open(&mut flash)?;
    upload(&mut store, older)?;
    upload(&mut store, old)?;
    drop(store);
    flash.revive(u64::MAX);
    Ok(flash)
}

/// Forbids changes to the slot that holds these bytes.
pub(super) fn guard(flash: &mut Flash, bytes: &[u8]) {
    let holds = |(at, _): &&(usize, usize)| flash.bytes[at + 48..].starts_with(bytes);
    flash.guarded = SLOTS.iter().find(holds).map(|(at, length)| (*at, at + length - 1));
}
