//! The furnace's data in memory differ from those that were loaded.

use saggar_core::controller::StartError;
use saggar_core::furnace::{FURNACE_PASS_TICKS, Furnace, FurnaceGuard};
use saggar_core::programme::Action;
use saggar_core::sequencer::Setpoint;
use saggar_core::{Cause, Controller};

use super::{AtRest, assert_safe, long_firing, recovers, trips};
use crate::support::{Bench, celsius, furnace, ramp, step};

/// Ticks of two passes over the data.
const TWO_PASSES: u32 = 2 * FURNACE_PASS_TICKS as u32;

#[test]
fn furnace_data_changed() {
    let changes: [fn(&mut Furnace); 4] = [
        |data| data.limits.furnace_max = celsius(1712.0),
        |data| data.limits.overshoot_max_k = 271.0,
        |data| data.heater.feed_forward[1].heat_capacity_j_per_k *= 16.0,
        |data| data.gains[0].proportional = 0.0,
    ];
    for change in changes {
        let mut bench = Bench::firing(800.0, &long_firing(900));
        bench.core.corrupt_furnace(change);
        trips(&mut bench, Cause::FurnaceDataChanged, TWO_PASSES, AtRest::Seen, |_| {});
        // What changes by itself is not to be trusted, even if it changes back.
        bench.core.corrupt_furnace(|data| *data = furnace());
        bench.run(2 * TWO_PASSES);
        bench.confirm(|_| {});
        assert_eq!(bench.tripped(), Some(Cause::FurnaceDataChanged));
        assert_safe(&bench);
    }
}

/// Every bit of the encoded data is found in two passes; also at rest.
#[test]
fn every_bit_is_found() {
    let good = furnace();
    let mut bytes = [0; 512];
    let bytes = postcard::to_slice(&good, &mut bytes).unwrap();
    let mut readable = 0;
    for bit in 0..bytes.len() * 8 {
        bytes[bit / 8] ^= 1 << (bit % 8);
        let flipped = postcard::from_bytes::<Furnace>(bytes);
        bytes[bit / 8] ^= 1 << (bit % 8);
        let Ok(bad) = flipped else { continue };
        if bad == good {
            continue;
        }
        readable += 1;
        let mut guard = FurnaceGuard::new(&good);
        assert!(guard.check_next_group(&good));
        assert!((0..TWO_PASSES).any(|_| !guard.check_next_group(&bad)), "bit {bit}");
        assert!((0..TWO_PASSES).all(|_| !guard.check_next_group(&good)), "forgotten");
        assert!(!FurnaceGuard::new(&good).check_all(&bad), "bit {bit}");
    }
    assert!(readable > 800, "only {readable} changed furnaces could be read");
}

#[test]
fn the_guard_is_quiet_while_nothing_changes() {
    let good = furnace();
    let mut guard = FurnaceGuard::new(&good);
    assert!((0..1000).all(|_| guard.check_next_group(&good) && guard.check_all(&good)));
}

#[test]
fn it_trips_at_rest() {
    let mut bench = Bench::new(25.0, &long_firing(900));
    bench.core.corrupt_furnace(|data| data.limits.vent_below = celsius(1112.0));
    trips_at_rest(&mut bench);
}

#[track_caller]
fn trips_at_rest(bench: &mut Bench) {
    bench.run(TWO_PASSES);
    assert_eq!(bench.tripped(), Some(Cause::FurnaceDataChanged));
}

/// Changes data in the very tick before a press of start.
#[track_caller]
fn start_after(change: fn(&mut Controller)) -> Bench {
    let mut bench = Bench::new(25.0, &long_firing(900));
    change(&mut bench.core);
    bench.start();
    assert!(!bench.core.is_firing());
    assert_eq!(bench.core.status().start_error, Some(StartError::DataChanged));
    bench
}

#[test]
fn a_start_is_refused_at_once() {
    let mut bench =
        start_after(|core| core.corrupt_furnace(|data| data.gains[0].integral = 4.0));
    trips_at_rest(&mut bench);
    start_after(|core| core.corrupt_setpoint_max(|max_c| *max_c = 1800.0));
}

#[test]
fn a_vent_stays_shut() {
    let mut bench = Bench::new(650.0, &long_firing(900));
    assert!(!bench.out.vent_valve, "too hot for air");
    bench.core.corrupt_furnace(|data| data.limits.vent_below = celsius(1112.0));
    for _ in 0..TWO_PASSES {
        bench.run(1);
        assert!(!bench.out.vent_valve);
    }
    trips_at_rest(&mut bench);
    assert!(!bench.out.vent_valve);
}

#[test]
fn a_lift_stays_shut() {
    let open = Action::MoveClosure { open: true, dwell_ms: 1000 };
    let steps = [step(Action::Cool { below_mc: 640_000 }), step(open)];
    let mut bench = Bench::new(650.0, &steps);
    bench.start();
    while bench.core.status().step == Some(0) {
        bench.run(1);
    }
    assert_eq!(bench.core.status().step, Some(1));
    assert!(!bench.out.open_closure, "too hot to open");
    bench.core.corrupt_furnace(|data| data.limits.open_below = celsius(1112.0));
    for _ in 0..TWO_PASSES {
        bench.run(1);
        assert!(!bench.out.open_closure);
    }
    assert_eq!(bench.tripped(), Some(Cause::FurnaceDataChanged));
}

/// What follows from the programme and is kept in memory, found in the next tick; the step and its place,
/// in one pass over the furnace's data.
#[test]
fn what_a_firing_keeps_is_guarded() {
    let changes: [fn(&mut Controller); 7] = [
        |core| core.corrupt_setpoint_max(|max_c| *max_c = 1800.0),
        |core| core.corrupt_firing(|memory| memory.step.action = ramp(1150, 30)),
        |core| {
            core.corrupt_firing(|memory| {
                memory.step.after_cut = saggar_core::programme::AfterCut::End
            })
        },
        |core| core.corrupt_firing(|memory| *memory.index ^= 1),
        |core| core.corrupt_firing(|memory| *memory.next_offset ^= 1),
        |core| core.corrupt_firing(|memory| *memory.open = true),
        |core| {
            core.corrupt_firing(|memory| *memory.setpoint = Some(Setpoint::steady(1056.0)));
        },
    ];
    for (number, change) in changes.into_iter().enumerate() {
        let mut bench = Bench::firing(800.0, &long_firing(900));
        change(&mut bench.core);
        for tick in 0..FURNACE_PASS_TICKS {
            bench.run(1);
            assert!(!bench.out.open_closure);
            if bench.tripped().is_some() {
                break;
            }
            assert!((1..5).contains(&number), "change {number} is not found in tick {tick}");
        }
        assert_eq!(bench.tripped(), Some(Cause::ProgrammeChanged), "change {number}");
        assert_safe(&bench);
        if number > 0 {
            // Of the firing nothing is left, and the programme is what it was.
            recovers(&mut bench, Cause::ProgrammeChanged);
        }
    }
}
