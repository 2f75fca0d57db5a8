//! A bar while a rehearsal runs: on a terminal only, and on standard error.

use std::io::IsTerminal as _;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::invocation::DisplayOptions;

/// Steps of the bar.
const STEPS: u64 = 1000;

/// The bar. It goes when it is dropped.
#[derive(Debug)]
pub struct RehearsalProgress {
    bar: ProgressBar,
}

impl RehearsalProgress {
    /// A bar at the beginning; one that shows nothing if nobody looks.
    pub fn new(display: &DisplayOptions) -> Self {
        let watched = std::io::stderr().is_terminal() && !display.json;
        let target =
            if watched { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
        let bar = ProgressBar::with_draw_target(Some(STEPS), target);
        // A template that cannot be read leaves the plain bar.
        if let Ok(style) = ProgressStyle::with_template("rehearsing {wide_bar} {percent} %") {
            bar.set_style(style);
        }
        Self { bar }
    }

    /// Shows the share of the shortest possible firing that has passed.
    pub fn show(&self, share: f64) {
        self.bar.set_position((share.clamp(0.0, 0.99) * STEPS as f64) as u64);
    }
}

impl Drop for RehearsalProgress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
