//! The progress bar of a rehearsal, on standard error and only on a terminal.

use std::io::IsTerminal as _;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::invocation::DisplayOptions;

/// Steps of the bar.
const STEPS: u64 = 1000;

/// The bar. Dropping it removes it from the screen.
#[derive(Debug)]
pub struct RehearsalProgress {
    bar: ProgressBar,
}

impl RehearsalProgress {
    /// A bar at its start; hidden without a terminal.
    pub fn new(display: &DisplayOptions) -> Self {
        let is_terminal = std::io::stderr().is_terminal() && !display.json;
        let target = if is_terminal {
            ProgressDrawTarget::stderr()
        } else {
            ProgressDrawTarget::hidden()
        };
        let bar = ProgressBar::with_draw_target(Some(STEPS), target);
        // Falls back to the default style.
        if let Ok(style) = ProgressStyle::with_template("rehearsing {wide_bar} {percent} %") {
            bar.set_style(style);
        }
        Self { bar }
    }

    /// Sets the share of the shortest possible firing that has passed.
    pub fn show(&self, share: f64) {
        self.bar.set_position((share.clamp(0.0, 0.99) * STEPS as f64) as u64);
    }
}

impl Drop for RehearsalProgress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
