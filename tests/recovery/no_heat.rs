//! Nothing heats, moves or pumps by itself after a power cut, in whatever step it came.

use super::{CutBench, ending, every_kind};

#[test]
fn nothing_heats_by_itself_after_a_cut_in_any_step() {
    for index in 0..9 {
        for fall_k in [0.0, 30.0, 150.0] {
            let mut firing = CutBench::started(60.0, &every_kind());
            firing.run_into(index, 15);
            firing.cut(fall_k);
            for tick in 0..6_000 {
                // Confirm is no start, however often it is pressed.
                firing.bench.tick(|it| it.inputs.buttons.confirm = tick % 50 == 7);
                let (out, status) = (firing.bench.out, firing.bench.core.status());
                let at = format!("step {index}, {fall_k} K, tick {tick}: {status:?}");
                assert_eq!(out.heater_cycles, 0, "{at}");
                assert!(!(out.contactor || out.pump || out.open_closure || out.lamp), "{at}");
                assert_eq!(status.step, None, "{at}");
                assert_eq!(status.interrupted.map(|cut| cut.step), Some(index), "{at}");
            }
        }
    }
}

/// Also where the programme forbids going on, whatever is pressed.
#[test]
fn nothing_heats_where_the_programme_ends_the_firing() {
    for index in 0..9 {
        let mut firing = CutBench::started(60.0, &every_kind().map(ending));
        firing.run_into(index, 15);
        firing.cut(0.0);
        for _ in 0..5 {
            firing.press_start();
            assert_eq!(firing.step(), None, "step {index}");
            assert!(!firing.bench.out.contactor, "step {index}");
        }
    }
}

/// A start button that is down when the power returns has not been pressed.
#[test]
fn a_button_held_through_the_cut_is_no_press() {
    let mut firing = CutBench::started(60.0, &every_kind());
    firing.run_into(1, 15);
    let fresh = crate::support::Bench::at_power_up(firing.bench.celsius, &every_kind());
    firing.bench = fresh;
    assert!(firing.bench.core.offer_bookmark(firing.last.expect("a bookmark")));
    for _ in 0..600 {
        firing.bench.tick(|it| {
            (it.inputs.buttons.start, it.inputs.buttons.stop) = (true, true);
        });
        assert_eq!(firing.bench.out.heater_cycles, 0);
        assert_eq!(firing.interrupted().map(|cut| cut.step), Some(1));
    }
}
