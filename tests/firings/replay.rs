//! The same seed gives the same firing, bit for bit; another seed gives other noise.

use super::{FiringOptions, example, fire, modelled};

#[test]
fn a_seed_replays_a_firing_bit_for_bit() {
    let plan = example("infiltrate-alumina");
    let once = fire(&plan, &FiringOptions { seed: 7, ..FiringOptions::default() });
    let again = fire(&plan, &FiringOptions { seed: 7, ..FiringOptions::default() });
    let bits = |fired: &saggar_bench::FiringResult| -> Vec<[u64; 4]> {
        let bits = |row: &saggar_bench::trace::Row| {
            [
                row.measured.sensor_c.unwrap_or(0.0),
                modelled(row).piece_c,
                row.measured.duty,
                modelled(row).depth_m,
            ]
            .map(f64::to_bits)
        };
        fired.trace.rows.iter().map(bits).collect()
    };
    assert!(once.trace.rows.len() > 3600);
    assert_eq!(bits(&once), bits(&again));
    assert_eq!(once.trace.events, again.trace.events);
    let other = fire(&plan, &FiringOptions { seed: 8, ..FiringOptions::default() });
    assert_ne!(bits(&once), bits(&other), "the noise does not depend on the seed");
}

#[test]
fn an_unanswered_hold_ends_the_firing() {
    let text = include_str!("../../docs/schedules/infiltrate-alumina.toml");
    let text = text.replacen(
        "[[stage]]\nramp = { to_celsius = 400",
        "[[stage]]\nhold = { minutes = 10, then = \"end\" }\n\n\
         [[stage]]\nramp = { to_celsius = 400",
        1,
    );
    let plan = super::schedule(&text);
    let unanswered =
        fire(&plan, &FiringOptions { operator_s: None, ..FiringOptions::default() });
    assert_eq!(unanswered.ending, Some(saggar_core::sequencer::Ending::Unanswered));
    let answered = fire(&plan, &FiringOptions::default());
    assert_eq!(answered.ending, Some(saggar_core::sequencer::Ending::Completed));
}

/// The outputs depend only on the recorded inputs: another controller with the same inputs gives the same
/// outputs, bit for bit.
#[test]
fn the_recorded_inputs_give_the_same_outputs() {
    let plan = example("infiltrate-alumina");
    let how = FiringOptions::default();
    let furnace = plan.profile.spec.clone();
    let mut bench = super::bench_with(&plan, &furnace, &plan.profile.furnace, &how);
    let mut other = saggar_core::Controller::new(plan.profile.furnace.clone());
    other.load(plan.image.bytes(), &plan.image.digest()).unwrap();
    let mut ticks = 0u32;
    let mut heated = 0u32;
    while bench.step() == Ok(true) {
        let (now, inputs) = bench.last_inputs();
        let outputs = other.step(now, &inputs);
        assert_eq!(outputs, bench.outputs(), "tick {ticks}");
        ticks += 1;
        heated += u32::from(outputs.heater_cycles != 0);
    }
    assert!(ticks > 36_000 && heated > 10_000, "{ticks} ticks, {heated} with heat");
}
