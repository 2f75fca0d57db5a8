//! The progress bars of a rehearsal and of a campaign, on standard error and only on a terminal.

use std::io::IsTerminal as _;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::display::DisplayOptions;

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
        Self { bar: bar(STEPS, "rehearsing {wide_bar} {percent} %", display) }
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

/// The bar of a campaign. Dropping it removes it from the screen.
#[derive(Debug)]
pub struct CampaignProgress {
    bar: ProgressBar,
}

impl CampaignProgress {
    /// A bar at its start; hidden without a terminal.
    pub fn new(campaign: &str, display: &DisplayOptions) -> Self {
        let template = format!("{campaign} {{wide_bar}} {{pos}} of {{len}}, {{eta}} left");
        Self { bar: bar(0, &template, display) }
    }

    /// Sets the number of finished cases, and of all.
    pub fn show(&self, done: usize, all: usize) {
        self.bar.set_length(all as u64);
        self.bar.set_position(done as u64);
    }
}

impl Drop for CampaignProgress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

/// A bar with this many steps; hidden without a terminal.
fn bar(steps: u64, template: &str, display: &DisplayOptions) -> ProgressBar {
    let is_terminal = std::io::stderr().is_terminal() && !display.json;
    let target =
        if is_terminal { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let bar = ProgressBar::with_draw_target(Some(steps), target);
    // Falls back to the default style.
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style);
    }
    bar
}
