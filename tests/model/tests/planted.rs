//! The search finds what it looks for: a wrapper around the real core with one fault, and the rule that it
//! breaks.

use std::collections::BTreeSet;

use saggar_model::rules::Rule;
use saggar_model::{Action, Model, Scope, Wrapper};
use stateright::{Checker, HasDiscoveries, Model as _};

/// What leads to a state that breaks this rule.
fn counterexample(wrapper: Wrapper, rule: Rule, scope: Scope) -> Vec<Action> {
    let model = Model { wrapper, ..Model::new(scope) };
    let wanted = HasDiscoveries::AllOf(BTreeSet::from([rule.says()]));
    let checker = model.checker().finish_when(wanted).spawn_bfs().join();
    let path = checker.discovery(rule.says());
    let path = path.unwrap_or_else(|| panic!("{wrapper:?} breaks nothing"));
    let actions = path.into_actions();
    println!("{wrapper:?}: {actions:?}");
    actions
}

/// It takes a power cut to forget a trip.
#[test]
fn a_trip_that_a_power_cut_clears_is_found() {
    let actions = counterexample(Wrapper::ForgetsTrip, Rule::LatchHolds, Scope::SMALL);
    assert!(actions.contains(&Action::PowerCut), "{actions:?}");
}

#[test]
fn a_firing_that_goes_on_alone_is_found() {
    let actions = counterexample(Wrapper::GoesOnAlone, Rule::StartPressed, Scope::SMALL);
    assert!(actions.contains(&Action::PowerCut), "{actions:?}");
}

#[test]
fn an_upload_that_ends_a_firing_is_found() {
    let actions =
        counterexample(Wrapper::RebuildsForUpload, Rule::UploadHarmless, Scope::SMALL);
    assert!(actions.contains(&Action::Upload(0)), "{actions:?}");
}

#[test]
fn an_acceptance_with_the_cause_present_is_found() {
    let actions = counterexample(Wrapper::HidesFaults, Rule::LatchHolds, Scope::SMALL);
    assert!(actions.contains(&Action::Button(2)), "{actions:?}");
}

#[test]
fn a_contactor_that_stays_closed_is_found() {
    counterexample(Wrapper::HoldsContactor, Rule::ContactorOpen, Scope::SMALL);
}

#[test]
fn a_vent_that_opens_warm_is_found() {
    let actions = counterexample(Wrapper::Vents, Rule::VentCool, Scope::SMALL);
    assert!(actions.contains(&Action::Warm), "{actions:?}");
}

#[test]
fn a_pump_that_stops_too_early_is_found() {
    counterexample(Wrapper::StopsPump, Rule::PumpRuns, Scope::SMALL);
}

#[test]
fn a_lift_that_opens_warm_is_found() {
    let actions = counterexample(Wrapper::OpensAtStart, Rule::OpensCool, Scope::SMALL);
    assert!(actions.contains(&Action::Warm), "{actions:?}");
}

#[test]
fn heat_in_a_late_tick_is_found() {
    let scope = Scope { late: true, ..Scope::SMALL };
    let actions = counterexample(Wrapper::HeatsWhenLate, Rule::HeatProven, scope);
    assert!(actions.contains(&Action::Late), "{actions:?}");
}
