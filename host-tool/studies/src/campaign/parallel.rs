//! Runs the cases of a campaign on all processors.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread;

/// A part of a campaign: every `of`-th case, from case `index` on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shard {
    /// Which part, from 0.
    pub index: usize,
    /// Number of parts, at least 1.
    pub of: usize,
}

impl Shard {
    /// The whole campaign.
    pub const WHOLE: Self = Self { index: 0, of: 1 };

    /// Whether a case belongs to it. Neighbours go to different parts.
    pub const fn has(self, case: usize) -> bool {
        case % self.of == self.index
    }
}

/// Runs the cases and returns their results in order. `go_on` is called with the number of finished
/// cases; once it says no, no other case begins.
pub(super) fn run<T: Send>(
    cases: usize,
    run_one: impl Fn(usize) -> T + Sync,
    go_on: &(dyn Fn(usize) -> bool + Sync),
) -> Vec<T> {
    let (next, done) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let ended = AtomicBool::new(false);
    let results = Mutex::new(Vec::with_capacity(cases));
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let case = next.fetch_add(1, Ordering::Relaxed);
                    if case >= cases || ended.load(Ordering::Relaxed) {
                        return;
                    }
                    let result = run_one(case);
                    // A thread that has panicked ends the scope anyway.
                    if let Ok(mut results) = results.lock() {
                        results.push((case, result));
                    }
                    if !go_on(done.fetch_add(1, Ordering::Relaxed) + 1) {
                        ended.store(true, Ordering::Relaxed);
                    }
                }
            });
        }
    });
    let mut results = results.into_inner().unwrap_or_default();
    results.sort_by_key(|(case, _)| *case);
    results.into_iter().map(|(_, result)| result).collect()
}
