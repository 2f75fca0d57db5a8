//! Snapshots on a bench with random faults at random times.

use proptest::prelude::*;
use saggar_core::programme::Action;
use saggar_core::sensors::ThermocoupleType;

use super::{FOLLOWED, Followers, events};
use crate::support::{Bench, Tick, furnace, ramp, sample, soak, step, under, vacuum};

/// Numbers from a seed (G. L. Steele Jr, D. Lea, C. H. Flood, SplitMix64; value from memory).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (mixed ^ (mixed >> 31)) % sides
    }
}

/// What is wrong at the moment, and for how many more ticks.
struct Trouble {
    dice: Dice,
    kind: u64,
    ticks: u64,
}

impl Trouble {
    fn spoil(&mut self, it: &mut Tick) {
        let Self { dice, kind, ticks } = self;
        if *ticks == 0 && dice.roll(150) == 0 {
            (*kind, *ticks) = (dice.roll(10), 1 + dice.roll(40));
        }
        let noise = dice.roll(100) as f64 * 0.02 - 1.0;
        let kind_s = ThermocoupleType::S;
        it.inputs.control = Some(sample(kind_s, it.celsius + noise));
        let buttons = &mut it.inputs.buttons;
        buttons.start = dice.roll(100) == 0;
        buttons.confirm = dice.roll(60) == 0;
        buttons.stop = dice.roll(3_000) == 0;
        *ticks = ticks.saturating_sub(1);
        if *ticks == 0 {
            return;
        }
        match *kind {
            0 => it.inputs.control = None,
            1 => it.inputs.limit.as_mut().expect("a sample").open = true,
            2 => {
                it.inputs.control.as_mut().expect("a sample").emf_nv = dice.roll(1 << 31) as i32
            }
            3 => it.inputs.limit.as_mut().expect("a sample").age_ms = dice.roll(600) as u16,
            4 => it.inputs.closure.shut = false,
            5 => it.inputs.pressure_pa = None,
            6 => it.effect = 0.0,
            7 => it.stray_w = 2_000.0,
            8 => it.millis = 40 + dice.roll(120),
            _ => {
                let terminals = dice.roll(80_000) as i32;
                it.inputs.control.as_mut().expect("a sample").cold_junction_mc = terminals;
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn snapshots_amid_random_faults(seed: u64, from_c in 20.0f64..900.0, every in 13u32..97) {
        let steps = [
            step(ramp(300, 100)),
            under(ramp(900, 100), vacuum(500)),
            under(soak(60), vacuum(500)),
            step(Action::Hold { timeout_ms: 20_000, continue_on_timeout: true }),
            step(Action::Cool { below_mc: 250_000 }),
            step(Action::MoveClosure { open: true, dwell_ms: 5_000 }),
        ];
        let mut bench = Bench::at_power_up(from_c, &steps);
        let mut followers = Followers::new(&furnace());
        let mut trouble = Trouble { dice: Dice(seed), kind: 0, ticks: 0 };
        events(&mut bench.core);
        for tick in 0..4_000 + FOLLOWED {
            if tick < 4_000 && tick.is_multiple_of(every) {
                followers.begin(&bench.core);
            }
            bench.tick(|it| trouble.spoil(it));
            let (told, out) = (bench.last_inputs(), bench.out);
            followers.follow(&mut bench.core, told, out);
        }
        prop_assert_eq!(followers.done, 4_000u32.div_ceil(every));
    }
}
