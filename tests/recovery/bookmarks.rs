//! When a bookmark is due, and what it says.

use saggar_core::controller::Bookmark;
use saggar_core::programme::Action;

use super::every_kind;
use crate::support::{Bench, ramp, soak, step};

/// The bookmarks of a firing from its start, with the tick of each.
fn bookmarks(bench: &mut Bench, ticks: u32) -> Vec<(u32, Bookmark)> {
    let mut list = Vec::new();
    for tick in 0..ticks {
        let asked = bench.out.buzzer;
        bench.tick(|it| {
            it.inputs.buttons.start = tick == 0;
            it.inputs.buttons.confirm = asked;
        });
        list.extend(bench.core.bookmark().map(|bookmark| (tick, bookmark)));
    }
    list
}

#[test]
fn every_step_begins_with_one() {
    let mut bench = Bench::new(60.0, &every_kind());
    let list = bookmarks(&mut bench, 20_000);
    assert_eq!(bench.core.status().step, None, "the firing is over");
    for index in 0..9u8 {
        let first = list.iter().find(|(_, bookmark)| bookmark.step == index);
        let (tick, first) = first.expect("one for each step");
        assert_eq!(first.gathered_s, 0, "step {index} at tick {tick}");
    }
    let has = |index, flag| list.iter().any(|(_, it)| it.step == index && it.has(flag));
    assert!(has(4, Bookmark::VACUUM_DRAWN) && !has(1, Bookmark::VACUUM_DRAWN));
    assert!(has(7, Bookmark::CHAMBER_OPEN) || has(6, Bookmark::CHAMBER_OPEN));
    assert!(!has(0, Bookmark::CHAMBER_OPEN));
    // The contact was seen open before the start, and that counts for the whole firing.
    assert!(list.iter().all(|(_, it)| it.has(Bookmark::CONTACT_SEEN_OPEN)));
}

/// Never more often than every five minutes within a step, and never more than that apart.
#[test]
fn a_long_step_has_one_every_five_minutes() {
    let mut bench = Bench::new(300.0, &[step(ramp(310, 30)), step(soak(3600))]);
    let list = bookmarks(&mut bench, 20_000);
    let soak: Vec<_> = list.iter().filter(|(_, bookmark)| bookmark.step == 1).collect();
    assert!(soak.len() >= 5, "{} bookmarks", soak.len());
    for pair in soak.windows(2) {
        assert_eq!(pair[1].0 - pair[0].0, 3_000, "ticks between two bookmarks");
        assert_eq!(pair[1].1.gathered_s - pair[0].1.gathered_s, 300);
    }
    assert!(soak.iter().all(|(_, it)| (300..=320).contains(&it.reading_c)), "{soak:?}");
}

/// Without a reading a bookmark waits; there is none without a firing.
#[test]
fn none_without_a_reading_or_a_firing() {
    let hold = Action::Hold { timeout_ms: 600_000, continue_on_timeout: false };
    let mut bench = Bench::new(300.0, &[step(ramp(300, 30)), step(hold)]);
    for _ in 0..100 {
        bench.run(1);
        assert_eq!(bench.core.bookmark(), None, "idle");
    }
    bench.tick(|it| it.inputs.buttons.start = true);
    assert!(bench.core.bookmark().is_some());
    while bench.core.bookmark().is_none_or(|bookmark| bookmark.step == 0) {
        bench.run(1);
    }
    // The next is due after 3,000 ticks, while the channel does not answer for a moment.
    let next = (0..4_000).find(|tick| {
        bench.tick(|it| {
            if (2_999..3_001).contains(tick) {
                it.inputs.control = None;
            }
        });
        bench.core.bookmark().is_some()
    });
    assert_eq!(next, Some(3_001), "the tick after, counted from 0");
    bench.tick(|it| it.inputs.buttons.stop = true);
    assert_eq!(bench.core.bookmark(), None, "stopped");
}
