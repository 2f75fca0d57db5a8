//! The shut contact sticks while the lift shuts a hot chamber, in a whole firing. An observer of the true state
//! sees whether an open chamber was heated.

use std::path::Path;

use saggar_bench::observer::invariants::InvariantWatch;
use saggar_core::Cause;
use saggar_core::sequencer::Ending;
use saggar_plant::faults::FaultKind;
use saggar_schedule::FiringPlan;

use super::{FiringOptions, docs, setup_with};

fn plan() -> FiringPlan {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tool/studies/schedules");
    let furnace = docs().join("furnaces/lift-vacuum.toml");
    FiringPlan::load(&folder.join("opens-hot.toml"), Some(&furnace))
        .unwrap_or_else(|why| panic!("{why}"))
}

#[test]
fn a_shut_contact_that_sticks_on_the_way_back_heats_no_open_chamber() {
    let plan = plan();
    let watch = InvariantWatch::new(&plan.profile.furnace, &plan.image);
    let mut bench = setup_with(&plan, &FiringOptions::default()).bench(watch).expect("a bench");
    while bench.world().drive().opening < 1.0 {
        bench.run_until(bench.world().now_s() + 0.1);
    }
    let mut early = 0;
    let mut late = 0;
    loop {
        // The lift takes 80 ticks.
        let ticks = if bench.world().drive().opening < 1.0 { 5.0 } else { 1.0 };
        bench.run_until(bench.world().now_s() + 0.1 * ticks);
        let opening = bench.world().drive().opening;
        if opening >= 1.0 {
            continue;
        }
        if opening <= 0.0 {
            break;
        }
        let now_s = bench.world().now_s();
        let fired = bench.fork(vec![FaultKind::ShutStuck.at(now_s)]).run_to_end(&plan.work);
        let watch = fired.trace;
        assert_eq!(watch.violations(), [], "{opening:.2}");
        // In the second half of the way nobody can tell before the lift is to open again.
        assert_eq!(fired.ending, Some(Ending::Tripped(Cause::ClosureStuck)), "{opening:.2}");
        let (_, at_s) = watch.measured().trip.expect("a trip");
        let found = at_s - now_s < 0.45;
        assert!(found || opening < 0.57, "{opening:.2}: {:.1} s", at_s - now_s);
        if found { early += 1 } else { late += 1 }
    }
    assert!(early >= 6 && late >= 6, "{early} found on the way, {late} later");
}
