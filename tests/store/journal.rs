//! Journal and boot numbers: power failures at every byte over several rotations, and records that
//! decay.

use super::flash::{Flash, Torn};
use super::subject::{Api, CAPACITY, JOURNAL, Make, Tally, Told};

/// Records that must be kept: those of a region, less its first and one damaged by a power failure.
const KEPT: usize = 6;

/// What a run expects to be in the flash.
#[derive(Clone)]
struct Memory {
    /// Records per boot.
    records: u8,
    boots: Vec<u32>,
    /// Records whose append succeeded, with their boot number, and the records begun since.
    told: Vec<(u32, [u8; 7], usize)>,
    /// Records whose append was interrupted, and which may be intact.
    maybe: Vec<(u32, [u8; 7])>,
    lines: usize,
    marks: u32,
}

impl Memory {
    fn new(records: u8) -> Self {
        let (boots, told, maybe) = Default::default();
        Self { records, boots, told, maybe, lines: 0, marks: 0 }
    }
}

/// Boots and appends records until the power fails; false if it did.
fn sessions<S: Make>(flash: &mut Flash, memory: &mut Memory, count: u32) -> bool {
    for _ in 0..count {
        let Ok(mut store) = S::open(flash) else { return false };
        memory.lines += 1;
        let Ok(boot) = store.count_boot() else { return false };
        memory.boots.push(boot);
        for _ in 0..memory.records {
            memory.marks += 1;
            let [a, b, c, d] = memory.marks.to_le_bytes();
            let data = [a, b, c, d, 0xA5, !a, 0];
            memory.lines += 1;
            memory.maybe.push((boot, data));
            if store.tell(7, data).is_err() {
                return false;
            }
            memory.maybe.pop();
            memory.told.push((boot, data, memory.lines));
        }
    }
    true
}

fn judge<S: Make>(flash: &mut Flash, memory: &Memory) -> Option<&'static str> {
    if flash.abused.is_some() {
        return flash.abused;
    }
    if !memory.boots.is_sorted_by(|a, b| a < b) {
        return Some("a boot's number came again or fell");
    }
    let Ok(mut store) = S::open(flash) else { return Some("does not open") };
    if store.journal_lost() {
        return Some("a cut was taken for a loss");
    }
    let mut room = [Told::default(); 16];
    let Ok(count) = store.records(0, &mut room) else { return Some("cannot be read") };
    let there = &room[..count];
    if !there.is_sorted_by(|a, b| a.sequence < b.sequence) {
        return Some("records out of order");
    }
    let is_young = |line: usize| line + KEPT > memory.lines;
    let known = |told: &Told| {
        // In a region whose erase was interrupted the record of the boot may be gone.
        let same = |boot: u32, data: [u8; 7], line: usize| {
            data == told.data && (boot == told.boot || told.boot == 0 && !is_young(line))
        };
        memory.told.iter().any(|(boot, data, line)| same(*boot, *data, *line))
            || memory.maybe.iter().any(|(boot, data)| same(*boot, *data, 0))
    };
    if !there.iter().all(|told| told.kind == 7 && known(told)) {
        return Some("a record that nobody told");
    }
    let young = memory.told.iter().filter(|(_, _, line)| is_young(*line));
    let kept = |data: &[u8; 7]| there.iter().any(|told| told.data == *data);
    let all = young.into_iter().all(|(_, data, _)| kept(data));
    (!all).then_some("a record is gone")
}

/// Power failures every `first` bytes, and second ones every `second` bytes.
pub(super) fn campaign<S: Make>(first: usize, second: usize) -> Tally {
    const SESSIONS: u32 = 12;
    let mut tally = Tally::default();
    let mut whole = Flash::new(vec![0xFF; CAPACITY]);
    let mut memory = Memory::new(3);
    if !sessions::<S>(&mut whole, &mut memory, SESSIONS) {
        tally.case(Some("no sessions"), String::new);
        return tally;
    }
    let length = whole.spent;
    tally.case(judge::<S>(&mut whole, &memory), || "no cut".to_owned());
    for torn in Torn::ALL {
        for cut in (0..length).step_by(first) {
            let mut flash = Flash::new(vec![0xFF; CAPACITY]);
            (flash.torn, flash.seed) = (torn, cut * 64 + 1);
            let mut memory = Memory::new(3);
            flash.revive(cut);
            sessions::<S>(&mut flash, &mut memory, SESSIONS);
            flash.revive(u64::MAX);
            let id = || format!("{torn:?} cut {cut}");
            tally.case(judge::<S>(&mut flash, &memory), id);
            for again in (0..400).step_by(second) {
                let (mut flash, mut memory) = (flash.clone(), memory.clone());
                flash.seed ^= again << 20;
                flash.revive(again);
                sessions::<S>(&mut flash, &mut memory, 5);
                flash.revive(u64::MAX);
                tally.case(judge::<S>(&mut flash, &memory), || format!("{}, {again}", id()));
                let goes_on = sessions::<S>(&mut flash, &mut memory, 3);
                tally.case((!goes_on).then_some("does not go on"), || {
                    format!("{}, {again}", id())
                });
                tally.case(judge::<S>(&mut flash, &memory), || format!("{}, {again} on", id()));
            }
        }
    }
    tally
}

/// Decayed records: any one, any two, and all. No boot number may come again.
pub(super) fn decay<S: Make>() -> Tally {
    let mut tally = Tally::default();
    let lines: Vec<usize> =
        JOURNAL.into_iter().flat_map(|(at, bytes)| (at..at + bytes).step_by(16)).collect();
    for (records, count) in [0, 3].into_iter().flat_map(|r| (1..18).map(move |c| (r, c))) {
        let mut start = Flash::new(vec![0xFF; CAPACITY]);
        let mut memory = Memory::new(records);
        let filled = sessions::<S>(&mut start, &mut memory, count);
        tally.case((!filled).then_some("no sessions"), || format!("{count}"));
        for (index, a) in lines.iter().enumerate() {
            for b in &lines[index..] {
                let spoilt = [*a, *b];
                tally.case(decayed::<S>(&start, &memory, &spoilt), || format!("{spoilt:?}"));
            }
        }
        tally.case(decayed::<S>(&start, &memory, &lines), || format!("all, {count}"));
    }
    tally
}

fn decayed<S: Make>(start: &Flash, memory: &Memory, lines: &[usize]) -> Option<&'static str> {
    let mut flash = start.clone();
    for at in
        lines.iter().filter(|at| flash.bytes[**at..**at + 16] != [0xFF; 16]).collect::<Vec<_>>()
    {
        flash.bytes[at + 9] ^= 0x10;
    }
    let mut memory = memory.clone();
    let Ok(mut store) = S::open(&mut flash) else { return Some("does not open") };
    if store.journal_lost() {
        let refused = store.count_boot().is_err() && store.tell(7, [0; 7]).is_err();
        let renewed = store.renew_journal(1000).is_ok();
        if !(refused && renewed) {
            return Some("a lost journal was used, or could not be begun anew");
        }
    }
    drop(store);
    if !sessions::<S>(&mut flash, &mut memory, 5) {
        return Some("does not go on");
    }
    (!memory.boots.is_sorted_by(|a, b| a < b)).then_some("a boot's number came again")
}
