//! A flash that the compiler cannot look into, and every call of the store upon it.

use core::hint::black_box;

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
use saggar_core::programme::DIGEST_BYTES;
use saggar_core::store::{Layout, Record, Region, Store, StoreError, Told};

/// Holds nothing; what it reads and whether it obeys is not known to the compiler.
struct Opaque;

impl ErrorType for Opaque {
    type Error = NorFlashErrorKind;
}

fn answer() -> Result<(), NorFlashErrorKind> {
    if black_box(true) { Ok(()) } else { Err(NorFlashErrorKind::Other) }
}

impl ReadNorFlash for Opaque {
    const READ_SIZE: usize = 4;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        black_box((offset, bytes));
        answer()
    }

    fn capacity(&self) -> usize {
        black_box(1 << 20)
    }
}

impl NorFlash for Opaque {
    const WRITE_SIZE: usize = 8;
    const ERASE_SIZE: usize = 2048;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        black_box((from, to));
        answer()
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        black_box((offset, bytes));
        answer()
    }
}

/// All that the store can do.
pub fn use_store(bytes: &[u8]) {
    black_box(calls(black_box(bytes)).is_ok());
}

fn calls(bytes: &[u8]) -> Result<(), StoreError> {
    let region = black_box(Region { at: 0, bytes: 2048 });
    let layout = Layout { slots: [region; 2], journal: [region; 2], settings: region };
    let mut store = Store::open(Opaque, black_box(layout))?;
    let mut room = [0; 64];
    let mut told = [Told::default(); 4];
    black_box((store.active(), store.found(), store.damaged(), store.staged()));
    black_box(store.read_programme(black_box(0), &mut room).is_ok());
    black_box(store.begin(black_box(1)).is_ok());
    black_box(store.write(black_box(0), bytes).is_ok());
    black_box(store.read_staged(black_box(0), &mut room).is_ok());
    black_box(store.commit(&black_box([0; DIGEST_BYTES])).is_ok());
    store.abandon();
    black_box(store.tell(&black_box(Record::default())).is_ok());
    black_box(store.count_boot().is_ok());
    black_box(store.records(black_box(0), &mut told).is_ok());
    black_box(store.journal_lost());
    black_box(store.renew_journal(black_box(1)).is_ok());
    black_box(store.read_settings(&mut room).is_ok());
    black_box(store.write_settings(bytes).is_ok());
    black_box((&room, &told));
    Ok(())
}
