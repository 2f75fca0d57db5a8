//! Power failures while settings are written leave the old ones, the new ones, or none.

use super::flash::{Flash, Torn};
use super::subject::{Api, CAPACITY, Make, Refused, Tally, body};

fn write<S: Make>(flash: &mut Flash, bytes: &[u8]) -> Result<(), Refused> {
    S::open(flash)?.write_settings(bytes)
}

/// The readable settings.
fn read<S: Make>(flash: &mut Flash) -> Result<Vec<u8>, Refused> {
    let mut room = [0; 768];
    let count = S::open(flash)?.read_settings(&mut room)?;
    Ok(room[..count].to_vec())
}

pub(super) fn campaign<S: Make>(stride: usize) -> Tally {
    let mut tally = Tally::default();
    for length in [1, 100, 768] {
        let (old, new) = (body(7, length), body(99, length));
        let mut start = Flash::new(vec![0xFF; CAPACITY]);
        let written = write::<S>(&mut start, &old);
        tally.case(written.err().map(|_| "not written"), || format!("{length}"));
        start.revive(u64::MAX);
        let mut whole = start.clone();
        let written = write::<S>(&mut whole, &new);
        tally.case(written.err().map(|_| "not written again"), || format!("{length}"));
        for torn in Torn::ALL {
            for cut in (0..whole.spent).step_by(stride) {
                let mut flash = start.clone();
                (flash.torn, flash.seed) = (torn, cut * 64 + 1);
                flash.revive(cut);
                let told = write::<S>(&mut flash, &new);
                flash.revive(u64::MAX);
                let wrong = match read::<S>(&mut flash) {
                    _ if told.is_ok() => Some("a cut was not told"),
                    Ok(there) if there != old && there != new => Some("a mixture"),
                    Ok(_) | Err(Refused) => None,
                };
                let id = || format!("{length} bytes, {torn:?}, cut {cut}");
                tally.case(wrong, id);
                let again = write::<S>(&mut flash, &new).and_then(|()| read::<S>(&mut flash));
                let kept = again.is_ok_and(|there| there == new) && flash.abused.is_none();
                tally.case((!kept).then_some("not written after"), id);
            }
        }
    }
    tally
}
