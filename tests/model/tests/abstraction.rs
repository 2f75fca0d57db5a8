//! States with one key behave alike: pairs of them, reached on different ways, do the same after every
//! action.

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};

use rand_core::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use saggar_core::Controller;
use saggar_core::units::Instant;
use saggar_model::key::Forgotten;
use saggar_model::{Action, Model, Scope, State, key};

/// A way to make a key.
trait Key: Fn(&Controller, Instant) -> Vec<u8> {}

impl<F: Fn(&Controller, Instant) -> Vec<u8>> Key for F {}

/// Most states that are kept for one key.
const ALIKE_MAX: usize = 4;

/// What begins a firing: every second walk sets out with it.
const START: [Action; 5] =
    [Action::Second, Action::Lift, Action::Second, Action::Button(0), Action::Second];

/// The key of a state: that of its core, and everything around it.
fn identity(state: &State, key: &impl Key) -> (Vec<u8>, u64) {
    let mut hasher = DefaultHasher::new();
    state.surroundings().hash(&mut hasher);
    (key(state.core(), state.now()), hasher.finish())
}

/// States with one key that differ in more than the time, from walks of random actions.
fn alike(model: &Model, key: &impl Key, walks: u32) -> Vec<Vec<State>> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(11);
    let mut found: HashMap<_, Vec<(Vec<u8>, State)>> = HashMap::new();
    for walk in 0..walks {
        let mut state = State::new(&model.plant);
        if walk % 2 == 0 {
            state = START.iter().fold(state, |state, action| model.after(&state, *action));
        }
        for _ in 0..120 {
            let mut actions = model.possible(&state);
            // Time passes more often than anything else happens.
            let at = random.next_u32() as usize % (2 * actions.len());
            let action = actions.swap_remove(if at < actions.len() { at } else { 0 });
            state = model.after(&state, action);
            let concrete = key::concrete(state.core(), state.now());
            let list = found.entry(identity(&state, key)).or_default();
            if list.len() < ALIKE_MAX && list.iter().all(|(other, _)| *other != concrete) {
                list.push((concrete, state.clone()));
            }
        }
    }
    let lists = found.into_values().filter(|list| list.len() > 1);
    lists.map(|list| list.into_iter().map(|(_, state)| state).collect()).collect()
}

/// The number of pairs, of their actions, and of those after which their keys differ.
fn compare(scope: Scope, key: &impl Key, walks: u32) -> (usize, usize, usize) {
    let model = Model::new(scope);
    let (mut pairs, mut steps, mut differ) = (0, 0, 0);
    for list in alike(&model, key, walks) {
        let (first, others) = list.split_first().expect("at least two");
        let actions = model.possible(first);
        let expected: Vec<_> =
            actions.iter().map(|action| identity(&model.after(first, *action), key)).collect();
        for other in others {
            assert_eq!(model.possible(other), actions, "{first:?}\n{other:?}");
            pairs += 1;
            for (action, expected) in actions.iter().zip(&expected) {
                steps += 1;
                differ += usize::from(identity(&model.after(other, *action), key) != *expected);
            }
        }
    }
    println!("{pairs} pairs, {steps} steps, {differ} of them differ");
    (pairs, steps, differ)
}

#[test]
fn states_with_one_key_behave_alike() {
    let (pairs, steps, differ) = compare(Scope::FULL, &key::of, 500);
    assert_eq!(differ, 0);
    assert!(pairs > 3_000 && steps > 30_000, "{pairs} pairs, {steps} steps show little");
}

#[test]
#[ignore = "half a minute in release; .ci/run calls it"]
fn full_states_with_one_key_behave_alike() {
    let (pairs, steps, differ) = compare(Scope::FULL, &key::of, 5_000);
    assert_eq!(differ, 0);
    assert!(pairs > 30_000 && steps > 300_000, "{pairs} pairs, {steps} steps show little");
}

/// The comparison can fail: it finds a key that forgets too much.
#[test]
fn a_key_that_forgets_too_much_is_found() {
    for forgotten in [Forgotten::Trip, Forgotten::ContactProof, Forgotten::Duration] {
        let key = |core: &Controller, now| key::too_coarse(core, now, forgotten);
        let (_, _, differ) = compare(Scope::FULL, &key, 200);
        assert!(differ > 0, "{forgotten:?}");
    }
}
