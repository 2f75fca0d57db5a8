//! Many uploads: the slots alternate.

use super::flash::{Flash, SECTOR};
use super::subject::{CAPACITY, Make, SLOTS, Tally, body, running, upload};

pub(super) fn campaign<S: Make>(uploads: u32) -> Tally {
    let mut tally = Tally::default();
    let mut flash = Flash::new(vec![0xFF; CAPACITY]);
    for round in 0..uploads {
        let image = body(round.to_le_bytes()[0], 1 + round as usize * 37 % 1024);
        let there = S::open(&mut flash).and_then(|mut store| {
            upload(&mut store, &image)?;
            Ok(running(&mut store))
        });
        let kept = there.is_ok_and(|there| there.as_deref() == Some(&image));
        let [a, b] = SLOTS.map(|(at, _)| flash.erases[at / SECTOR]);
        let wrong = if !kept {
            Some("not kept")
        } else if a.abs_diff(b) > 1 {
            Some("one slot wears faster")
        } else {
            flash.abused
        };
        tally.case(wrong, || format!("upload {round}: {a} and {b} erases"));
    }
    tally
}
