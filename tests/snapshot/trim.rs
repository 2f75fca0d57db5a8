//! The trim alone: the private state of the `pid` crate is restored through its public interface.

use proptest::prelude::*;
use saggar_core::control::{Trim, TrimGains};

/// Gains, setpoint, measurement and feed of one step.
type Sample = ([f32; 3], f32, f32, f32);

fn any_steps() -> impl Strategy<Value = Vec<Sample>> {
    let gains = [0.0f32..0.05, 0.0f32..0.01, 0.0f32..2.0];
    let sample = (gains, 795.0f32..805.0, 795.0f32..805.0, -0.2f32..1.2);
    prop::collection::vec(sample, 2..60)
}

fn answer(trim: &mut Trim, sample: &Sample) -> u32 {
    let ([proportional, integral, derivative], setpoint, measurement, feed) = *sample;
    let gains = TrimGains { proportional, integral, derivative };
    trim.step(&gains, setpoint, measurement, feed, 1.0).to_bits()
}

fn through_bytes(trim: &Trim) -> Trim {
    let mut room = [0; 32];
    let bytes = postcard::to_slice(trim, &mut room).expect("room");
    postcard::from_bytes(bytes).expect("readable")
}

proptest! {
    #[test]
    fn a_restored_trim_continues_bit_for_bit(steps in any_steps(), at in any::<prop::sample::Index>()) {
        let (before, after) = steps.split_at(at.index(steps.len()));
        let mut trim = Trim::new(0.1);
        for sample in before {
            answer(&mut trim, sample);
        }
        let mut other = through_bytes(&trim);
        for sample in after {
            prop_assert_eq!(answer(&mut trim, sample), answer(&mut other, sample));
        }
    }
}
