//! A stand-in: a bench that listens to desks, keeps a pace, and is filled anew after each firing.

use std::ops::ControlFlow;
use std::rc::Rc;
use std::time::{Duration, Instant as Clock};

use saggar_bench::firmware::LinkedFirmware;
use saggar_bench::observer::SummaryRecorder;
use saggar_bench::trace::Trace;
use saggar_bench::{Bench, FiringResult, RehearsalSetup};
use saggar_core::events::Event;
use saggar_core::units::Instant;
use saggar_device::Announcement;
use saggar_plant::faults::ScheduledFault;
use saggar_schedule::firing_plan::FiringPlan as Plan;
use saggar_schedule::schedule::ProgrammeSummary as Figures;

use crate::Error;
use crate::disk::{Disk, KEEP};
use crate::line::{LOOK, Line};
use crate::pace::{Pace, Speed};
use crate::panel::Panel;
use crate::presses::Presses;

/// Longest nap: a line that brings something is heard soon.
const NAP: Duration = Duration::from_millis(2);

/// What the furnace is, and what is put into it for each firing.
#[derive(Clone, Debug)]
pub struct Filling {
    /// The furnace, the work, and the programme that the work is for.
    pub plan: Plan,
    /// Seed of all noise.
    pub seed: u64,
    /// What goes wrong, and when.
    pub faults: Vec<ScheduledFault>,
}

/// A stand-in that runs.
pub struct StandIn<F> {
    bench: Bench<F, Panel, Watching>,
    filling: Filling,
    outside: Outside,
    speed: Speed,
}

/// What watches each firing.
type Watching = (SummaryRecorder, Trace);

/// What a stand-in has to do with besides its bench.
struct Outside {
    line: Line,
    disk: Option<Rc<Disk>>,
    /// When the flash was looked at last.
    looked: Option<Clock>,
}

/// What a display shows of the programme that would run.
#[derive(Clone, Debug)]
pub struct Shown {
    /// Its digits, peak and steps.
    pub summary: Figures,
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
    pub fired: FiringResult,
    /// Time that it took here, from its start on.
    pub took: Duration,
    /// The buttons that were pressed.
    pub presses: Presses,
}

impl Filling {
    fn setup(&self) -> RehearsalSetup<'_> {
        let Plan { profile, work, image, .. } = &self.plan;
        RehearsalSetup {
            furnace: &profile.spec,
            device: &profile.furnace,
            work,
            programme: image,
            seed: self.seed,
            faults: self.faults.clone(),
            operator_s: None,
        }
    }
}

impl<F: LinkedFirmware<Error = saggar_bench::BenchError>> StandIn<F> {
    /// Firmware in front of a cold furnace. `disk` is where its flash lies, if it is kept.
    ///
    /// # Errors
    /// The furnace cannot be built.
    pub fn new(
        firmware: F,
        filling: Filling,
        line: Line,
        disk: Option<Rc<Disk>>,
        panel: Panel,
        speed: Speed,
    ) -> Result<Self, Error> {
        let setup = filling.setup();
        let watching = (setup.summary(), Trace::default());
        let bench = Bench::new(setup.world().map_err(Error::Unfit)?, firmware, panel, watching);
        Ok(Self { bench, filling, outside: Outside { line, disk, looked: None }, speed })
    }

    /// The firmware.
    pub const fn firmware(&mut self) -> &mut F {
        &mut self.bench.firmware
    }

    /// Ticks since it came up.
    pub const fn ticks(&self) -> u64 {
        self.bench.ticks()
    }

    /// What a desk gives as its port.
    pub fn line(&self) -> &str {
        self.outside.line.name()
    }

    /// What the display shows of the programme; `None` if there is none.
    pub fn shown(&self) -> Option<Shown> {
        shown(&self.bench.firmware)
    }

    /// Runs until a firing has ended and the furnace is cold and filled anew, or until `go_on`
    /// says no.
    ///
    /// # Errors
    /// Why the firmware does not answer.
    pub fn run(
        &mut self,
        mut tell: impl FnMut(Told),
        go_on: impl Fn() -> bool,
    ) -> Result<Option<Ended>, Error> {
        let (outside, mut pace) = (&mut self.outside, Pace::new(self.speed));
        let mut announced = self.bench.firmware.announcement();
        let (mut start_ms, mut began) = (None, Clock::now());
        let flow = self.bench.run(|bench| -> Result<_, Error> {
            if bench.world().start_ms() != start_ms {
                start_ms = bench.world().start_ms();
                began = Clock::now();
                pace.begin_anew();
            }
            outside.after_a_tick(bench)?;
            news(bench, &mut announced, &mut tell);
            if !go_on() {
                return Ok(ControlFlow::Break(()));
            }
            // After the end of a firing the furnace cools at the same pace.
            outside.rest(bench, pace.next(bench.world().started()))?;
            Ok(ControlFlow::Continue(()))
        })?;
        self.outside.keep(&mut self.bench.firmware, true)?;
        match flow {
            ControlFlow::Break(()) => Ok(None),
            ControlFlow::Continue(()) => self.end(began).map(Some),
        }
    }

    fn end(&mut self, began: Clock) -> Result<Ended, Error> {
        self.outside.line.finish();
        let (setup, again) = (self.filling.setup(), self.bench.begins_again());
        let watching = (setup.summary(), Trace::default());
        let over = self.bench.refill(|| setup.world(), watching);
        let (world, (summary, trace)) = over.map_err(Error::Unfit)?;
        let fired = FiringResult::of(&world, summary, trace, setup.work);
        let presses = match again {
            true => self.bench.operator.take_presses_before(),
            false => self.bench.operator.take_presses(),
        };
        Ok(Ended { fired, took: began.elapsed(), presses })
    }
}

/// Tells what the last tick brought.
fn news<F: LinkedFirmware>(
    bench: &mut Bench<F, Panel, Watching>,
    announced: &mut Announcement,
    tell: &mut impl FnMut(Told),
) {
    for event in bench.events() {
        tell(Told::Event(event.at.millis() as f64 / 1000.0, *event));
    }
    let now = bench.firmware.announcement();
    if now != *announced {
        tell(match shown(&bench.firmware) {
            Some(shown) if now.unconfirmed => Told::Announced(shown),
            Some(_) | None => Told::Confirmed,
        });
        *announced = now;
    }
    if bench.operator.start_refused() {
        tell(Told::StartRefused);
    }
    if bench.operator.dropped_keys() {
        tell(Told::KeysDropped);
    }
}

fn shown(firmware: &impl LinkedFirmware) -> Option<Shown> {
    let summary = Figures::of(firmware.programme()?);
    Some(Shown { summary, announcement: firmware.announcement() })
}

impl Outside {
    fn after_a_tick<F: LinkedFirmware<Error = saggar_bench::BenchError>, P, O>(
        &mut self,
        bench: &mut Bench<F, P, O>,
    ) -> Result<(), Error> {
        let mut said = Vec::new();
        bench.firmware.drain_output(&mut said);
        self.line.tell(&said);
        self.keep(&mut bench.firmware, false)?;
        self.serve(bench)
    }

    /// Hands the firmware what the line has brought, and answers.
    fn serve<F: LinkedFirmware<Error = saggar_bench::BenchError>, P, O>(
        &mut self,
        bench: &mut Bench<F, P, O>,
    ) -> Result<(), Error> {
        if !self.line.look() {
            return Ok(());
        }
        let now_ms = bench.world().now_ms();
        let firmware = &mut bench.firmware;
        let mut answered = false;
        while let Some(frame) = self.line.next(now_ms) {
            let mut said = Vec::new();
            let announced = firmware.announcement();
            firmware.receive(Instant::from_millis(now_ms), &frame, &mut said)?;
            // A programme that a desk is told to be in flash is there for good.
            self.keep(firmware, firmware.announcement() != announced)?;
            self.line.answer(&said);
            answered = true;
        }
        if answered {
            self.line.write();
        }
        Ok(())
    }

    /// Makes what was written to the flash outlast a power cut of the desk, at once or now and then.
    fn keep<F: LinkedFirmware<Error = saggar_bench::BenchError>>(
        &mut self,
        firmware: &mut F,
        at_once: bool,
    ) -> Result<(), Error> {
        let Some(disk) = &self.disk else { return Ok(()) };
        let now = Clock::now();
        if at_once || self.looked.is_none_or(|last| now.duration_since(last) >= KEEP) {
            self.looked = Some(now);
            firmware.fetch_flash()?;
        }
        disk.keep(at_once, now).map_err(Error::Kept)?;
        Ok(())
    }

    /// Serves the line until the next tick is due and nobody who reads lags behind.
    fn rest<F: LinkedFirmware<Error = saggar_bench::BenchError>, P, O>(
        &mut self,
        bench: &mut Bench<F, P, O>,
        due: Option<Clock>,
    ) -> Result<(), Error> {
        loop {
            let left =
                due.map_or(Duration::ZERO, |due| due.saturating_duration_since(Clock::now()));
            if left.is_zero() && !self.line.is_slow() {
                return Ok(());
            }
            std::thread::sleep(if left.is_zero() { LOOK } else { left.min(NAP) });
            self.serve(bench)?;
        }
    }
}
