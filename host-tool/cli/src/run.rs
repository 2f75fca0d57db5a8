//! From settings to an exit code: the only place that knows which command is shown how.

use std::io;
use std::process::ExitCode;

use crate::Error;
use crate::args::{Command, FileKind, Rehearse};
use crate::commands::{self, Conclusion, Operator, Target};
use crate::device_run::device;
use crate::error::{
    EXIT_BAD_INPUT, EXIT_DIFFERS, EXIT_NOT_KNOWN, EXIT_PASS, EXIT_VERDICT_FAILED,
};
use crate::output;
use crate::settings::{Display, Settings};
use crate::standin_run::standin;
use saggar_schedule::keys::File;

/// Does what was asked and shows it.
pub fn run(settings: &Settings) -> ExitCode {
    let code = match dispatch(settings) {
        Ok(code) => code,
        // Whoever reads the output has seen enough: no reason to complain.
        Err(Error::Output(why)) if why.kind() == io::ErrorKind::BrokenPipe => EXIT_PASS,
        Err(error) => {
            output::failed(&error, &settings.display);
            error.exit_code()
        }
    };
    ExitCode::from(code)
}

fn dispatch(settings: &Settings) -> Result<u8, Error> {
    let display = &settings.display;
    match &settings.command {
        Command::Check { schedules, furnace } => {
            let checked = commands::check(schedules, furnace.furnace.as_deref());
            output::checked(&checked, display)?;
            let all_good = checked.iter().all(|one| one.outcome.is_ok());
            Ok(if all_good { EXIT_PASS } else { EXIT_BAD_INPUT })
        }
        Command::Rehearse(args) => rehearse(args, display),
        Command::Compile { schedule, output: to, force, furnace } => {
            let furnace = furnace.furnace.as_deref();
            let compiled = commands::compile(schedule, furnace, to, *force)?;
            output::compiled(&compiled, display)?;
            Ok(EXIT_PASS)
        }
        Command::Show { programme, digest } => {
            output::programme(&commands::show(programme, digest.as_deref())?, display)?;
            Ok(EXIT_PASS)
        }
        Command::Keys { file, section, markdown } => {
            let file = match file {
                FileKind::Schedule => File::Schedule,
                FileKind::Profile => File::Profile,
            };
            let sections = commands::keys(file, section.as_deref())?;
            output::keys(file, &sections, *markdown, display)?;
            Ok(EXIT_PASS)
        }
        Command::Set { file, changes } => {
            commands::set(file, changes)?;
            output::set(file, changes, display)?;
            Ok(EXIT_PASS)
        }
        Command::Standin(args) => standin(args, display),
        Command::Device(command) => device(command, display),
        Command::Replay { log, csv } => {
            let replayed = commands::replay(log, csv.as_deref())?;
            output::replayed(&replayed, display)?;
            Ok(match replayed.conclusion() {
                Conclusion::Equal => EXIT_PASS,
                Conclusion::Different => EXIT_DIFFERS,
                Conclusion::NotKnown => EXIT_NOT_KNOWN,
                Conclusion::Damaged(_) => EXIT_BAD_INPUT,
            })
        }
        Command::Completions { shell } => {
            output::completions(*shell)?;
            Ok(EXIT_PASS)
        }
        Command::Man => {
            output::manual()?;
            Ok(EXIT_PASS)
        }
    }
}

fn rehearse(args: &Rehearse, display: &Display) -> Result<u8, Error> {
    let rehearsal = commands::Rehearsal {
        schedule: &args.schedule,
        furnace: args.furnace.furnace.as_deref(),
        seed: args.seed,
        mains: args.mains / 100.0,
        faults: &args.faults,
        operator: match args.no_operator {
            true => Operator::NeverAnswers,
            false => Operator::Answers(args.operator),
        },
        target: match (&args.out, args.no_report) {
            (_, true) => Target::Nowhere,
            (Some(folder), false) => Target::Folder(folder.clone()),
            (None, false) => Target::Usual,
        },
        png: args.png,
        scale: display.scale,
    };
    let progress = output::Progress::new(display);
    let mut rehearsed = commands::rehearse(&rehearsal, |share| progress.show(share))?;
    drop(progress);
    output::rehearsed(&rehearsed, display)?;
    if let Some(Err(failure)) = rehearsed.saved.take() {
        let error = Error::Report(failure);
        output::unsaved(&error, display);
        return Ok(error.exit_code());
    }
    let passed = rehearsed.fired.verdict.passed;
    Ok(if passed { EXIT_PASS } else { EXIT_VERDICT_FAILED })
}
