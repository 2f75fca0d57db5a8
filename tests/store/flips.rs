//! Flipped bits: every bit of both slots, every pair in each header, and bursts; and every bit of the
//! settings.

use super::flash::Flash;
use super::subject::{Api, CAPACITY, Make, SETTINGS, SLOTS, Tally, body, running, two};

/// Bytes of a header, and of the programmes of this campaign.
const HEADER: usize = 48;
const LENGTH: usize = 256;

struct Images {
    older: Vec<u8>,
    old: Vec<u8>,
}

fn flip(flash: &mut Flash, bit: usize) {
    flash.bytes[bit / 8] ^= 1 << (bit % 8);
}

/// Opens a flash with flipped bits. `hit` is the slot that contains them all.
fn judge<S: Make>(
    flash: &mut Flash,
    start: &Flash,
    images: &Images,
    hit: usize,
) -> Option<&'static str> {
    let at = SLOTS[hit].0;
    let same = |from: usize, to: usize| flash.bytes[from..to] == start.bytes[from..to];
    let broken = same(at, at + HEADER) && !same(at + HEADER, at + HEADER + LENGTH);
    let Ok(mut store) = S::open(flash) else { return Some("does not open") };
    let there = running(&mut store);
    if there.is_none() && store.active().is_some() {
        return Some("a programme that is not what its digest says");
    }
    let active_is_hit = hit == 1;
    match there {
        None => return Some("no programme, and one was whole"),
        Some(there) if there == images.old => {}
        Some(there) if there == images.older && active_is_hit => {}
        Some(_) => return Some("the wrong programme"),
    }
    let told = store.damaged() == (active_is_hit && broken);
    (!told).then_some("damage was not told, or told of none")
}

/// Both slots, every bit; every pair of a header's bits; then bursts.
pub(super) fn campaign<S: Make>(bursts: u32) -> Tally {
    let mut tally = Tally::default();
    let images = Images { older: body(3, LENGTH), old: body(7, LENGTH) };
    let Ok(start) = two::<S>(&images.older, &images.old) else {
        tally.case(Some("no upload"), String::new);
        return tally;
    };
    let try_bits = |tally: &mut Tally, slot: usize, bits: &[usize]| {
        let mut flash = start.clone();
        bits.iter().for_each(|bit| flip(&mut flash, *bit));
        tally.case(judge::<S>(&mut flash, &start, &images, slot), || format!("bits {bits:?}"));
    };
    for (slot, (at, bytes)) in SLOTS.into_iter().enumerate() {
        for bit in at * 8..(at + bytes) * 8 {
            try_bits(&mut tally, slot, &[bit]);
        }
        if bursts > 1000 {
            for first in at * 8..(at + HEADER) * 8 {
                (first + 1..(at + HEADER) * 8)
                    .for_each(|bit| try_bits(&mut tally, slot, &[first, bit]));
            }
        }
    }
    let mut random = Random(1);
    for _ in 0..bursts {
        let slot = random.below(2);
        let (at, bytes) = SLOTS[slot];
        let length = 1 + random.below(64);
        let first = at * 8 + random.below(bytes * 8 - length);
        let inner = (first + 1..first + length).filter(|_| random.below(2) == 1);
        let bits: Vec<_> = std::iter::once(first).chain(inner).collect();
        try_bits(&mut tally, slot, &bits);
    }
    tally.add(settings::<S>());
    tally
}

/// xorshift64 (Marsaglia 2003, value from memory).
pub(super) struct Random(pub(super) u64);

impl Random {
    pub(super) fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 16) as usize % limit
    }
}

fn settings<S: Make>() -> Tally {
    let mut tally = Tally::default();
    let mut start = Flash::new(vec![0xFF; CAPACITY]);
    let wanted = body(5, 100);
    let written = S::open(&mut start).and_then(|mut store| store.write_settings(&wanted));
    tally.case(written.err().map(|_| "not written"), String::new);
    for bit in SETTINGS.0 * 8..(SETTINGS.0 + 16 + wanted.len()) * 8 {
        let mut flash = start.clone();
        flip(&mut flash, bit);
        let mut room = [0; 768];
        let read = S::open(&mut flash).and_then(|mut store| store.read_settings(&mut room));
        let wrong = read.is_ok_and(|count| room[..count] != *wanted);
        tally.case(wrong.then_some("wrong settings"), || format!("bit {bit}"));
    }
    tally
}
