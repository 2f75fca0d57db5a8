//! The programme in memory differs from the one that was verified.
//!
//! No safe code can change a loaded programme, so this cause is tested in two halves: the guard finds
//! every changed bit, and the interlock trips on the guard's result.

use saggar_core::Cause;
use saggar_core::estimate::{ChannelEstimate, Estimate};
use saggar_core::interlock::{Interlock, InterlockInputs, PermitError};
use saggar_core::programme::{ImageGuard, ProgrammeImage};
use saggar_core::sequencer::Demand;

use super::long_firing;
use crate::support::{celsius, furnace, image, proven_inputs};

#[test]
fn programme_changed() {
    let mut interlock = Interlock::default();
    let furnace = furnace();
    let belief = ChannelEstimate {
        celsius: celsius(800.0),
        rate_k_per_s: 0.0,
        worst_case: celsius(800.0),
        is_upper_bound: false,
    };
    let estimate = Estimate { control: Ok(belief), limit: Ok(belief) };
    let healthy = proven_inputs(&estimate, 900.0);
    assert!(interlock.evaluate(&furnace, &healthy).is_ok());
    let changed = InterlockInputs { programme_intact: false, ..healthy };
    let refused = Err(PermitError::Tripped(Cause::ProgrammeChanged));
    assert_eq!(interlock.evaluate(&furnace, &changed).map(drop), refused);
    assert_eq!(interlock.evaluate(&furnace, &healthy).map(drop), refused, "latched");
    let rest = Demand::default();
    assert!(
        !interlock.accept_trip(&furnace, &InterlockInputs { demand: &rest, ..changed }),
        "still changed"
    );
    assert!(interlock.accept_trip(&furnace, &InterlockInputs { demand: &rest, ..healthy }));
    assert_eq!(interlock.trip(), None);
    guard_finds_every_bit();
}

/// Every changed bit is found within two passes over the bytes, at one byte a tick.
fn guard_finds_every_bit() {
    let good = image(&long_firing(900).repeat(16));
    let ticks = 2 * (good.bytes().len() + 1);
    let mut readable = 0;
    for bit in 0..good.bytes().len() * 8 {
        let mut bytes = good.bytes().to_vec();
        bytes[bit / 8] ^= 1 << (bit % 8);
        let Ok(bad) = ProgrammeImage::from_bytes(&bytes) else { continue };
        readable += 1;
        let mut guard = ImageGuard::new(&good);
        assert!(guard.check_next_byte(&good));
        let found = (0..ticks).any(|_| !guard.check_next_byte(&bad));
        assert!(found, "bit {bit}");
        assert!((0..ticks).all(|_| !guard.check_next_byte(&good)), "forgotten");
    }
    assert!(readable > 500, "only {readable} changed programmes could be read");
}

#[test]
fn guard_is_quiet_while_nothing_changes() {
    let good = image(&long_firing(900));
    let mut guard = ImageGuard::new(&good);
    assert!((0..100_000).all(|_| guard.check_next_byte(&good)));
}
