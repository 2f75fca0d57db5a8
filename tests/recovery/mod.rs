//! Power cuts on the bench: the core loses its memory, a fresh one is offered the last bookmark, and a
//! person at the device decides.

mod bookmarks;
mod decisions;
mod going_on;
mod no_heat;

use saggar_core::controller::Bookmark;
use saggar_core::events::EventKind;
use saggar_core::programme::{Action, AfterCut, Step};

use crate::support::{Bench, ramp, soak, step, under, vacuum};

/// One step of every kind.
fn every_kind() -> [Step; 9] {
    let ask = Action::Hold { timeout_ms: 600_000, continue_on_timeout: false };
    let under_vacuum = |action| under(action, vacuum(250));
    [
        step(ramp(250, 60)),
        step(soak(120)),
        step(ask),
        under_vacuum(ramp(400, 100)),
        under_vacuum(soak(60)),
        step(Action::Cool { below_mc: 290_000 }),
        step(Action::MoveClosure { open: true, dwell_ms: 20_000 }),
        step(Action::MoveClosure { open: false, dwell_ms: 20_000 }),
        step(ramp(300, 60)),
    ]
}

/// A furnace whose bookmarks outlive its core.
struct CutBench {
    bench: Bench,
    steps: Vec<Step>,
    last: Option<Bookmark>,
}

impl CutBench {
    /// A firing that has just been started at this temperature (°C).
    fn started(celsius: f64, steps: &[Step]) -> Self {
        let mut bench = Bench::new(celsius, steps);
        bench.start();
        bench.events();
        // The tick of the press has passed; the next bookmarks follow.
        let first = Bookmark { reading_c: celsius as i16, ..Bookmark::default() };
        Self { bench, steps: steps.to_vec(), last: Some(first) }
    }

    /// Ticks, with a confirmation whenever the firing asks.
    fn run(&mut self, ticks: u32) {
        for _ in 0..ticks {
            if self.bench.out.buzzer && self.step().is_some() {
                self.bench.confirm(|_| {});
            } else {
                self.bench.run(1);
            }
            self.note();
        }
    }

    /// Ticks without anybody at the device.
    fn wait(&mut self, ticks: u32) {
        for _ in 0..ticks {
            self.bench.run(1);
            self.note();
        }
    }

    fn note(&mut self) {
        self.last = self.bench.core.bookmark().or(self.last);
    }

    /// Runs until this step has lasted so many ticks.
    fn run_into(&mut self, index: u8, ticks: u32) {
        for _ in 0..60_000 {
            if self.step() == Some(index) {
                return self.wait(ticks);
            }
            self.run(1);
        }
        panic!("step {index} never began: {:?}", self.bench.core.status());
    }

    /// Cuts the power while the furnace cools by this much (K), and boots. The vacuum is lost.
    fn cut(&mut self, fall_k: f64) {
        let celsius = (self.bench.celsius - fall_k).max(20.0);
        self.bench = Bench::at_power_up(celsius, &self.steps);
        assert!(self.bench.core.offer_bookmark(self.last.expect("a bookmark")));
        self.bench.run(20);
    }

    /// Presses start and keeps the bookmark of that tick.
    fn press_start(&mut self) {
        let mut due = None;
        for down in [true, false] {
            self.bench.tick(|tick| tick.inputs.buttons.start = down);
            due = due.or(self.bench.core.bookmark());
        }
        self.last = due.or(self.last);
    }

    fn step(&self) -> Option<u8> {
        self.bench.core.status().step
    }

    fn interrupted(&self) -> Option<Bookmark> {
        let interrupted = self.bench.core.interrupted();
        assert_eq!(interrupted, self.bench.core.status().interrupted);
        interrupted
    }

    fn happened(&mut self, kind: EventKind) -> bool {
        self.bench.events().contains(&kind)
    }
}

/// The same step, in which a power cut ends the firing.
const fn ending(step: Step) -> Step {
    Step { after_cut: AfterCut::End, ..step }
}
