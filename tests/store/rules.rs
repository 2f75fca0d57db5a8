//! What the store requires of its callers and of the flash.

use saggar_device::store::{
    JournalRecord, Layout, RESERVED_KINDS, SlotState, StagedProgramme, Store, StoreError,
};

use super::flash::{Flash, SECTOR};
use super::subject::{CAPACITY, body, digest, layout};

fn the_layout() -> Layout {
    layout!(saggar_device::store)
}

fn blank<const W: usize>() -> Flash<W> {
    Flash::new(vec![0xFF; CAPACITY])
}

#[test]
fn new_flash_is_empty() {
    let mut store = Store::open(blank::<8>(), the_layout()).unwrap();
    assert_eq!(store.active(), None);
    assert_eq!(store.slot_states(), [SlotState::Blank; 2]);
    assert_eq!(store.read_programme(0, &mut [0; 4]), Err(StoreError::NoProgramme));
    assert_eq!(store.read_settings(&mut [0; 4]), Err(StoreError::NoSettings));
    assert_eq!(store.read_records(0, &mut []), Ok(0));
}

fn round<const W: usize>() -> Result<(), StoreError> {
    let mut flash = blank::<W>();
    let mut store = Store::open(&mut flash, the_layout())?;
    let image = body(1, 1001);
    store.begin_upload(1001)?;
    assert_eq!(store.commit(&digest(&image)), Err(StoreError::Incomplete { written: 0 }));
    store.write_chunk(0, &image[..512])?;
    let mut room = [0; 600];
    assert_eq!(store.read_staged(500, &mut room), Ok(12));
    assert_eq!(room[..12], image[500..512]);
    store.write_chunk(512, &image[512..])?;
    assert_eq!(store.commit(&[0; 32]), Err(StoreError::DigestMismatch));
    store.commit(&digest(&image))?;
    assert_eq!(store.commit(&digest(&image)), Ok(()), "said twice");
    for offset in 0..1010usize {
        let count = store.read_programme(offset as u16, &mut room)?;
        assert_eq!(room[..count], image[offset.min(1001)..(offset + 600).min(1001)]);
    }
    assert_eq!(flash.abused, None);
    let active = Store::open(&mut flash, the_layout())?.active();
    let active = active.ok_or(StoreError::NoProgramme)?;
    assert_eq!((active.digest, active.bytes, active.sequence), (digest(&image), 1001, 1));
    Ok(())
}

#[test]
fn all_write_units_are_supported() {
    round::<1>().unwrap();
    round::<2>().unwrap();
    round::<4>().unwrap();
    round::<8>().unwrap();
    round::<16>().unwrap();
    for refused in [
        Store::open(blank::<3>(), the_layout()).err(),
        Store::open(blank::<32>(), the_layout()).err(),
    ] {
        assert_eq!(refused, Some(StoreError::Granularity));
    }
}

#[test]
fn chunks_out_of_order_or_of_wrong_length_are_refused() {
    let mut store = Store::open(blank::<8>(), the_layout()).unwrap();
    assert_eq!(store.write_chunk(0, &[0; 16]), Err(StoreError::NoUpload));
    assert_eq!(store.commit(&[0; 32]), Err(StoreError::NoUpload));
    assert_eq!(store.begin_upload(0), Err(StoreError::BadLength));
    assert_eq!(store.begin_upload(1025), Err(StoreError::BadLength));
    store.begin_upload(40).unwrap();
    assert_eq!(store.write_chunk(16, &[0; 16]), Err(StoreError::OutOfOrder { expected: 0 }));
    assert_eq!(store.write_chunk(0, &[0; 15]), Err(StoreError::BadLength));
    assert_eq!(store.write_chunk(0, &[0; 48]), Err(StoreError::BadLength));
    store.write_chunk(0, &[0; 16]).unwrap();
    assert_eq!(store.write_chunk(0, &[0; 16]), Err(StoreError::OutOfOrder { expected: 16 }));
    store.write_chunk(16, &[0; 24]).unwrap();
    assert_eq!(store.staged(), Some(StagedProgramme { bytes: 40, written: 40 }));
    store.abort_upload();
    assert_eq!(store.staged(), None);
    assert_eq!(store.read_staged(0, &mut [0; 4]), Err(StoreError::NoUpload));
}

#[test]
fn bad_layouts_are_refused() {
    let spoil: [fn(&mut Layout); 6] = [
        |l| l.slots[0].bytes = 8 * SECTOR as u32,
        |l| l.slots[1].at = 8 * SECTOR as u32,
        |l| l.journal[0].at += 8,
        |l| l.journal[1] = l.journal[0],
        |l| l.settings.bytes += SECTOR as u32,
        |l| l.settings.at = u32::MAX - 127,
    ];
    for spoil in spoil {
        let mut layout = the_layout();
        spoil(&mut layout);
        let refused = Store::open(blank::<8>(), layout).err();
        assert!(matches!(refused, Some(StoreError::Layout(_))), "{refused:?}");
    }
}

#[test]
fn records_are_read_from_a_sequence_number_on() {
    let mut store = Store::open(blank::<8>(), the_layout()).unwrap();
    let boot = store.count_boot().unwrap();
    for kind in 0..4 {
        store.append_record(&JournalRecord { kind, data: [kind; 7] }).unwrap();
    }
    assert_eq!(
        store.append_record(&JournalRecord { kind: RESERVED_KINDS, data: [0; 7] }),
        Err(StoreError::BadKind)
    );
    let mut room = [Default::default(); 2];
    assert_eq!(store.read_records(0, &mut room), Ok(2));
    assert!(room.iter().all(|told| told.boot == boot));
    assert_eq!([room[0].record.kind, room[1].record.kind], [0, 1]);
    let from = room[1].sequence + 1;
    assert_eq!(store.read_records(from, &mut room), Ok(2));
    assert_eq!([room[0].record.kind, room[1].record.kind], [2, 3]);
    assert_eq!(store.read_records(room[1].sequence + 1, &mut room), Ok(0));
}

#[test]
fn settings_that_do_not_fit_are_refused() {
    let mut store = Store::open(blank::<8>(), the_layout()).unwrap();
    assert_eq!(store.write_settings(&[0; 769]), Err(StoreError::BadLength));
    store.write_settings(&[5; 33]).unwrap();
    assert_eq!(store.read_settings(&mut [0; 32]), Err(StoreError::BadLength));
    let mut room = [0; 40];
    assert_eq!(store.read_settings(&mut room), Ok(33));
    assert_eq!(room[..33], [5; 33]);
}
