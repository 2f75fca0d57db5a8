//! The loop of a stand-in: furnace, bench, firmware, line and panel, a tick at a time.

use std::time::{Duration, Instant as Clock};

use saggar_bench::rig::{self, World};
use saggar_core::events::Event;
use saggar_core::io::Outputs;
use saggar_core::programme::Image;
use saggar_core::sequencer::State;
use saggar_device::Announcement;
use saggar_plant::spec::WorkSpec;

use super::Error;
use super::bench::Bench;
use super::brain::Brain;
use super::line::{LOOK, Line};
use super::pace::{Pace, Speed};
use super::panel::{Panel, Seen};
use super::presses::Presses;
use saggar_schedule::schedule::Summary;

/// Longest nap: a line that brings something is heard soon.
const NAP: Duration = Duration::from_millis(2);

/// Makes a cold furnace with new work in it.
pub type Furnish = Box<dyn Fn() -> Result<World, Error>>;

/// A stand-in that runs.
pub struct StandIn<B> {
    /// The firmware.
    pub brain: B,
    furnish: Furnish,
    world: World,
    line: Line,
    panel: Panel,
    speed: Speed,
    bench: Bench,
    outputs: Outputs,
    ticks: u64,
    /// Start is held, and was pressed, while the programme waits for a confirm.
    start_held: bool,
    start_refused: bool,
}

/// What a display shows of the programme that would run.
#[derive(Clone, Debug)]
pub struct Shown {
    /// Its digits, peak and steps.
    pub summary: Summary,
    /// Whether it is announced, and its code.
    pub announcement: Announcement,
}

/// What happens, for whoever watches.
#[derive(Clone, Debug)]
pub enum Told {
    /// Something happened in the core, this long after the stand-in came up (s).
    Event(f64, Event),
    /// The display announces a programme, or has more to show of it.
    Announced(Shown),
    /// Somebody confirmed the programme.
    Confirmed,
    /// Start was pressed before that.
    StartRefused,
    /// Keys were typed faster than buttons can be pressed.
    KeysDropped,
}

/// A firing that has ended.
pub struct Ended {
    /// What came of it.
    pub fired: rig::Firing,
    /// Time that it took here, from its start on.
    pub took: Duration,
    /// The buttons that were pressed.
    pub presses: Presses,
}

impl<B: Brain> StandIn<B> {
    /// Firmware in front of a cold furnace.
    ///
    /// # Errors
    /// The furnace cannot be built.
    pub fn new(
        brain: B,
        furnish: Furnish,
        line: Line,
        panel: Panel,
        speed: Speed,
    ) -> Result<Self, Error> {
        let world = furnish()?;
        let (bench, outputs) = (Bench::default(), Outputs::default());
        Ok(Self {
            brain,
            furnish,
            world,
            line,
            panel,
            speed,
            bench,
            outputs,
            ticks: 0,
            start_held: false,
            start_refused: false,
        })
    }

    /// Ticks since it came up.
    pub const fn ticks(&self) -> u64 {
        self.ticks
    }

    /// What a desk gives as its port.
    pub fn line(&self) -> &str {
        self.line.name()
    }

    /// Runs until a firing has ended and the furnace is cold and filled anew, or until `go_on`
    /// says no. `work` and `programme` are for the verdict.
    ///
    /// # Errors
    /// Why the firmware does not answer.
    pub fn run(
        &mut self,
        work: &WorkSpec,
        programme: &Image,
        mut tell: impl FnMut(Told),
        go_on: impl Fn() -> bool,
    ) -> Result<Option<Ended>, Error> {
        let mut pace = Pace::new(self.speed);
        let (mut announced, mut told) = (self.brain.announcement(), Vec::new());
        let mut began = Clock::now();
        let mut was_firing = false;
        while go_on() {
            let firing = self.firing();
            if firing && !was_firing {
                pace.begin_anew();
                began = Clock::now();
                self.world.press_start();
                self.panel.began(self.world.now_ms());
            }
            was_firing = firing;
            self.tick()?;
            for event in self.brain.events() {
                tell(Told::Event(event.at.millis() as f64 / 1000.0, event));
                told.push(event);
            }
            if self.world.answered(&self.outputs) {
                self.world.end_row(&self.brain.status(), told.drain(..));
                if self.world.told() {
                    self.brain.keep(true)?;
                    return self.end(work, programme, began).map(Some);
                }
            }
            let now = self.brain.announcement();
            if now != announced {
                tell(match self.shown() {
                    Some(shown) if now.open => Told::Announced(shown),
                    Some(_) | None => Told::Confirmed,
                });
            }
            announced = now;
            if std::mem::take(&mut self.start_refused) {
                tell(Told::StartRefused);
            }
            if self.panel.dropped_keys() {
                tell(Told::KeysDropped);
            }
            // After the end of a firing the furnace cools at the same pace.
            self.rest(pace.next(self.world.started()))?;
        }
        self.brain.keep(true)?;
        Ok(None)
    }

    /// What the display shows of the programme; `None` if there is none.
    pub fn shown(&self) -> Option<Shown> {
        let summary = Summary::of(self.brain.programme()?);
        Some(Shown { summary, announcement: self.brain.announcement() })
    }

    fn firing(&self) -> bool {
        matches!(self.brain.state(), State::Running(_))
    }

    fn tick(&mut self) -> Result<(), Error> {
        let (now, mut inputs) = self.world.advance(&self.outputs);
        let status = self.brain.status();
        let announcement = self.brain.announcement();
        let seen = Seen {
            firing: status.step.is_some(),
            asks: self.outputs.buzzer && status.tripped.is_none(),
            announced: announcement.open,
            commits: announcement.commits,
        };
        inputs.buttons = self.panel.buttons(now.millis(), seen);
        let start = inputs.buttons.start && announcement.open;
        self.start_refused |= start && !std::mem::replace(&mut self.start_held, start);
        self.start_held = start;
        self.bench.show(&inputs);
        let mut said = Vec::new();
        self.brain.tick(now.millis(), &mut self.bench, &mut said)?;
        self.outputs = self.bench.outputs();
        self.ticks += 1;
        self.line.tell(&said);
        self.brain.keep(false)?;
        self.serve()
    }

    /// Hands the firmware what the line has brought, and answers.
    fn serve(&mut self) -> Result<(), Error> {
        if !self.line.look() {
            return Ok(());
        }
        let now_ms = self.world.now_ms();
        let mut answered = false;
        while let Some(frame) = self.line.next(now_ms) {
            let mut said = Vec::new();
            let announced = self.brain.announcement();
            self.brain.hear(now_ms, &frame, &mut said)?;
            // A programme that a desk is told to be in flash is there for good.
            self.brain.keep(self.brain.announcement() != announced)?;
            self.line.answer(&said);
            answered = true;
        }
        if answered {
            self.line.write();
        }
        Ok(())
    }

    /// Serves the line until the next tick is due and nobody who reads lags behind.
    fn rest(&mut self, due: Option<Clock>) -> Result<(), Error> {
        loop {
            let left =
                due.map_or(Duration::ZERO, |due| due.saturating_duration_since(Clock::now()));
            if left.is_zero() && !self.line.is_slow() {
                return Ok(());
            }
            std::thread::sleep(if left.is_zero() { LOOK } else { left.min(NAP) });
            self.serve()?;
        }
    }

    fn end(
        &mut self,
        work: &WorkSpec,
        programme: &Image,
        began: Clock,
    ) -> Result<Ended, Error> {
        self.line.finish();
        let ending = match self.brain.state() {
            State::Ended(ending) => Some(*ending),
            State::Idle | State::Running(_) => None,
        };
        let fresh = (self.furnish)()?.later(self.world.now_ms());
        let world = std::mem::replace(&mut self.world, fresh);
        let fired = world.finish(work, programme, ending);
        Ok(Ended { fired, took: began.elapsed(), presses: self.panel.take_presses() })
    }
}
