//! The search to the end: every state that can be reached, and what must hold in each.

use saggar_core::Cause;
use saggar_model::plant::Fault;
use saggar_model::{Model, Scope};
use stateright::{Checker, Model as _};

/// Searches a scope to the end and returns the number of states.
fn search(scope: Scope) -> usize {
    let checker = Model::new(scope).checker().spawn_bfs().join();
    println!(
        "{:?}: {} states, {} steps, {} deep",
        scope.faults,
        checker.unique_state_count(),
        checker.state_count(),
        checker.max_depth()
    );
    checker.assert_properties();
    checker.unique_state_count()
}

#[test]
fn small_scope() {
    assert_eq!(search(Scope::SMALL), 218_388);
}

/// All kinds of actions.
#[test]
#[ignore = "minutes in release; .ci/run calls it"]
fn full_scope() {
    assert_eq!(search(Scope::FULL), 6_868_032);
}

/// The small scope once with each of the other faults.
#[test]
#[ignore = "half a minute in release; .ci/run calls it"]
fn full_other_faults() {
    let others: [(&[Fault], &[Cause]); 7] = [
        (&[Fault::LimitOpen], &[Cause::SensorOpen]),
        (&[Fault::SamplesVeryOld], &[Cause::AboveFurnaceLimit]),
        (&[Fault::ContactorClosed], &[Cause::ContactorNotFollowing]),
        (&[Fault::ContactorOpen], &[Cause::ContactorNotFollowing]),
        (&[Fault::CurrentMissing], &[Cause::NoHeaterCurrent]),
        (&[Fault::Leak], &[Cause::VacuumLate]),
        (&[Fault::GaugeSilent], &[Cause::GaugeImplausible]),
    ];
    let found = others.map(|(faults, causes)| search(Scope::small_with(faults, causes)));
    assert_eq!(found, [219_144, 153_240, 124_692, 103_932, 139_572, 117_252, 267_408]);
}
