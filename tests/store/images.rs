//! With any content of the flash the store returns an error, or nothing, or a programme that has its
//! digest.

use proptest::prelude::*;
use saggar_core::checksum::CRC;
use saggar_device::store::{JournalRecord, StoredRecord};

use super::flash::Flash;
use super::subject::{
    CAPACITY, JOURNAL, Make, RealStore, SETTINGS, SLOTS, body, digest, running, upload,
};

/// A header with a right checksum and arbitrary fields.
fn header() -> impl Strategy<Value = Vec<u8>> {
    let name = prop_oneof![Just(digest(&body(7, 100))), any::<[u8; 32]>()];
    let length = prop_oneof![Just(100u16), Just(0), Just(1024), Just(1025), any::<u16>()];
    (length, any::<u32>(), name).prop_map(|(length, sequence, name)| {
        let mut bytes = b"sgrP\x01\x00".to_vec();
        bytes.extend(length.to_le_bytes());
        bytes.extend(sequence.to_le_bytes());
        bytes.extend(name);
        sealed(bytes)
    })
}

fn sealed(mut bytes: Vec<u8>) -> Vec<u8> {
    bytes.extend(CRC.checksum(&bytes).to_le_bytes());
    bytes
}

/// A journal record with a right checksum.
fn entry() -> impl Strategy<Value = Vec<u8>> {
    let sequence = prop_oneof![0..40u32, u32::MAX - 20..=u32::MAX, any::<u32>()];
    let kind = prop_oneof![Just(0xF0u8), Just(0xF1), any::<u8>()];
    (sequence, kind, any::<[u8; 7]>()).prop_map(|(sequence, kind, data)| {
        let mut bytes = sequence.to_le_bytes().to_vec();
        bytes.push(kind);
        bytes.extend(data);
        sealed(bytes)
    })
}

/// Random or uniform bytes, with well-formed parts where the store looks for them.
fn image() -> impl Strategy<Value = Vec<u8>> {
    let noise = prop_oneof![
        Just(vec![0xFF; CAPACITY]),
        Just(vec![0; CAPACITY]),
        prop::collection::vec(any::<u8>(), CAPACITY)
    ];
    let headers = prop::collection::vec(prop::option::of(header()), 2);
    let entries = prop::collection::vec(prop::option::of(entry()), 16);
    let settings = prop::option::of((any::<u16>(), any::<u32>()));
    (noise, headers, entries, settings).prop_map(|(mut bytes, headers, entries, settings)| {
        let mut put = |at: usize, what: &[u8]| bytes[at..at + what.len()].copy_from_slice(what);
        for ((at, _), header) in SLOTS.into_iter().zip(headers) {
            if let Some(header) = header {
                put(at, &header);
                put(at + 48, &body(7, 100));
            }
        }
        for (index, entry) in entries.into_iter().enumerate() {
            if let Some(entry) = entry {
                put(JOURNAL[0].0 + index * 16, &entry);
            }
        }
        if let Some((length, check)) = settings {
            put(SETTINGS.0, b"sgS1");
            put(SETTINGS.0 + 4, &length.to_le_bytes());
            put(SETTINGS.0 + 6, &check.to_le_bytes());
        }
        bytes
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn any_content_of_the_flash_is_handled(bytes in image(), first in any::<u32>()) {
        let mut flash = Flash::new(bytes);
        {
            let mut store = RealStore::open(&mut flash).expect("a flash that obeys opens");
            let there = running(&mut store);
            prop_assert_eq!(there.is_some(), store.active().is_some());
            let mut room = [StoredRecord::default(); 5];
            let mut from = first;
            for _ in 0..8 {
                let count = store.read_records(from, &mut room).expect("reads");
                from = room[..count].last().map_or(from, |told| told.sequence.saturating_add(1));
            }
            let mut last = 0;
            let mut numbers = 0;
            for _ in 0..20 {
                if let Ok(boot) = store.count_boot() {
                    prop_assert!(boot > last);
                    last = boot;
                    numbers += 1;
                }
                let _ = store.append_record(&JournalRecord { kind: 1, data: [1; 7] });
            }
            if store.journal_lost() {
                prop_assert_eq!(numbers, 0);
                let _ = store.reset_journal(first);
            }
            let mut settings = [0; 768];
            let _ = store.read_settings(&mut settings);
            store.write_settings(&body(1, 768)).expect("writes");
            prop_assert_eq!(store.read_settings(&mut settings).expect("reads"), 768);
            let new = body(50, 1024);
            upload(&mut store, &new).expect("uploads");
            prop_assert_eq!(running(&mut store), Some(new));
        }
        prop_assert_eq!(flash.abused, None);
        // No endless loop: the number of operations is bounded.
        prop_assert!(flash.calls < 20_000, "{} calls", flash.calls);
        let mut store = RealStore::open(&mut flash).expect("opens");
        prop_assert_eq!(running(&mut store), Some(body(50, 1024)));
    }
}
