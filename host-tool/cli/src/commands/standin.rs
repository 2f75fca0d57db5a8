//! `standin`: a furnace that is not there, to be uploaded to, started and watched.

use std::path::{Path, PathBuf};
use std::rc::Rc;

use saggar_bench::firmware::{BoardUsage, LinkedFirmware, SimulatedBoard};
use saggar_bench::flash::SimulatedFlash;
use saggar_core::Cause;
use saggar_device::wire::LogEntry;

use super::conditions::{OperatorBehaviour, RehearsalOptions};
use super::device::phrases::LogPhrases;
use super::device::settings_of;
use super::fault_outcomes;
use super::rehearse::{RehearsalResult, report_on};
use crate::error::CliError;
use saggar_files::Diagnostic;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_standin::listener::{ListenAddress, Listener};
use saggar_standin::pace::Speed;
use saggar_standin::panel::ControlPanel;
use saggar_standin::presses::PlannedPress;
use saggar_standin::{DisplayedProgramme, FiringSetup, FlashFile, StandInEvent};

/// What is to stand in for a furnace.
#[derive(Clone, Debug)]
pub struct StandInOptions<'a> {
    /// What is in the furnace, what goes wrong, and where reports go; its `operator` becomes what
    /// was pressed in a firing.
    pub rehearsal: RehearsalOptions<'a>,
    /// Where to listen.
    pub listen: &'a ListenAddress,
    /// Key file; without one it takes no orders.
    pub key: Option<&'a Path>,
    /// Its name.
    pub id: &'a str,
    /// File that stands for its flash.
    pub memory: Option<&'a Path>,
    /// How fast a firing runs.
    pub speed: Speed,
    /// Somebody stands at its panel, instead of a keyboard.
    pub operator: bool,
    /// Buttons that are pressed by a plan.
    pub presses: &'a [PlannedPress],
    /// It ends after the first firing.
    pub once: bool,
    /// Image for the emulated board, instead of the firmware in this process.
    pub image: Option<EmulatedImage<'a>>,
}

/// An image for the emulated board.
#[derive(Clone, Copy, Debug)]
pub struct EmulatedImage<'a> {
    /// Its file.
    pub file: &'a Path,
    /// It talks through a serial port, not through memory.
    pub serial: bool,
    /// Instructions are counted.
    pub count: bool,
    /// File for what it logs.
    pub messages: Option<&'a Path>,
}

/// What a stand-in tells while it runs.
#[derive(Clone, Debug)]
pub enum StandInReport<'a> {
    /// It listens at this port, with this on its display: programme and latched cause.
    Listening(&'a str, &'a FiringPlan, Option<DisplayedProgramme>, Option<Cause>),
    /// An entry of the device's log, in words, at this time since the stand-in started (s).
    Logged(f64, String),
    /// Something else happened.
    Event(StandInEvent),
    /// A firing has ended.
    Verdict(&'a RehearsalResult, RunFigures),
}

/// Figures of a firing that was run.
#[derive(Clone, Debug, Copy, Default, PartialEq)]
pub struct RunFigures {
    /// Ticks since the stand-in came up.
    pub ticks: u64,
    /// How many times faster than life the firing was.
    pub speed_ratio: f64,
    /// Ticks in which the emulated board and the core here answered the same.
    pub compared: Option<u64>,
    /// What the emulated board counted.
    pub counted: Option<BoardUsage>,
}

/// Stands in for a furnace until `go_on` says no, or with `once` until a firing has ended. Whether
/// the last verdict passed; `None` without a firing.
///
/// # Errors
/// What is wrong with a file, or why the firmware does not run.
pub fn standin(
    wanted: &StandInOptions<'_>,
    tell: impl FnMut(StandInReport<'_>) -> Result<(), CliError>,
    go_on: impl Fn() -> bool,
) -> Result<Option<bool>, CliError> {
    let plan = wanted.rehearsal.load()?;
    let folder = wanted.rehearsal.report_folder()?;
    let (mut flash, disk) = match wanted.memory {
        Some(path) => FlashFile::open_flash(path).map(|(flash, disk)| (flash, Some(disk)))?,
        None => (SimulatedFlash::blank(), None),
    };
    // What a local action would have put there.
    let settings = settings_of(wanted.id, wanted.key, plan.profile.furnace.clone())?;
    flash.store_settings(&settings).map_err(|_| {
        let message = "the flash does not take the settings";
        Diagnostic::for_file("memory", message, "name a new file for --memory, or none")
    })?;
    let serving = Server { options: wanted, plan, folder, flash_file: disk, tell, go_on };
    match wanted.image {
        None => {
            let line = Listener::open(wanted.listen)?;
            serving.serve(SimulatedBoard::boot(flash)?, line, |_| Ok(RunFigures::default()))
        }
        #[cfg(unix)]
        Some(image) => serving.emulated(image, flash),
        #[cfg(not(unix))]
        Some(_) => Err(saggar_bench::BenchError::NoEmulator.into()),
    }
}

/// The emulator offers its serial port at an address only.
#[cfg(unix)]
fn serial_needs_tcp() -> Diagnostic {
    let message = "--serial cannot be used with --listen pty: the emulator offers the board's serial \
                   port at a TCP address only";
    Diagnostic::for_file("--listen", message, "leave --listen out, or give tcp:127.0.0.1:PORT")
}

/// A stand-in but for its firmware and its listener.
struct Server<'a, T, G> {
    options: &'a StandInOptions<'a>,
    plan: FiringPlan,
    /// Where reports go.
    folder: Option<PathBuf>,
    /// Where the flash lies, if it is kept.
    flash_file: Option<Rc<FlashFile>>,
    tell: T,
    go_on: G,
}

impl<T, G> Server<'_, T, G>
where
    T: FnMut(StandInReport<'_>) -> Result<(), CliError>,
    G: Fn() -> bool,
{
    /// Runs the image on the emulated board.
    #[cfg(unix)]
    fn emulated(
        self,
        image: EmulatedImage<'_>,
        flash: SimulatedFlash,
    ) -> Result<Option<bool>, CliError> {
        use saggar_bench::firmware::emulated::{EmulatedBoard, Launch};
        let EmulatedImage { file: image, serial, count, messages } = image;
        let serial = match self.options.listen {
            ListenAddress::Tcp(address) => serial.then(|| address.to_string()),
            ListenAddress::Pty if serial => return Err(serial_needs_tcp().into()),
            ListenAddress::Pty => None,
        };
        let line = match &serial {
            Some(address) => Listener::external(format!("tcp:{address}")),
            None => Listener::open(self.options.listen)?,
        };
        let launch = Launch { image, furnace: &self.plan.profile.furnace, serial, count };
        let emulated = EmulatedBoard::launch(&launch, flash)?;
        self.serve(emulated, line, |emulator| {
            if let Some(path) = messages {
                saggar_files::atomic_file::append(path, &emulator.take_messages())?;
            }
            let counted = if count { Some(emulator.usage()?) } else { None };
            Ok(RunFigures {
                compared: Some(emulator.compared()),
                counted,
                ..RunFigures::default()
            })
        })
    }

    fn serve<F: LinkedFirmware<Error = saggar_bench::BenchError>>(
        self,
        firmware: F,
        line: Listener,
        figures: impl Fn(&mut F) -> Result<RunFigures, CliError>,
    ) -> Result<Option<bool>, CliError> {
        let mut standin = self.stand_in(firmware, line)?;
        let Self { options: wanted, plan, folder, mut tell, go_on, .. } = self;
        let tripped = standin.firmware().status().trip;
        tell(StandInReport::Listening(standin.address(), &plan, standin.displayed(), tripped))?;
        let mut passed = None;
        let here = &plan.summary.digest;
        let mut phrases = LogPhrases::default();
        let mut same = standin.displayed().is_some_and(|shown| shown.summary.digest == *here);
        loop {
            let mut broken = Ok(());
            let watch = |event| {
                if let StandInEvent::ProgrammeAnnounced(shown) = &event {
                    same = shown.summary.digest == *here;
                }
                let report = match event {
                    StandInEvent::Logged(at_s, event) => {
                        let entry = LogEntry { number: 0, boot: 0, at_s: at_s as u32, event };
                        let (image, map) = (&plan.image, &plan.map);
                        let (image, map) = (same.then_some(image), same.then_some(map));
                        StandInReport::Logged(at_s, phrases.phrase(&entry, image, map))
                    }
                    event => StandInReport::Event(event),
                };
                if broken.is_ok() {
                    broken = tell(report);
                }
            };
            let ended = standin.run(watch, &go_on)?;
            broken?;
            let Some(ended) = ended else { return Ok(passed) };
            let figures = figures(standin.firmware())?;
            let simulated_s = ended.fired.trace.rows.last().map_or(0.0, |row| row.at_s);
            let times = simulated_s / ended.elapsed.as_secs_f64().max(1e-9);
            let operator = OperatorBehaviour::Pressed(&ended.presses);
            let rehearsal = RehearsalOptions { operator, ..wanted.rehearsal.clone() };
            let fates = fault_outcomes::outcomes_by_time(rehearsal.faults, &ended.fired);
            let (plan, fired) = (plan.clone(), ended.fired);
            let judged = report_on(&rehearsal, plan, fired, &fates, folder.as_deref())?;
            passed = Some(judged.fired.verdict.passed);
            tell(StandInReport::Verdict(
                &judged,
                RunFigures { ticks: standin.ticks(), speed_ratio: times, ..figures },
            ))?;
            if wanted.once {
                return Ok(passed);
            }
        }
    }

    /// A stand-in with this firmware, cold and filled as the plan says.
    fn stand_in<F: LinkedFirmware<Error = saggar_bench::BenchError>>(
        &self,
        firmware: F,
        line: Listener,
    ) -> Result<saggar_standin::StandIn<F>, CliError> {
        let Self { options: wanted, plan, .. } = self;
        let StandInOptions { rehearsal, operator, speed, .. } = wanted;
        // With an operator nobody types; a test's standard input is no keyboard either.
        let panel = ControlPanel::new(wanted.presses.to_vec(), *operator, !*operator);
        let (seed, faults) = (rehearsal.seed, rehearsal.faults.to_vec());
        let filling = FiringSetup { plan: plan.clone(), seed, faults };
        let disk = self.flash_file.clone();
        let made = saggar_standin::StandIn::new(firmware, filling, line, disk, panel, *speed);
        made.map_err(|why| {
            if let saggar_standin::StandInError::InvalidFurnace(why) = why {
                let schedule = rehearsal.schedule.to_path_buf();
                CliError::Rehearsal { schedule, why }
            } else {
                why.into()
            }
        })
    }
}
