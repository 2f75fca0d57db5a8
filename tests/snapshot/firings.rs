//! Whole firings of the examples in the chamber, with and without faults.

use std::path::Path;

use saggar_bench::RehearsalSetup;
use saggar_core::units::Instant;
use saggar_core::{Controller, TICK_MS};
use saggar_plant::faults::{Fault, FaultKind};
use saggar_schedule::FiringPlan;

use super::{FOLLOWED, Followers, events};

/// Ticks between two snapshots: two minutes.
const EVERY: u32 = 1_200;

/// Fires an example with a second controller beside the bench's own, and follows snapshots of that.
/// Returns how many.
fn fire(name: &str, faults: Vec<Fault>) -> u32 {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/schedules").join(name);
    let plan = FiringPlan::load(&path.with_extension("toml"), None).expect("an example");
    let device = &plan.profile.furnace;
    let setup = RehearsalSetup {
        furnace: &plan.profile.spec,
        device,
        work: &plan.work,
        programme: &plan.image,
        seed: 3,
        faults,
        operator_delay_s: Some(30.0),
        start: None,
    };
    let mut bench = setup.bench(()).expect("a bench");
    let mut core = Controller::new(device.clone());
    core.load(plan.image.bytes(), &plan.image.digest()).expect("it may run");
    events(&mut core);
    let mut followers = Followers::new(device);
    let (mut tick, mut begun) = (0u32, 0u32);
    loop {
        if tick.is_multiple_of(EVERY) {
            followers.begin(&core);
            begun += 1;
        }
        tick += 1;
        let on = bench.step() == Ok(true);
        let (now, inputs) = bench.last_inputs();
        let out = core.step(now, &inputs);
        assert_eq!(out, bench.outputs(), "tick {tick}");
        followers.follow(&mut core, (now, inputs), out);
        if !on {
            break;
        }
    }
    // The furnace stands still for those that are not at their end.
    let (now, inputs) = bench.last_inputs();
    for more in 1..=FOLLOWED {
        let now = Instant::from_millis(now.millis() + u64::from(more * TICK_MS));
        let out = core.step(now, &inputs);
        followers.follow(&mut core, (now, inputs), out);
    }
    assert_eq!(followers.done, begun);
    println!("{name}: {begun} snapshots, the longest of {} bytes", followers.longest);
    begun
}

#[test]
fn a_firing_under_vacuum() {
    assert!(fire("infiltrate-spinel-vacuum", Vec::new()) > 30);
}

#[test]
fn a_firing_with_a_fault() {
    for fault in [
        FaultKind::ControlOpen,
        FaultKind::ElementOpen,
        FaultKind::PumpDead,
        FaultKind::TickLate,
    ] {
        let at_s = if fault == FaultKind::PumpDead { 60.0 } else { 85.0 * 60.0 };
        assert!(fire("infiltrate-alumina", vec![fault.at(at_s)]) > 10);
    }
}
