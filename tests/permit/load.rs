//! Loading: only between firings, only intact programmes, only with valid furnace data.

use saggar_core::Controller;
use saggar_core::controller::LoadError;
use saggar_core::furnace::{Furnace, FurnaceError};
use saggar_core::programme::{Action, Violation, ViolationKind};
use saggar_core::sensors::ThermocoupleType;

use crate::support::{Bench, celsius, furnace, image, ramp, soak, step};

#[test]
fn load_is_refused_during_a_firing() {
    let steps = [step(ramp(900, 30)), step(soak(600))];
    let mut bench = Bench::firing(800.0, &steps);
    let other = image(&[step(ramp(1100, 100)), step(soak(60))]);
    let before = bench.core.status();
    let refused = bench.core.load(other.bytes(), &other.digest());
    assert_eq!(refused, Err(LoadError::FiringInProgress));
    assert_eq!(bench.core.programme(), Some(&image(&steps)));
    assert_eq!(bench.core.status(), before);
    bench.run(10);
    assert!(bench.out.lamp && bench.out.heater_cycles != 0, "the firing goes on");
    bench.tick(|tick| tick.inputs.buttons.stop = true);
    assert_eq!(bench.core.load(other.bytes(), &other.digest()), Ok(()));
    assert_eq!(bench.core.programme(), Some(&other));
}

#[test]
fn a_rejected_programme_leaves_the_old_one_loaded() {
    let steps = [step(ramp(900, 30)), step(soak(600))];
    let mut bench = Bench::new(800.0, &steps);
    let hot = image(&[step(ramp(1181, 30)), step(Action::Cool { below_mc: 0 })]);
    let fault = ViolationKind::TooHot { to_mc: 1_181_000, max_mc: 1_180_000 };
    let first = Violation { step: Some(0), kind: fault };
    let refused = bench.core.load(hot.bytes(), &hot.digest());
    assert_eq!(refused, Err(LoadError::Violations { first, count: 2 }));
    let refused = bench.core.load(hot.bytes(), &image(&steps).digest());
    assert!(matches!(refused, Err(LoadError::Image(_))), "{refused:?}");
    assert_eq!(bench.core.programme(), Some(&image(&steps)));
}

type Corrupt = fn(&mut Furnace);

#[test]
fn invalid_furnace_data_reject_every_programme() {
    let cases: [(FurnaceError, &[Corrupt]); 5] = [
        (FurnaceError::ControlSensor, &[|f| f.control_sensor.kind = ThermocoupleType::B]),
        (
            FurnaceError::Limits,
            &[
                |f| f.limits.programme_max = f.limits.furnace_max,
                |f| f.limits.firing_max_s = 0,
                |f| f.limits.overshoot_max_k = 0.0,
                |f| f.limits.ramp_max_k_per_min = -100.0,
                |f| f.limits.slew_max_k_per_s = f32::NAN,
                |f| f.limits.disagree_max_k = f32::INFINITY,
            ],
        ),
        (
            FurnaceError::Heater,
            &[
                |f| f.heater.rated_w = 0.0,
                |f| f.heater.rated_w = f32::NAN,
                |f| f.heater.mains_hz = 0,
                |f| f.heater.mains_hz = 55,
            ],
        ),
        (
            FurnaceError::FeedForward,
            &[
                |f| f.heater.feed_forward.clear(),
                |f| f.heater.feed_forward.reverse(),
                |f| f.heater.feed_forward[1].hold_w = -1.0,
                |f| f.heater.feed_forward[0].heat_capacity_j_per_k = 0.0,
            ],
        ),
        (
            FurnaceError::Gains,
            &[
                |f| f.gains.clear(),
                |f| {
                    let same = f.gains[0];
                    f.gains.push(same).unwrap();
                },
                |f| f.gains[0].proportional = -0.01,
                |f| f.gains[0].integral = f32::NAN,
                |f| f.gains[0].derivative = f32::INFINITY,
            ],
        ),
    ];
    let image = image(&[step(ramp(300, 30)), step(soak(600))]);
    for (error, corruptions) in cases {
        for (index, corrupt) in corruptions.iter().enumerate() {
            let mut furnace = furnace();
            corrupt(&mut furnace);
            let mut core = Controller::new(furnace);
            let refused = core.load(image.bytes(), &image.digest());
            assert_eq!(refused, Err(LoadError::Furnace(error)), "{error:?} {index}");
            assert_eq!(core.programme(), None);
        }
    }
}

/// The furnace of the other tests is valid, also with 60 Hz and a type B as limit sensor.
#[test]
fn the_bench_furnace_is_valid() {
    let mut furnace = furnace();
    (furnace.heater.mains_hz, furnace.limit_sensor.kind) = (60, ThermocoupleType::B);
    furnace.limits.programme_max = celsius(1199.0);
    assert_eq!(furnace.check(), Ok(()));
}
