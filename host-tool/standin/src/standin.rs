//! A stand-in: a bench that listens to desks, keeps a pace, and is filled anew after each firing.

use std::ops::ControlFlow;
use std::rc::Rc;
use std::time::{Duration, Instant as Clock};

use saggar_bench::firmware::LinkedFirmware;
use saggar_bench::observer::SummaryRecorder;
use saggar_bench::trace::Trace;
use saggar_bench::{Bench, FiringResult, RehearsalSetup};
use saggar_core::events::{Ending, EventKind};
use saggar_core::units::Instant;
use saggar_device::wire::LogEvent;
use saggar_device::{Announcement, IgnoredPress, PressError};
use saggar_plant::faults::ScheduledFault;
use saggar_schedule::firing_plan::FiringPlan as Plan;
use saggar_schedule::schedule::ProgrammeSummary as Figures;

use crate::StandInError;
use crate::flash_file::{FlashFile, SYNC_INTERVAL};
use crate::listener::{Listener, POLL_INTERVAL};
use crate::pace::{Speed, TickPacer};
use crate::panel::ControlPanel;
use crate::presses::{Button, PressLog};

/// Longest nap: a line that brings something is heard soon.
const SLEEP_MAX: Duration = Duration::from_millis(2);

/// What the furnace is, and what is put into it for each firing.
#[derive(Clone, Debug)]
pub struct FiringSetup {
    /// The furnace, the work, and the programme that the work is for.
    pub plan: Plan,
    /// Seed of all noise.
    pub seed: u64,
    /// What goes wrong, and when.
    pub faults: Vec<ScheduledFault>,
}

/// A stand-in that runs.
pub struct StandIn<F> {
    bench: Bench<F, ControlPanel, FiringObserver>,
    setup: FiringSetup,
    io: HostIo,
    speed: Speed,
}

/// What watches each firing.
type FiringObserver = (SummaryRecorder, Trace);

/// What a stand-in has to do with besides its bench.
struct HostIo {
    listener: Listener,
    flash_file: Option<Rc<FlashFile>>,
    /// When the flash was looked at last.
    synced_at: Option<Clock>,
}

/// What a display shows of the programme that would run.
#[derive(Clone, Debug)]
pub struct DisplayedProgramme {
    /// Its digits, peak and steps.
    pub summary: Figures,
    /// Whether it is announced, and its code.
    pub announcement: Announcement,
}

/// What happens, for whoever watches.
#[derive(Clone, Debug)]
pub enum StandInEvent {
    /// An entry of the device's log, at this time since the stand-in started (s).
    Logged(f64, LogEvent),
    /// The display announces a programme, or has more to show of it.
    ProgrammeAnnounced(DisplayedProgramme),
    /// Somebody confirmed the programme.
    ProgrammeConfirmed,
    /// A press of start or confirm had no effect.
    PressIgnored(PressError),
    /// Keys were typed faster than buttons can be pressed.
    KeysDropped,
}

/// What the display showed last.
struct DisplayState {
    announcement: Announcement,
    ignored: Option<IgnoredPress>,
}

/// A firing that has ended.
pub struct CompletedFiring {
    /// What came of it.
    pub fired: FiringResult,
    /// Time that it took here, from its start on.
    pub elapsed: Duration,
    /// The buttons that were pressed.
    pub presses: PressLog,
}

impl FiringSetup {
    fn setup(&self) -> RehearsalSetup<'_> {
        let Plan { profile, work, image, .. } = &self.plan;
        RehearsalSetup {
            furnace: &profile.spec,
            device: &profile.furnace,
            work,
            programme: image,
            seed: self.seed,
            faults: self.faults.clone(),
            operator_delay_s: None,
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
        filling: FiringSetup,
        line: Listener,
        disk: Option<Rc<FlashFile>>,
        panel: ControlPanel,
        speed: Speed,
    ) -> Result<Self, StandInError> {
        let setup = filling.setup();
        let watching = (setup.summary_recorder(), Trace::default());
        let bench = Bench::new(
            setup.world().map_err(StandInError::InvalidFurnace)?,
            firmware,
            panel,
            watching,
        );
        Ok(Self {
            bench,
            setup: filling,
            io: HostIo { listener: line, flash_file: disk, synced_at: None },
            speed,
        })
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
    pub fn address(&self) -> &str {
        self.io.listener.address()
    }

    /// What the display shows of the programme; `None` if there is none.
    pub fn displayed(&self) -> Option<DisplayedProgramme> {
        displayed_programme(&self.bench.firmware)
    }

    /// Runs until a firing has ended and the furnace is cold and filled anew, or until `go_on`
    /// says no.
    ///
    /// # Errors
    /// Why the firmware does not answer.
    pub fn run(
        &mut self,
        mut tell: impl FnMut(StandInEvent),
        go_on: impl Fn() -> bool,
    ) -> Result<Option<CompletedFiring>, StandInError> {
        let (outside, mut pace) = (&mut self.io, TickPacer::new(self.speed));
        let mut display = DisplayState {
            announcement: self.bench.firmware.announcement(),
            ignored: self.bench.firmware.ignored_press(),
        };
        let (mut start_ms, mut began) = (None, Clock::now());
        let flow = self.bench.run(|bench| -> Result<_, StandInError> {
            if bench.world().start_ms() != start_ms {
                start_ms = bench.world().start_ms();
                began = Clock::now();
                pace.restart();
            }
            outside.after_a_tick(bench)?;
            report_events(bench, &mut display, &mut tell);
            if !go_on() {
                return Ok(ControlFlow::Break(()));
            }
            // After the end of a firing the furnace cools at the same pace.
            outside.wait_for_tick(bench, pace.next_tick_at(bench.world().is_started()))?;
            Ok(ControlFlow::Continue(()))
        })?;
        self.io.sync_flash(&mut self.bench.firmware, true)?;
        match flow {
            ControlFlow::Break(()) => Ok(None),
            ControlFlow::Continue(()) => self.complete_firing(began).map(Some),
        }
    }

    fn complete_firing(&mut self, began: Clock) -> Result<CompletedFiring, StandInError> {
        self.io.listener.flush();
        let (setup, again) = (self.setup.setup(), self.bench.next_firing_started());
        let watching = (setup.summary_recorder(), Trace::default());
        let over = self.bench.start_next(|| setup.world(), watching);
        let (world, (summary, trace)) = over.map_err(StandInError::InvalidFurnace)?;
        let fired = FiringResult::from_world(&world, summary, trace, setup.work);
        let presses = match again {
            true => self.bench.operator.take_previous_presses(),
            false => self.bench.operator.take_presses(),
        };
        Ok(CompletedFiring { fired, elapsed: began.elapsed(), presses })
    }
}

/// Tells what the last tick brought.
fn report_events<F: LinkedFirmware>(
    bench: &mut Bench<F, ControlPanel, FiringObserver>,
    display: &mut DisplayState,
    tell: &mut impl FnMut(StandInEvent),
) {
    let stop_is_held = bench.operator.is_held(Button::Stop);
    let mut ordered_at = None;
    for event in bench.events() {
        let at_s = event.at.millis() as f64 / 1000.0;
        if event.kind == EventKind::FiringEnded(Ending::Stopped) && !stop_is_held {
            ordered_at = Some(event.at.millis());
            tell(StandInEvent::Logged(at_s, LogEvent::StopRequested));
        }
        tell(StandInEvent::Logged(at_s, LogEvent::Core(event.kind)));
    }
    if let Some(at_ms) = ordered_at {
        bench.operator.note_ordered_stop(at_ms);
    }
    let now = bench.firmware.announcement();
    if now != display.announcement {
        tell(match displayed_programme(&bench.firmware) {
            Some(shown) if now.unconfirmed => StandInEvent::ProgrammeAnnounced(shown),
            Some(_) | None => StandInEvent::ProgrammeConfirmed,
        });
        display.announcement = now;
    }
    let ignored = bench.firmware.ignored_press();
    match ignored.filter(|_| ignored != display.ignored) {
        Some(press) => tell(StandInEvent::PressIgnored(press.error)),
        // The emulated board does not tell its reasons; this one shows on its display.
        None if bench.operator.start_refused() && ignored.is_none() => {
            tell(StandInEvent::PressIgnored(PressError::Unconfirmed));
        }
        None => {}
    }
    display.ignored = ignored;
    if bench.operator.take_dropped_keys() {
        tell(StandInEvent::KeysDropped);
    }
}

fn displayed_programme(firmware: &impl LinkedFirmware) -> Option<DisplayedProgramme> {
    let summary = Figures::of(firmware.programme()?);
    Some(DisplayedProgramme { summary, announcement: firmware.announcement() })
}

impl HostIo {
    fn after_a_tick<F: LinkedFirmware<Error = saggar_bench::BenchError>, P, O>(
        &mut self,
        bench: &mut Bench<F, P, O>,
    ) -> Result<(), StandInError> {
        let mut said = Vec::new();
        bench.firmware.drain_output(&mut said);
        self.listener.broadcast(&said);
        self.sync_flash(&mut bench.firmware, false)?;
        self.serve(bench)
    }

    /// Hands the firmware what the line has brought, and answers.
    fn serve<F: LinkedFirmware<Error = saggar_bench::BenchError>, P, O>(
        &mut self,
        bench: &mut Bench<F, P, O>,
    ) -> Result<(), StandInError> {
        if !self.listener.poll() {
            return Ok(());
        }
        let now_ms = bench.world().now_ms();
        let firmware = &mut bench.firmware;
        let mut answered = false;
        while let Some(frame) = self.listener.next_frame(now_ms) {
            let mut said = Vec::new();
            let announced = firmware.announcement();
            firmware.receive(Instant::from_millis(now_ms), &frame, &mut said)?;
            // A programme that a desk is told to be in flash is there for good.
            self.sync_flash(firmware, firmware.announcement() != announced)?;
            self.listener.reply(&said);
            answered = true;
        }
        if answered {
            self.listener.write();
        }
        Ok(())
    }

    /// Makes what was written to the flash outlast a power cut of the desk, at once or now and then.
    fn sync_flash<F: LinkedFirmware<Error = saggar_bench::BenchError>>(
        &mut self,
        firmware: &mut F,
        at_once: bool,
    ) -> Result<(), StandInError> {
        let Some(disk) = &self.flash_file else { return Ok(()) };
        let now = Clock::now();
        if at_once
            || self.synced_at.is_none_or(|last| now.duration_since(last) >= SYNC_INTERVAL)
        {
            self.synced_at = Some(now);
            firmware.sync_flash()?;
        }
        disk.sync(at_once, now).map_err(StandInError::FlashNotSaved)?;
        Ok(())
    }

    /// Serves the line until the next tick is due and nobody who reads lags behind.
    fn wait_for_tick<F: LinkedFirmware<Error = saggar_bench::BenchError>, P, O>(
        &mut self,
        bench: &mut Bench<F, P, O>,
        due: Option<Clock>,
    ) -> Result<(), StandInError> {
        loop {
            let left =
                due.map_or(Duration::ZERO, |due| due.saturating_duration_since(Clock::now()));
            if left.is_zero() && !self.listener.is_slow() {
                return Ok(());
            }
            std::thread::sleep(if left.is_zero() {
                POLL_INTERVAL
            } else {
                left.min(SLEEP_MAX)
            });
            self.serve(bench)?;
        }
    }
}
