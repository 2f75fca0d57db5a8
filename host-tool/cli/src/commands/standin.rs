//! `standin`: a furnace that is not there, to be uploaded to, started and watched.

use std::path::Path;
use std::rc::Rc;

use saggar_bench::firmware::{Chips, Linked};
use saggar_bench::flash::Flash;
use saggar_core::Cause;
use saggar_core::furnace::Furnace;
use saggar_device::Settings;
use saggar_device::wire::seal::DEVICE_ID_BYTES;

use super::fates;
use super::rehearse::{Operator, Rehearsal, Rehearsed, Target, judged};
use crate::Error;
use crate::args::standin::StandIn as Args;
use saggar_client::key;
use saggar_files::Finding;
use saggar_files::feature::Feature;
use saggar_plant::say::Scale;
use saggar_schedule::firing::Firing;
use saggar_schedule::schedule::StageMap;
use saggar_standin::line::{Line, Listen};
use saggar_standin::panel::Panel;
use saggar_standin::presses::Presses;
use saggar_standin::{Disk, Filling, Shown, StandIn, Told};

/// What a stand-in tells while it runs.
#[derive(Clone, Debug)]
pub enum Heard<'a> {
    /// It listens at this port, with this on its display: programme and latched cause.
    Listens(&'a str, &'a Firing, Option<Shown>, Option<Cause>),
    /// Something happened. The stages are there if the programme on the display is that of the
    /// schedule.
    Told(Told, Option<&'a StageMap>),
    /// A firing has ended.
    Judged(&'a Rehearsed, Run),
}

/// Figures of a firing that was run.
#[derive(Clone, Debug, Copy, Default, PartialEq)]
pub struct Run {
    /// Ticks since the stand-in came up.
    pub ticks: u64,
    /// How many times faster than life the firing was.
    pub times: f64,
    /// Ticks in which the emulated board and the core here answered the same.
    pub compared: Option<u64>,
    /// What the emulated board counted.
    pub counted: Option<Counted>,
}

/// Instructions a tick, and stack.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Counted {
    /// Read, step, write, say: mean and most.
    pub sections: [(&'static str, f64, f64); 4],
    /// Deepest stack (bytes).
    pub stack: u32,
}

/// Stands in for a furnace until `go_on` says no, or with `once` until a firing has ended. Whether
/// the last verdict passed; `None` without a firing.
///
/// # Errors
/// What is wrong with a file, or why the firmware does not run.
pub fn standin(
    args: &Args,
    scale: Scale,
    mut tell: impl FnMut(Heard<'_>) -> Result<(), Error>,
    go_on: impl Fn() -> bool,
) -> Result<Option<bool>, Error> {
    if args.png {
        Feature::Png.require(saggar_report::DRAWS_PNG)?;
    }
    let plan = Firing::load(&args.schedule, args.furnace.furnace.as_deref())?;
    fates::allowed(&args.faults, &plan)?;
    let flash = flash(args, &plan.profile.furnace)?;
    match &args.image {
        None => {
            let line = Line::open(&args.listen)?;
            let (flash, disk) = flash;
            let chips = Chips::boot(flash).map_err(saggar_standin::Error::from)?;
            let standin = stand_in(args, &plan, chips, line, disk)?;
            serve(args, &plan, scale, standin, |_| Ok(Run::default()), &mut tell, go_on)
        }
        #[cfg(unix)]
        Some(image) => emulated(args, &plan, scale, image, flash, &mut tell, go_on),
        #[cfg(not(unix))]
        Some(_) => Err(saggar_standin::Error::from(saggar_bench::Error::NoEmulator).into()),
    }
}

/// Flash, and the file that it lies in if there is one.
type Memory = (Flash, Option<Rc<Disk>>);

/// The flash with the settings that a local action would have put there.
fn flash(args: &Args, furnace: &Furnace) -> Result<Memory, Error> {
    if let Some(folder) = &args.out {
        saggar_report::try_folder(folder)?;
    }
    let (mut flash, disk) = match &args.memory {
        Some(path) => Disk::flash(path).map(|(flash, disk)| (flash, Some(disk)))?,
        None => (Flash::blank(), None),
    };
    let mut id = [0; DEVICE_ID_BYTES];
    for (place, byte) in id.iter_mut().zip(args.id.bytes()) {
        *place = byte;
    }
    let secret = args.key.as_deref().map(key::secret).transpose()?;
    let salt = key::salt()?;
    let settings = Settings::new(id, secret.as_deref().copied(), salt, furnace.clone());
    flash.provision(&settings).map_err(|_| {
        let message = "the flash does not take the settings";
        Finding::on_file("memory", message, "name a new file for --memory, or none")
    })?;
    Ok((flash, disk))
}

#[cfg(unix)]
fn emulated(
    args: &Args,
    plan: &Firing,
    scale: Scale,
    image: &Path,
    (flash, disk): Memory,
    tell: &mut impl FnMut(Heard<'_>) -> Result<(), Error>,
    go_on: impl Fn() -> bool,
) -> Result<Option<bool>, Error> {
    use saggar_bench::firmware::emulated::{Emulated, Launch};
    let serial = match (&args.listen, args.serial) {
        (Listen::Tcp(address), true) => Some(address.to_string()),
        (Listen::Tcp(_) | Listen::Pty, _) => None,
    };
    let line = match &serial {
        Some(address) => Line::elsewhere(format!("tcp:{address}")),
        None => Line::open(&args.listen)?,
    };
    let furnace = &plan.profile.furnace;
    let launch = Launch { image, furnace, serial, count: args.count };
    let emulated = Emulated::launch(&launch, flash).map_err(saggar_standin::Error::from)?;
    let standin = stand_in(args, plan, emulated, line, disk)?;
    let figures = |emulator: &mut Emulated| {
        if let Some(path) = &args.messages {
            saggar_files::whole::append(path, &emulator.take_messages())?;
        }
        let counted = match args.count {
            false => None,
            true => {
                let measured = emulator.measured().map_err(saggar_standin::Error::from);
                let (sections, stack) = measured?;
                Some(Counted { sections: sections.map(|s| (s.name, s.mean, s.most)), stack })
            }
        };
        Ok(Run { compared: Some(emulator.compared()), counted, ..Run::default() })
    };
    serve(args, plan, scale, standin, figures, tell, go_on)
}

/// A stand-in with this firmware, cold and filled as the plan says.
fn stand_in<F: Linked<Error = saggar_bench::Error>>(
    args: &Args,
    plan: &Firing,
    firmware: F,
    line: Line,
    disk: Option<Rc<Disk>>,
) -> Result<StandIn<F>, Error> {
    // With an operator nobody types; a test's standard input is no keyboard either.
    let panel = Panel::new(args.presses.clone(), args.operator, !args.operator);
    let filling = Filling {
        furnace: plan.profile.spec.clone(),
        device: plan.profile.furnace.clone(),
        work: plan.work.clone(),
        programme: plan.image.clone(),
        seed: args.seed,
        faults: args.faults.clone(),
    };
    StandIn::new(firmware, filling, line, disk, panel, args.speed).map_err(|why| match why {
        saggar_standin::Error::Unfit(why) => {
            Error::NotRehearsed { schedule: args.schedule.clone(), why }
        }
        other => other.into(),
    })
}

fn serve<F: Linked<Error = saggar_bench::Error>>(
    args: &Args,
    plan: &Firing,
    scale: Scale,
    mut standin: StandIn<F>,
    figures: impl Fn(&mut F) -> Result<Run, Error>,
    tell: &mut impl FnMut(Heard<'_>) -> Result<(), Error>,
    go_on: impl Fn() -> bool,
) -> Result<Option<bool>, Error> {
    let tripped = standin.firmware().status().tripped;
    tell(Heard::Listens(standin.line(), plan, standin.shown(), tripped))?;
    let mut passed = None;
    let here = &plan.summary.digest;
    let mut same = standin.shown().is_some_and(|shown| shown.summary.digest == *here);
    loop {
        let mut broken = Ok(());
        let watch = |told| {
            if let Told::Announced(shown) = &told {
                same = shown.summary.digest == *here;
            }
            if broken.is_ok() {
                let map = same.then_some(&plan.map);
                broken = tell(Heard::Told(told, map));
            }
        };
        let ended = standin.run(watch, &go_on)?;
        broken?;
        let Some(ended) = ended else { return Ok(passed) };
        let figures = figures(standin.firmware())?;
        let simulated_s = ended.fired.trace.rows.last().map_or(0.0, |row| row.at_s);
        let times = simulated_s / ended.took.as_secs_f64().max(1e-9);
        let rehearsal = rehearsal(args, scale, &ended.presses);
        let fates = fates::by_time(&args.faults, &ended.fired);
        let (plan, fired) = (plan.clone(), ended.fired);
        let judged = judged(&rehearsal, plan, fired, &fates, args.out.as_deref(), None)?;
        passed = Some(judged.fired.verdict.passed);
        let run = Run { ticks: standin.ticks(), times, ..figures };
        tell(Heard::Judged(&judged, run))?;
        if args.once {
            return Ok(passed);
        }
    }
}

/// What the report says of how the firing was run.
fn rehearsal<'a>(args: &'a Args, scale: Scale, presses: &'a Presses) -> Rehearsal<'a> {
    Rehearsal {
        schedule: &args.schedule,
        furnace: args.furnace.furnace.as_deref(),
        seed: args.seed,
        mains: 1.0,
        faults: &args.faults,
        operator: Operator::Pressed(presses),
        target: args.out.clone().map_or(Target::Nowhere, Target::Folder),
        png: args.png,
        scale,
    }
}
