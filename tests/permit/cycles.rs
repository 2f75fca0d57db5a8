//! From a duty to mains cycles: never more than a tick has, and exactly the duty on average.

use saggar_core::actuators::{BurstFire, OtherOutputs};
use saggar_core::estimate::Estimate;
use saggar_core::interlock::{Interlock, PermitError};

use super::{estimate_at, healthy};
use crate::support::{Bench, furnace, ramp, soak, step};

/// Cycles of this many ticks at a constant duty, and the maximum in one of them.
fn cycles(duty: f32, cycles_per_tick: u8, ticks: u32) -> (u32, u8) {
    let estimate = Estimate { control: Ok(estimate_at(880.0)), limit: Ok(estimate_at(880.0)) };
    let mut burst = BurstFire::default();
    let rest = OtherOutputs { contactor: true, firing: true, ..OtherOutputs::default() };
    let (mut sum, mut most) = (0, 0);
    for _ in 0..ticks {
        let permit = Interlock::default().evaluate(&furnace(), &healthy(&estimate, 900.0));
        let out = burst.drive(permit, duty, cycles_per_tick, &rest);
        sum += out.heater_cycles.count_ones();
        most = most.max(out.heater_cycles);
    }
    (sum, most)
}

/// At 50 and 60 Hz the mean duty is right to one cycle.
#[test]
fn the_mean_duty_is_exact() {
    for cycles_per_tick in [5u8, 6] {
        for percent in [0u16, 1, 13, 50, 87, 99, 100] {
            let (sum, most) = cycles(f32::from(percent) * 0.01, cycles_per_tick, 1000);
            let expected = u32::from(cycles_per_tick) * u32::from(percent) * 10;
            assert!(sum.abs_diff(expected) <= 1, "{percent} %: {sum}, not {expected}");
            assert!(most < 1 << cycles_per_tick, "{most:b}");
        }
        assert_eq!(cycles(1.0, cycles_per_tick, 1).1, (1 << cycles_per_tick) - 1);
        // A duty above one is full power, a NaN is no heat.
        assert_eq!(cycles(7.0, cycles_per_tick, 10).0, u32::from(cycles_per_tick) * 10);
        assert_eq!(cycles(f32::NAN, cycles_per_tick, 10).0, 0);
    }
}

/// Without a permit no fraction of a cycle is carried over.
#[test]
fn without_a_permit_the_carry_is_dropped() {
    let estimate = Estimate { control: Ok(estimate_at(880.0)), limit: Ok(estimate_at(880.0)) };
    let mut burst = BurstFire::default();
    for _ in 0..100 {
        let permit = Interlock::default().evaluate(&furnace(), &healthy(&estimate, 900.0));
        assert_eq!(burst.drive(permit, 0.19, 5, &OtherOutputs::default()).heater_cycles, 0);
        let refused = burst.drive(Err(PermitError::Withheld), 1.0, 5, &OtherOutputs::default());
        assert_eq!(refused.heater_cycles, 0);
    }
}

/// A whole core at 60 Hz: six cycles a tick, and a furnace that arrives and stays there.
#[test]
fn sixty_hertz_mains_has_six_cycles_a_tick() {
    let mut furnace = furnace();
    furnace.heater.mains_hz = 60;
    let mut bench = Bench::of(furnace, 600.0, &[step(ramp(900, 150)), step(soak(7200))]);
    bench.run(20);
    bench.start();
    let (mut most, mut sum) = (0, 0);
    for tick in 0..6000 {
        bench.run(1);
        most = most.max(bench.out.heater_cycles);
        sum += if tick >= 5000 { bench.out.heater_cycles.count_ones() } else { 0 };
        assert_eq!(bench.tripped(), None);
    }
    assert_eq!(most, 0b11_1111);
    assert!((bench.celsius - 900.0).abs() < 2.0, "{:.1} °C", bench.celsius);
    // 0.8 W/K over 880 K, of 2400 W.
    let duty = f64::from(sum) / 6000.0;
    assert!((duty - 0.293).abs() < 0.01, "{duty}");
}
