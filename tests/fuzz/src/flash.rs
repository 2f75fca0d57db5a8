//! Target `flash`: arbitrary flash contents at boot, and power cuts while a programme is stored.

use arbitrary::{Arbitrary, Unstructured};
use saggar_core::checksum::CRC;
use saggar_core::io::Buttons;
use saggar_device::store::{JournalRecord, Store};
use sha2::{Digest, Sha256};

use crate::example::IMAGES;
use crate::memory::{CAPACITY, Flash, layout};
use crate::setup::{Setup, provisioned};

/// Maximum number of patches of one image.
const PATCHES_MAX: usize = 32;

/// The image before it is patched.
#[derive(Arbitrary)]
enum Base {
    Blank,
    Zeros,
    Settings,
    Programme,
}

/// Bytes to write at an offset, optionally followed by their valid checksum.
#[derive(Arbitrary)]
struct Patch<'a> {
    at: u16,
    checksum: bool,
    bytes: &'a [u8],
}

fn image(input: &mut Unstructured<'_>) -> arbitrary::Result<Flash> {
    let mut bytes = match input.arbitrary()? {
        Base::Blank => vec![0xFF; CAPACITY],
        Base::Zeros => vec![0; CAPACITY],
        Base::Settings => provisioned(false).bytes(),
        Base::Programme => provisioned(true).bytes(),
    };
    for _ in 0..PATCHES_MAX {
        if input.is_empty() {
            break;
        }
        let patch: Patch<'_> = input.arbitrary()?;
        let mut new = patch.bytes.to_vec();
        if patch.checksum {
            new.extend(CRC.checksum(&new).to_le_bytes());
        }
        let at = usize::from(patch.at) % CAPACITY;
        for (cell, byte) in bytes[at..].iter_mut().zip(new) {
            *cell = byte;
        }
    }
    Ok(Flash::new(bytes))
}

/// The active programme; its digest must be the one in the store.
fn active(store: &mut Store<Flash>) -> Option<Vec<u8>> {
    let active = store.active()?;
    let mut bytes = vec![0; usize::from(active.bytes)];
    let length = store.read_programme(0, &mut bytes).expect("memory reads");
    assert_eq!(length, bytes.len());
    assert_eq!(
        <[u8; 32]>::from(Sha256::digest(&bytes)),
        active.digest,
        "the store returned a damaged programme"
    );
    Some(bytes)
}

/// Stores the second example.
fn store_second(store: &mut Store<Flash>) -> Result<(), saggar_device::store::StoreError> {
    let image = &IMAGES[1];
    store.begin_upload(image.bytes().len() as u16)?;
    store.write_chunk(0, image.bytes())?;
    store.commit(&image.digest())
}

/// Any image opens and boots, or gives an error. A power cut while a programme is stored leaves the old
/// or the new one, and once power is back the store accepts the new one.
pub fn flash(input: &[u8]) {
    let mut input = Unstructured::new(input);
    let Ok(energy) = input.arbitrary::<u16>() else { return };
    let Ok(flash) = image(&mut input) else { return };
    boot(&Flash::new(flash.bytes()));

    let mut store = Store::open(flash.clone(), layout()).expect("memory reads");
    let old = active(&mut store);
    let _ = store.count_boot();
    let _ = store.append_record(&JournalRecord { kind: 1, data: [1; 7] });
    flash.fail_after(usize::from(energy));
    let stored = store_second(&mut store);
    flash.restore_power();

    let mut store = Store::open(flash.clone(), layout()).expect("memory reads");
    let found = active(&mut store);
    let new = Some(IMAGES[1].bytes().to_vec());
    assert!(
        found == new || stored.is_err() && found == old,
        "the active programme is neither the old nor the new one"
    );
    store_second(&mut store).expect("power is back");
    assert_eq!(active(&mut store), new);
}

/// Boots a device with this image, runs it for three seconds, and boots it again.
fn boot(flash: &Flash) {
    let Ok(mut setup) = Setup::boot(flash.clone()) else { return };
    for _ in 0..30 {
        setup.tick(Buttons::default());
        setup.transmit();
    }
    setup.reboot();
    setup.tick(Buttons::default());
}
