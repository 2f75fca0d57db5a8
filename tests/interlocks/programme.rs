//! The programme in memory is no longer the one that was verified.
//!
//! No safe code can change a loaded programme, so this cause is shown in two halves: the guard
//! finds every change of the bytes, and the interlock trips on what the guard says.

use saggar_core::Cause;
use saggar_core::estimate::{Belief, Estimate};
use saggar_core::interlock::{Asked, Facts, Interlock, Refusal};
use saggar_core::programme::{Guard, Image};

use super::long_firing;
use crate::support::{celsius, furnace, image};

#[test]
fn programme_changed() {
    let mut interlock = Interlock::default();
    let furnace = furnace();
    let belief = Belief {
        celsius: celsius(800.0),
        rate_k_per_s: 0.0,
        worst: celsius(800.0),
        at_most: false,
    };
    let estimate = Estimate { control: Ok(belief), limit: Ok(belief) };
    let healthy = Facts {
        estimate: &estimate,
        asked: Asked { firing: true, heat: true, highest_c: 900.0, vacuum_overdue: false },
        commanded: 0.5,
        conducting: Some(true),
        shut: true,
        on_time: true,
        programme_intact: true,
    };
    assert!(interlock.judge(&furnace, &healthy).is_ok());
    let changed = Facts { programme_intact: false, ..healthy };
    let refused = Err(Refusal::Tripped(Cause::ProgrammeChanged));
    assert_eq!(interlock.judge(&furnace, &changed).map(drop), refused);
    assert_eq!(interlock.judge(&furnace, &healthy).map(drop), refused, "latched");
    let rest = Asked { firing: false, heat: false, ..healthy.asked };
    assert!(!interlock.accept(&furnace, &Facts { asked: rest, ..changed }), "still changed");
    assert!(interlock.accept(&furnace, &Facts { asked: rest, ..healthy }));
    assert_eq!(interlock.tripped(), None);
    guard_finds_every_bit();
}

/// Every single bit, found within one walk through all bytes and one more, a byte a tick.
fn guard_finds_every_bit() {
    let good = image(&long_firing(900).repeat(16));
    let ticks = 2 * (good.bytes().len() + 1);
    let mut readable = 0;
    for bit in 0..good.bytes().len() * 8 {
        let mut bytes = good.bytes().to_vec();
        bytes[bit / 8] ^= 1 << (bit % 8);
        let Ok(bad) = Image::from_bytes(&bytes) else { continue };
        readable += 1;
        let mut guard = Guard::of(&good);
        assert!(guard.walk(&good));
        let found = (0..ticks).any(|_| !guard.walk(&bad));
        assert!(found, "bit {bit}");
        assert!((0..ticks).all(|_| !guard.walk(&good)), "forgotten");
    }
    assert!(readable > 500, "only {readable} changed programmes could be read");
}

#[test]
fn guard_is_quiet_while_nothing_changes() {
    let good = image(&long_firing(900));
    let mut guard = Guard::of(&good);
    assert!((0..100_000).all(|_| guard.walk(&good)));
}
