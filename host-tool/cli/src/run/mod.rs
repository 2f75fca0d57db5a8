//! Runs the command that was typed and displays its result.

mod campaign;
mod device;
mod replay;

use std::ffi::OsString;
use std::io;
use std::path::Path;
use std::sync::atomic::Ordering;

use clap::Parser as _;
use clap::error::{ContextKind, ContextValue, ErrorKind};

use crate::args::{self, Command, CommandLine};
use crate::commands::{
    self, OperatorBehaviour, RehearsalOptions, ReportTarget, StandInReport, StartCondition,
};
use crate::error::{CliError, Exit};
use crate::invocation::Invocation;
use crate::output;
use saggar_files::sanitized;
use saggar_standin::presses::PressLog;
use saggar_terminal::DisplayOptions;
use saggar_terminal::end_asked;

/// Parses the command line, runs the command and returns the exit code.
pub fn run() -> Exit {
    let typed: Vec<OsString> = std::env::args_os().collect();
    let Invocation { command, display } = match CommandLine::try_parse_from(&typed) {
        Ok(args) => args.into(),
        Err(error) => return not_understood(&typed, error),
    };
    match dispatch(&command, &display) {
        Ok(exit) => exit,
        // The reader closed the pipe, such as `head`: not an error.
        Err(CliError::Output(why)) if why.kind() == io::ErrorKind::BrokenPipe => Exit::Pass,
        Err(error) => {
            let is_set = matches!(command, Command::Set { .. });
            let outcome = if is_set { ": nothing was set" } else { "" };
            output::show_error(&error, outcome, &display);
            error.exit()
        }
    }
}

/// Maximum number of characters of an argument that an error quotes.
const CHARS_MAX: usize = 200;

/// Shows the help that was asked for, or what is wrong with the command line: as JSON if that is
/// asked for.
fn not_understood(typed: &[OsString], mut error: clap::Error) -> Exit {
    let json = typed.iter().any(|typed| typed == "--json");
    // The text of an error quotes the arguments between escapes for colours, where hidden characters
    // cannot be told from them: parse again, with escaped arguments.
    let escaped = typed.iter().map(|typed| sanitized(&typed.to_string_lossy(), CHARS_MAX));
    // A value that is valid once it is escaped is quoted by the first error, which must not show it raw.
    if let Some(ContextValue::String(value)) = error.get(ContextKind::InvalidValue) {
        let value = sanitized(value, CHARS_MAX);
        error.insert(ContextKind::InvalidValue, ContextValue::String(value));
    }
    match CommandLine::try_parse_from(escaped) {
        Err(error) if !error.use_stderr() => output::help(&error.render().ansi().to_string()),
        Err(error) if json => output::usage_error_for_programs(&one_line(&error)),
        Err(error) => output::usage_error(&error.render().ansi().to_string()),
        // The escaped arguments are valid: show the first error, without colours.
        Ok(_) if json => output::usage_error_for_programs(&one_line(&error)),
        Ok(_) => output::plain_usage_error(&error.render().to_string()),
    }
    if error.use_stderr() { Exit::BadInput } else { Exit::Pass }
}

/// The error in one line, without the usage below it.
fn one_line(error: &clap::Error) -> String {
    let none =
        [ErrorKind::MissingSubcommand, ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand];
    if none.contains(&error.kind()) {
        return "no command is given: see saggar --help".to_owned();
    }
    let whole = error.render().to_string();
    let text = whole.split("\n\nUsage:").next().unwrap_or_default();
    let text = text.split("\n\nFor more information").next().unwrap_or_default();
    let text = text.trim_start_matches("error: ");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn dispatch(command: &Command, display: &DisplayOptions) -> Result<Exit, CliError> {
    match command {
        Command::New { example: None, .. } => output::examples(display)?,
        Command::New { example: Some(example), file } => {
            output::new_files(&commands::new(example, file.as_deref())?, display)?;
        }
        Command::Check { files, furnace } => {
            let checked = commands::check(files, furnace.furnace.as_deref());
            output::check_results(&checked, display)?;
            let all_good = checked.iter().all(|one| one.outcome.is_ok());
            return Ok(if all_good { Exit::Pass } else { Exit::BadInput });
        }
        Command::Rehearse(args) => return rehearse(args, display),
        Command::Compile { schedule, output: to, force, furnace } => {
            let furnace = furnace.furnace.as_deref();
            output::compiled_schedule(
                &commands::compile(schedule, furnace, to, *force)?,
                display,
            )?;
        }
        Command::Show { programme, digest } => {
            output::programme(&commands::show(programme, digest.as_deref())?, display)?;
        }
        Command::Keys { file, section, markdown } => {
            let sections = commands::keys(*file, section.as_deref())?;
            output::keys(*file, &sections, *markdown, display)?;
        }
        Command::Set { file, changes } => {
            commands::set(file, changes)?;
            output::set(file, changes, display)?;
        }
        Command::Trips { profile } => {
            output::trips(&commands::trips(profile.as_deref())?, display)?;
        }
        Command::Campaign(args) => return campaign::campaign(args, display),
        Command::Standin(args) => return standin(args, display),
        Command::Device(command) => return device::device(command, display),
        Command::Replay(args) => return replay::replay(args, display),
        Command::Completions { shell } => output::print_generated(&args::completions(*shell))?,
        Command::Man { folder } => man(folder.as_deref(), display)?,
    }
    Ok(Exit::Pass)
}

fn man(folder: Option<&Path>, display: &DisplayOptions) -> Result<(), CliError> {
    let pages = args::manual_pages()?;
    match (folder, pages.first()) {
        (Some(folder), _) => {
            let files = commands::write_manual(&pages, folder)?;
            Ok(output::manual_files(&files, folder, display)?)
        }
        (None, Some(top)) => Ok(output::print_generated(&top.text)?),
        (None, None) => Ok(()),
    }
}

fn rehearse(args: &args::RehearseArgs, display: &DisplayOptions) -> Result<Exit, CliError> {
    let injected =
        commands::faults_and_cuts(&args.faults, args.fault_file.as_deref(), &args.cuts)?;
    let rehearsal = RehearsalOptions {
        schedule: &args.schedule,
        furnace: args.furnace.furnace.as_deref(),
        seed: args.seed,
        mains: args.mains / 100.0,
        faults: &injected.faults,
        cuts: &injected.cuts,
        start: match (args.start, &args.after) {
            (Some(celsius), _) => StartCondition::EvenlyWarm(celsius),
            (None, Some(folder)) => StartCondition::After(folder, args.pause),
            (None, None) => StartCondition::Cold,
        },
        operator: match args.no_operator {
            true => OperatorBehaviour::NeverAnswers,
            false => OperatorBehaviour::Answers(args.operator),
        },
        target: match (&args.out, args.no_report) {
            (_, true) => ReportTarget::NoReport,
            (Some(folder), false) => ReportTarget::Folder(folder.clone()),
            (None, false) => ReportTarget::DefaultFolder,
        },
        reason: args.reason.as_ref(),
        png: args.png,
        scale: display.scale,
    };
    let progress = output::RehearsalProgress::new(display);
    let mut rehearsed = commands::rehearse(&rehearsal, |share| progress.show(share))?;
    drop(progress);
    output::rehearsal_result(&rehearsed, display)?;
    if let Some(Err(failure)) = rehearsed.saved.take() {
        let error = CliError::Report(failure);
        output::show_report_error(&error, display);
        return Ok(error.exit());
    }
    Ok(Exit::from(rehearsed.fired.verdict.result()))
}

fn standin(
    args: &args::standin::StandInArgs,
    display: &DisplayOptions,
) -> Result<Exit, CliError> {
    let none = PressLog::default();
    let faults = commands::faults(&args.faults, args.fault_file.as_deref())?;
    let wanted = commands::StandInOptions {
        rehearsal: RehearsalOptions {
            faults: &faults,
            start: args.start.map_or(StartCondition::Cold, StartCondition::EvenlyWarm),
            seed: args.seed,
            operator: OperatorBehaviour::Pressed(&none),
            target: args.out.clone().map_or(ReportTarget::NoReport, ReportTarget::Folder),
            png: args.png,
            scale: display.scale,
            ..RehearsalOptions::default_conditions(
                &args.schedule,
                args.furnace.furnace.as_deref(),
            )
        },
        listen: &args.listen,
        key: args.key.as_deref(),
        id: &args.id,
        memory: args.memory.as_deref(),
        speed: args.speed,
        operator: args.operator,
        keyboard: || Box::new(saggar_terminal::ForegroundInput),
        presses: &args.presses,
        once: args.once,
        image: args.image.as_deref().map(|file| commands::EmulatedImage {
            file,
            serial: args.serial,
            count: args.count,
            messages: args.messages.as_deref(),
        }),
    };
    let asked = end_asked();
    let tell = |report: StandInReport<'_>| Ok(output::stand_in(&report, &wanted, display)?);
    let result = commands::standin(&wanted, tell, || !asked.load(Ordering::Relaxed))?;
    Ok(match result {
        Some(result) => Exit::from(result),
        None if args.once => Exit::BadInput,
        None => Exit::Pass,
    })
}
