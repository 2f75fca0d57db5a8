//! Burst firing with the real output stage: the commanded energy is delivered, cycles are spread evenly,
//! and the ripple of a furnace is that of the exact solution of a first-order lag under an on-off input.

use saggar_core::actuators::{BurstFire, OtherOutputs};
use saggar_core::estimate::{ChannelEstimate, Estimate};
use saggar_core::interlock::{HeatPermit, Interlock, PermitError};

use crate::support::{celsius, furnace, proven_inputs};

/// Mains cycles in a tick at 50 Hz.
const CYCLES: u8 = 5;

/// Length of a cycle (s).
const CYCLE_S: f64 = 0.02;

/// A permit from the interlock, as the core obtains it.
fn permit(interlock: &mut Interlock) -> HeatPermit {
    let at = celsius(800.0);
    let belief = ChannelEstimate {
        celsius: at,
        rate_k_per_s: 0.0,
        worst_case: at,
        is_upper_bound: false,
    };
    let estimate = Estimate { control: Ok(belief), limit: Ok(belief) };
    let facts = proven_inputs(&estimate, 900.0);
    interlock.evaluate(&furnace(), &facts).expect("healthy")
}

/// Whether each mains cycle conducts, over this many ticks at a constant duty.
fn cycles(duty: f32, ticks: usize) -> Vec<bool> {
    let mut burst = BurstFire::default();
    let rest = OtherOutputs { contactor: true, firing: true, ..OtherOutputs::default() };
    let mut conducts = Vec::new();
    for _ in 0..ticks {
        // A new one each time: the same readings for minutes would look frozen.
        let permit = permit(&mut Interlock::default());
        let out = burst.drive(Ok(permit), duty, CYCLES, &rest);
        conducts.extend((0..CYCLES).map(|bit| out.heater_cycles >> bit & 1 == 1));
    }
    conducts
}

#[test]
fn commanded_cycles_are_delivered_within_one_cycle() {
    for duty in [0.0, 0.001, 0.01, 1.0 / 3.0, 0.123_456, 0.5, 0.75, 0.999, 1.0] {
        let conducts = cycles(duty, 2000);
        let mut sum = 0u32;
        for (index, on) in conducts.iter().enumerate() {
            sum += u32::from(*on);
            let owed = f64::from(duty) * (index + 1) as f64 - f64::from(sum);
            // A duty is stored in sixteen bits, so each cycle rounds it by at most 1/65536.
            let rounding = (index + 1) as f64 / 65_536.0;
            assert!((-1e-3..1.0 + rounding).contains(&owed), "{owed} cycles owed at {duty}");
        }
    }
}

/// The fraction of a cycle that was due when the permit was withheld is not delivered later.
#[test]
fn withheld_permit_clears_the_cycles_owed() {
    let (mut interlock, mut burst) = (Interlock::default(), BurstFire::default());
    let rest = OtherOutputs { contactor: true, firing: true, ..OtherOutputs::default() };
    // 0.19 x 5 cycles: nothing conducts yet, 0.95 of a cycle is owed.
    let out = burst.drive(Ok(permit(&mut interlock)), 0.19, CYCLES, &rest);
    assert_eq!(out.heater_cycles, 0);
    assert_eq!(burst.drive(Err(PermitError::Withheld), 0.19, CYCLES, &rest).heater_cycles, 0);
    let out = burst.drive(Ok(permit(&mut interlock)), 0.19, CYCLES, &rest);
    assert_eq!(out.heater_cycles, 0, "a cycle owed from before the permit was withheld");
    let out = burst.drive(Ok(permit(&mut interlock)), 0.19, CYCLES, &rest);
    assert_eq!(out.heater_cycles, 1, "1.14 cycles by the first of this tick");
}

#[test]
fn conducting_cycles_are_spread_evenly() {
    for duty in [0.02f32, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 0.97] {
        let conducts = cycles(duty, 2000);
        let gap = longest_run(&conducts, false);
        let run = longest_run(&conducts, true);
        assert!(gap <= (1.0 / duty).ceil() as usize, "gap {gap} at {duty}");
        assert!(run <= (1.0 / (1.0 - duty)).ceil() as usize, "run {run} at {duty}");
    }
}

fn longest_run(conducts: &[bool], of: bool) -> usize {
    conducts
        .chunk_by(|a, b| a == b)
        .filter(|c| c[0] == of)
        .map(<[bool]>::len)
        .max()
        .unwrap_or(0)
}

/// Exact peak-to-peak ripple of a first-order lag under a rectangular input of period `period_s`.
fn ripple_k(gain_k: f64, lag_s: f64, duty: f64, period_s: f64) -> f64 {
    let part = |share: f64| 1.0 - (-share * period_s / lag_s).exp();
    gain_k * part(duty) * part(1.0 - duty) / part(1.0)
}

/// The plant reaches 1200 K at full power with a lag of 240 s. At a duty of 1/n the output is rectangular
/// with a period of n cycles, so the closed form holds. Time proportioning over 2 s would give a ripple
/// of 2.5 K.
#[test]
fn ripple_agrees_with_the_closed_form() {
    assert!((ripple_k(1200.0, 240.0, 0.5, 2.0) - 2.499_996).abs() < 1e-6);
    assert!((ripple_k(1200.0, 240.0, 0.2, 2.0) - 1.599_999).abs() < 1e-6);
    assert!((ripple_k(1200.0, 240.0, 0.5, 10.0) - 12.499_548).abs() < 1e-6);
    for divisor in [2, 4, 8] {
        let duty = 1.0 / f64::from(divisor);
        let mut kelvin = 1200.0 * duty;
        let (mut low, mut high) = (f64::MAX, f64::MIN);
        for (index, on) in cycles(duty as f32, 20_000).iter().enumerate() {
            let target = if *on { 1200.0 } else { 0.0 };
            kelvin = target + (kelvin - target) * (-CYCLE_S / 240.0f64).exp();
            if index > 90_000 {
                (low, high) = (low.min(kelvin), high.max(kelvin));
            }
        }
        let expected = ripple_k(1200.0, 240.0, duty, f64::from(divisor) * CYCLE_S);
        println!("duty 1/{divisor}: ripple {:.5} K, closed form {expected:.5} K", high - low);
        assert!((high - low - expected).abs() < 0.01 * expected);
        assert!(expected < 0.1 * ripple_k(1200.0, 240.0, duty, 2.0));
    }
}
