//! A stand-in: a bench that serves clients, runs at a chosen speed, and is filled again after each
//! firing.

use std::ops::ControlFlow;
use std::rc::Rc;
use std::time::{Duration, Instant as Clock};

use saggar_bench::firmware::LinkedFirmware;
use saggar_bench::trace::Trace;
use saggar_bench::{Bench, FiringResult, RehearsalSetup};
use saggar_core::controller::Bookmark;
use saggar_core::events::{Ending, EventKind};
use saggar_core::units::Instant;
use saggar_device::wire::LogEvent;
use saggar_device::{Announcement, IgnoredPress, PressError};
use saggar_plant::faults::{Fault, FaultEffect};
use saggar_plant::furnace_state::FurnaceState;
use saggar_schedule::firing_plan::FiringPlan;

use crate::StandInError;
use crate::displayed::{DisplayedProgramme, displayed_programme};
use crate::events::{DisplayEvent, StandInEvent};
use crate::fault_desk::{FaultDesk, FiringObserver};
use crate::faults::{FaultWatch, Reach, is_there};
use crate::flash_file::{FlashFile, SYNC_INTERVAL};
use crate::listener::{Listener, POLL_INTERVAL};
use crate::pace::{Speed, TickPacer};
use crate::panel::ControlPanel;
use crate::presses::{Button, PressLog};
use crate::typed::LineError;

/// Longest sleep, so that clients are served soon.
const SLEEP_MAX: Duration = Duration::from_millis(2);

/// The furnace and its work, the same in each firing.
#[derive(Clone, Debug)]
pub struct FiringSetup {
    /// The furnace, the work, and the programme that the work is for.
    pub plan: FiringPlan,
    /// Seed of all noise.
    pub seed: u64,
    /// The faults to inject, and when.
    pub faults: Vec<Fault>,
    /// The furnace before each firing; `None` for a cold one.
    pub start: Option<FurnaceState>,
}

/// A running stand-in.
pub struct StandIn<F> {
    bench: Bench<F, ControlPanel, FiringObserver>,
    setup: FiringSetup,
    io: HostIo,
    speed: Speed,
    faults: FaultWatch,
    reach: Reach,
}

/// The clients and the flash file of a stand-in.
struct HostIo {
    listener: Listener,
    flash_file: Option<Rc<FlashFile>>,
    /// When the flash was last fetched.
    synced_at: Option<Clock>,
    /// No frame passes.
    link_lost: bool,
}

/// The last state that the display showed.
struct DisplayState {
    announcement: Announcement,
    ignored: Option<IgnoredPress>,
    interrupted: Option<Bookmark>,
}

/// A completed firing.
pub struct CompletedFiring {
    /// Its result.
    pub fired: FiringResult,
    /// Time that it took here since its start.
    pub elapsed: Duration,
    /// The presses in it.
    pub presses: PressLog,
    /// The faults in it, planned or typed, and those that were planned for later.
    pub faults: Vec<Fault>,
}

impl FiringSetup {
    fn rehearsal(&self) -> RehearsalSetup<'_> {
        let FiringPlan { profile, work, image, .. } = &self.plan;
        RehearsalSetup {
            furnace: &profile.spec,
            device: &profile.furnace,
            work,
            programme: image,
            seed: self.seed,
            faults: self.faults.clone(),
            operator_delay_s: None,
            start: self.start,
        }
    }
}

impl<F: LinkedFirmware<Error = saggar_bench::BenchError>> StandIn<F> {
    /// Firmware at the furnace of a setup. `flash_file` keeps its flash, if there is one.
    ///
    /// # Errors
    /// The furnace cannot be simulated, or a planned fault cannot strike.
    pub fn new(
        firmware: F,
        setup: FiringSetup,
        listener: Listener,
        flash_file: Option<Rc<FlashFile>>,
        panel: ControlPanel,
        speed: Speed,
    ) -> Result<Self, StandInError> {
        let (memory, power) = (F::CAN_FLIP_MEMORY, F::CAN_REBOOT);
        let reach = Reach { memory, power, link: !listener.is_external() };
        for fault in &setup.faults {
            if let Some(why) = reach.refusal(fault) {
                return Err(StandInError::OutOfReach(fault.kind, why));
            }
        }
        let rehearsal = setup.rehearsal();
        let observer = (rehearsal.summary_recorder(), Trace::default());
        let world = rehearsal.world().map_err(StandInError::InvalidFurnace)?;
        let bench = Bench::new(world, firmware, panel, observer);
        let io = HostIo { listener, flash_file, synced_at: None, link_lost: false };
        Ok(Self { bench, setup, io, speed, faults: FaultWatch::default(), reach })
    }

    /// The firmware.
    pub const fn firmware(&mut self) -> &mut F {
        &mut self.bench.firmware
    }

    /// Ticks since it started.
    pub const fn ticks(&self) -> u64 {
        self.bench.ticks()
    }

    /// The port that a client has to open.
    pub fn address(&self) -> &str {
        self.io.listener.address()
    }

    /// The active programme, as the display shows it; `None` without one.
    pub fn displayed(&self) -> Option<DisplayedProgramme> {
        displayed_programme(&self.bench.firmware)
    }

    /// Runs until a firing has ended and the furnace is as at the start and filled again, or until `keep_running`
    /// returns false.
    ///
    /// # Errors
    /// The firmware does not answer, or the flash cannot be saved.
    pub fn run(
        &mut self,
        mut on_event: impl FnMut(StandInEvent),
        keep_running: impl Fn() -> bool,
    ) -> Result<Option<CompletedFiring>, StandInError> {
        let Self { bench, setup, io, speed, faults, reach } = self;
        let mut pace = TickPacer::new(*speed);
        let profile = &setup.plan.profile;
        let mut desk = FaultDesk {
            faults,
            furnace: (&profile.name, &profile.spec),
            reach: *reach,
            settings_spoilt: false,
        };
        let mut display = DisplayState::of(&bench.firmware);
        let (mut start_ms, mut began) = (None, Clock::now());
        let flow = bench.run(|bench| -> Result<_, StandInError> {
            if bench.world().start_ms() != start_ms {
                start_ms = bench.world().start_ms();
                began = Clock::now();
                pace.restart();
            }
            io.after_a_tick(bench)?;
            report_events(bench, &mut display, &mut on_event);
            desk.after_a_tick(bench, &mut on_event)?;
            io.link_lost = is_there(bench.world(), FaultEffect::LinkLost);
            if is_there(bench.world(), FaultEffect::MainsCut) {
                io.sync_flash(&mut bench.firmware, true)?;
                io.link_lost = true;
                desk.without_power(bench, &mut on_event, |bench| {
                    io.wait_for_tick(bench, pace.next_tick_at(true))?;
                    Ok(keep_running())
                })?;
                display = DisplayState::of(&bench.firmware);
            }
            if !keep_running() {
                return Ok(ControlFlow::Break(()));
            }
            // After the end of a firing the furnace cools at the same speed. A firing that a power cut has
            // interrupted waits for a person.
            let waits = bench.firmware.status().interrupted.is_some();
            let hurries = bench.world().is_started() && !waits;
            io.wait_for_tick(bench, pace.next_tick_at(hurries))?;
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
        let (setup, next_started) = (self.setup.rehearsal(), self.bench.next_firing_started());
        let observer = (setup.summary_recorder(), Trace::default());
        let faults = self.faults.of_firing(self.bench.world(), &self.setup.faults);
        let watch = &mut self.faults;
        let fresh = || {
            let mut world = setup.world()?;
            watch.refill(&mut world);
            Ok(world)
        };
        let refilled = self.bench.start_next(fresh, observer);
        let (world, (summary, trace)) = refilled.map_err(StandInError::InvalidFurnace)?;
        let fired = FiringResult::from_world(&world, summary, trace, setup.work);
        let presses = match next_started {
            true => self.bench.operator.take_previous_presses(),
            false => self.bench.operator.take_presses(),
        };
        Ok(CompletedFiring { fired, elapsed: began.elapsed(), presses, faults })
    }
}

/// Reports what happened in the last tick.
fn report_events<F: LinkedFirmware>(
    bench: &mut Bench<F, ControlPanel, FiringObserver>,
    display: &mut DisplayState,
    on_event: &mut impl FnMut(StandInEvent),
) {
    let stop_is_held = bench.operator.is_held(Button::Stop);
    let mut ordered_at = None;
    for event in bench.events() {
        let at_s = event.at.millis() as f64 / 1000.0;
        if event.kind == EventKind::FiringEnded(Ending::Stopped) && !stop_is_held {
            ordered_at = Some(event.at.millis());
            on_event(StandInEvent::Logged(at_s, LogEvent::StopRequested));
        }
        on_event(StandInEvent::Logged(at_s, LogEvent::Core(event.kind)));
    }
    if let Some(at_ms) = ordered_at {
        bench.operator.note_ordered_stop(at_ms);
    }
    let mut show = |event| on_event(StandInEvent::Display(event));
    let now = bench.firmware.announcement();
    if now != display.announcement {
        show(match displayed_programme(&bench.firmware) {
            Some(shown) if now.unconfirmed => DisplayEvent::ProgrammeAnnounced(shown),
            Some(_) | None => DisplayEvent::ProgrammeConfirmed,
        });
        display.announcement = now;
    }
    let interrupted = bench.firmware.status().interrupted;
    if let Some(cut) = interrupted.filter(|_| interrupted != display.interrupted) {
        show(DisplayEvent::FiringInterrupted(cut));
    }
    display.interrupted = interrupted;
    let ignored = bench.firmware.ignored_press();
    match ignored.filter(|_| ignored != display.ignored) {
        Some(press) => show(DisplayEvent::PressIgnored(press.error)),
        // The emulated board reports no reason; that the programme is unconfirmed is visible on its
        // display.
        None if bench.operator.start_refused() && ignored.is_none() => {
            show(DisplayEvent::PressIgnored(PressError::Unconfirmed));
        }
        None => {}
    }
    display.ignored = ignored;
    if bench.operator.take_idle_stop() {
        show(DisplayEvent::StopWithoutFiring);
    }
    match bench.operator.take_unknown_line() {
        Some(LineError::Unknown(line)) => show(DisplayEvent::UnknownLine(line)),
        Some(LineError::Wrong(why)) => show(DisplayEvent::WrongLine(why)),
        None => {}
    }
    if bench.operator.take_dropped_keys() {
        show(DisplayEvent::KeysDropped);
    }
}

impl DisplayState {
    fn of(firmware: &impl LinkedFirmware) -> Self {
        Self {
            announcement: firmware.announcement(),
            ignored: firmware.ignored_press(),
            interrupted: None,
        }
    }
}

impl HostIo {
    fn after_a_tick<F: LinkedFirmware<Error = saggar_bench::BenchError>, P, O>(
        &mut self,
        bench: &mut Bench<F, P, O>,
    ) -> Result<(), StandInError> {
        let mut output = Vec::new();
        bench.firmware.drain_output(&mut output);
        if self.link_lost {
            output.clear();
        }
        self.listener.broadcast(&output);
        self.sync_flash(&mut bench.firmware, false)?;
        self.serve(bench)
    }

    /// Hands the firmware the clients' frames, and delivers its replies.
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
            if self.link_lost {
                continue;
            }
            let mut output = Vec::new();
            let announced = firmware.announcement();
            firmware.receive(Instant::from_millis(now_ms), &frame, &mut output)?;
            // An upload is on the disk before it is acknowledged.
            self.sync_flash(firmware, firmware.announcement() != announced)?;
            self.listener.reply(&output);
            answered = true;
        }
        if answered {
            self.listener.write();
        }
        Ok(())
    }

    /// Syncs the flash to its file, at once or if it is due.
    fn sync_flash<F: LinkedFirmware<Error = saggar_bench::BenchError>>(
        &mut self,
        firmware: &mut F,
        at_once: bool,
    ) -> Result<(), StandInError> {
        let Some(file) = &self.flash_file else { return Ok(()) };
        let now = Clock::now();
        if at_once
            || self.synced_at.is_none_or(|last| now.duration_since(last) >= SYNC_INTERVAL)
        {
            self.synced_at = Some(now);
            firmware.sync_flash()?;
        }
        file.sync(at_once, now).map_err(StandInError::FlashNotSaved)?;
        Ok(())
    }

    /// Serves the clients until the next tick is due and no reading client lags behind.
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
