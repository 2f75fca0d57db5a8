//! `standin`: a simulated furnace that listens as a real one does.

use std::io::Read;
use std::path::{Path, PathBuf};
use std::rc::Rc;

use saggar_bench::firmware::{BoardUsage, LinkedFirmware, SimulatedBoard};
use saggar_bench::flash::SimulatedFlash;
use saggar_core::Cause;
use saggar_device::wire::LogEntry;
use saggar_device::wire::seal::DeviceKey;

use super::conditions::{OperatorBehaviour, RehearsalOptions};
use super::device::phrases::LogPhrases;
use super::device::settings_of;
use super::fault_outcomes;
use super::rehearse::{RehearsalResult, report_on};
use super::start_condition;
use crate::error::CliError;
use saggar_files::Diagnostic;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_standin::listener::{ListenAddress, Listener};
use saggar_standin::pace::Speed;
use saggar_standin::panel::ControlPanel;
use saggar_standin::presses::PlannedPress;
use saggar_standin::{
    DisplayEvent, DisplayedProgramme, FaultNews, FiringSetup, FlashFile, StandInEvent,
};
use saggar_verdict::VerdictResult;

/// How to run a stand-in.
#[derive(Clone, Debug)]
pub struct StandInOptions<'a> {
    /// Furnace, work, faults and where reports go. Its `operator` is replaced by the presses of each
    /// firing.
    pub rehearsal: RehearsalOptions<'a>,
    /// Where to listen.
    pub listen: &'a ListenAddress,
    /// Key file; without one the stand-in takes no orders.
    pub key: Option<&'a Path>,
    /// Its name.
    pub id: &'a str,
    /// File for its flash.
    pub memory: Option<&'a Path>,
    /// Speed of a firing.
    pub speed: Speed,
    /// A simulated operator presses the buttons, beside the keyboard.
    pub operator: bool,
    /// Opens the keyboard.
    pub keyboard: fn() -> Box<dyn Read + Send>,
    /// Planned presses.
    pub presses: &'a [PlannedPress],
    /// End after the first firing.
    pub once: bool,
    /// Image for the emulated board, instead of the firmware in this process.
    pub image: Option<EmulatedImage<'a>>,
}

/// An image for the emulated board.
#[derive(Clone, Copy, Debug)]
pub struct EmulatedImage<'a> {
    /// Its file.
    pub file: &'a Path,
    /// Connect clients through its serial port instead of memory.
    pub serial: bool,
    /// Count instructions.
    pub count: bool,
    /// File for its messages.
    pub messages: Option<&'a Path>,
}

/// A report of a running stand-in.
#[derive(Clone, Debug)]
pub enum StandInReport<'a> {
    /// It listens at this port; its display shows this programme and latched cause.
    Listening(&'a str, &'a FiringPlan, Option<DisplayedProgramme>, Option<Cause>),
    /// The key in this memory file was another one than in this key file, which replaces it.
    KeyReplaced(&'a Path, &'a Path),
    /// An entry of the device's log, in words, at this time since the stand-in started (s).
    Logged(f64, String),
    /// The display or the keyboard has something to show.
    Event(DisplayEvent),
    /// News of the faults, at this time since the stand-in started (s).
    Fault(f64, FaultNews),
    /// A firing has ended.
    Verdict(&'a RehearsalResult, RunFigures),
}

/// Figures of a firing.
#[derive(Clone, Debug, Copy, Default, PartialEq)]
pub struct RunFigures {
    /// Ticks since the stand-in started.
    pub ticks: u64,
    /// Speed of the firing as a multiple of real time.
    pub speed_ratio: f64,
    /// Ticks in which the emulated board and the core here had the same outputs.
    pub compared: Option<u64>,
    /// Instructions and stack of the emulated board.
    pub counted: Option<BoardUsage>,
}

/// Runs a stand-in until `go_on` returns false, or with `once` until a firing has ended. Returns
/// whether the last verdict result; `None` without a firing.
///
/// # Errors
/// A file is invalid, or the firmware does not run.
pub fn standin(
    options: &StandInOptions<'_>,
    mut tell: impl FnMut(StandInReport<'_>) -> Result<(), CliError>,
    go_on: impl Fn() -> bool,
) -> Result<Option<VerdictResult>, CliError> {
    let plan = options.rehearsal.load()?;
    let folder = options.rehearsal.report_folder()?;
    let (mut flash, disk) = match options.memory {
        Some(path) => FlashFile::open_flash(path).map(|(flash, disk)| (flash, Some(disk)))?,
        None => (SimulatedFlash::blank(), None),
    };
    // As a person stores them in a real device.
    let settings = settings_of(options.id, options.key, plan.profile.furnace.clone())?;
    let stored_key = flash.stored_settings().and_then(|stored| stored.key());
    // Two keys are the same if they make the same nonce.
    let differ = |stored: DeviceKey, new: DeviceKey| {
        stored.nonce(&settings.salt, 0, 0) != new.nonce(&settings.salt, 0, 0)
    };
    if let (Some(memory), Some(key)) = (options.memory, options.key)
        && stored_key.zip(settings.key()).is_some_and(|(stored, new)| differ(stored, new))
    {
        tell(StandInReport::KeyReplaced(memory, key))?;
    }
    flash.store_settings(&settings).map_err(|_| {
        let message = "its flash does not accept the settings";
        Diagnostic::for_file("memory", message, "name a new file for --memory, or none")
    })?;
    let serving = Server { options, plan, folder, flash_file: disk, tell, go_on };
    match options.image {
        None => {
            let line = Listener::open(options.listen)?;
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
    /// Folder for reports.
    folder: Option<PathBuf>,
    /// File of the flash, if there is one.
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
    ) -> Result<Option<VerdictResult>, CliError> {
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
    ) -> Result<Option<VerdictResult>, CliError> {
        let mut standin = self.stand_in(firmware, line)?;
        let Self { options, plan, folder, mut tell, go_on, .. } = self;
        let tripped = standin.firmware().status().trip;
        tell(StandInReport::Listening(standin.address(), &plan, standin.displayed(), tripped))?;
        let mut result = None;
        let here = &plan.summary.digest;
        let mut phrases = LogPhrases::default();
        let mut same = standin.displayed().is_some_and(|shown| shown.summary.digest == *here);
        loop {
            let mut broken = Ok(());
            let watch = |event| {
                if let StandInEvent::Display(DisplayEvent::ProgrammeAnnounced(shown)) = &event {
                    same = shown.summary.digest == *here;
                }
                let report = match event {
                    StandInEvent::Logged(at_s, event) => {
                        let entry = LogEntry { number: 0, boot: 0, at_s: at_s as u32, event };
                        let (image, map) = (&plan.image, &plan.map);
                        let (image, map) = (same.then_some(image), same.then_some(map));
                        StandInReport::Logged(at_s, phrases.phrase(&entry, image, map))
                    }
                    StandInEvent::Display(event) => StandInReport::Event(event),
                    StandInEvent::Fault(at_s, news) => StandInReport::Fault(at_s, news),
                };
                if broken.is_ok() {
                    broken = tell(report);
                }
            };
            let ended = standin.run(watch, &go_on)?;
            broken?;
            let Some(ended) = ended else { return Ok(result) };
            let figures = figures(standin.firmware())?;
            let simulated_s = ended.fired.trace.rows.last().map_or(0.0, |row| row.at_s);
            let times = simulated_s / ended.elapsed.as_secs_f64().max(1e-9);
            let operator = OperatorBehaviour::Pressed(&ended.presses);
            let faults = ended.faults.as_slice();
            let rehearsal = RehearsalOptions { operator, faults, ..options.rehearsal.clone() };
            let fates = fault_outcomes::outcomes_by_time(rehearsal.faults, &ended.fired);
            let (plan, fired) = (plan.clone(), ended.fired);
            let judged = report_on(&rehearsal, plan, fired, &fates, folder.as_deref())?;
            result = Some(judged.fired.verdict.result());
            tell(StandInReport::Verdict(
                &judged,
                RunFigures { ticks: standin.ticks(), speed_ratio: times, ..figures },
            ))?;
            if options.once {
                return Ok(result);
            }
        }
    }

    /// A stand-in with this firmware, filled for the plan.
    fn stand_in<F: LinkedFirmware<Error = saggar_bench::BenchError>>(
        &self,
        firmware: F,
        line: Listener,
    ) -> Result<saggar_standin::StandIn<F>, CliError> {
        let Self { options, plan, .. } = self;
        let StandInOptions { rehearsal, operator, speed, .. } = options;
        let keyboard = Some((options.keyboard)());
        let panel = ControlPanel::new(options.presses.to_vec(), *operator, keyboard);
        let (seed, faults) = (rehearsal.seed, rehearsal.faults.to_vec());
        let start = start_condition::furnace_state(rehearsal.start, rehearsal.schedule, plan)?;
        let setup = FiringSetup { plan: plan.clone(), seed, faults, start };
        let disk = self.flash_file.clone();
        let made = saggar_standin::StandIn::new(firmware, setup, line, disk, panel, *speed);
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
