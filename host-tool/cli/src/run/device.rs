//! Runs the subcommands of `device`, up to the exit code.

use std::io::{self, IsTerminal as _};
use std::sync::atomic::Ordering;

use crate::args::device::{DeviceCommand, KeyCommand, MessagesArgs, UploadArgs, WatchArgs};
use crate::commands::device as commands;
use crate::error::{CliError, Exit};
use crate::output;
use saggar_client::link::port::PortConfig;
use saggar_client::link::{Client, OnRetry};
use saggar_client::{UserRequest, WatchOptions, key};
use saggar_files::hex;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_terminal::DisplayOptions;
use saggar_terminal::{TypedLines, end_asked};

/// Runs a subcommand of `device` and shows its result.
pub(super) fn device(
    command: &DeviceCommand,
    display: &DisplayOptions,
) -> Result<Exit, CliError> {
    match command {
        DeviceCommand::Key(KeyCommand::New { out }) => {
            key::generate(out)?;
            output::new_key(out, display)?;
        }
        DeviceCommand::Settings(new) => {
            let (key, file) = (new.key.as_deref(), &new.output);
            let furnace = hex(&commands::settings(&new.profile, key, &new.id, file)?);
            output::settings(file, &new.id, key.is_some(), &furnace, display)?;
        }
        DeviceCommand::Info { at } => output::info(&commands::info(&at.into())?, display)?,
        DeviceCommand::Upload(UploadArgs { file, key, clearance, furnace, at }) => {
            let (furnace, clearance) = (furnace.furnace.as_deref(), clearance.as_deref());
            let on_retry = retries(display);
            output::uploaded(
                &commands::upload(&at.into(), file, furnace, key, clearance, on_retry)?,
                display,
            )?;
        }
        DeviceCommand::Watch(args) => return watch(args, display),
        DeviceCommand::Log { from, at } => {
            output::log(&commands::log(&at.into(), *from)?, display)?;
        }
        DeviceCommand::Stop { key, at } => {
            commands::stop(&at.into(), key, retries(display))?;
            output::stopped(display)?;
        }
        DeviceCommand::Messages(MessagesArgs { elf, port, file, baud }) => {
            let at = port.clone().map(|place| PortConfig { address: place, baud: *baud });
            commands::messages(elf, at.as_ref(), file.as_deref(), |level, text| {
                Ok(output::message(level, text, display)?)
            })?;
        }
    }
    Ok(Exit::Pass)
}

/// Reports every retry over a new connection.
fn retries(display: &DisplayOptions) -> OnRetry {
    let display = *display;
    Box::new(move |why| {
        output::notice(&format!("the connection failed, trying again ({why})"), &display)
    })
}

fn watch(args: &WatchArgs, display: &DisplayOptions) -> Result<Exit, CliError> {
    let key = args.key.as_deref().map(key::read).transpose()?;
    let plan = match &args.schedule {
        Some(schedule) => Some(FiringPlan::load(schedule, args.furnace.furnace.as_deref())?),
        None => None,
    };
    let client = Client::connect(&(&args.at).into())?;
    let quit = end_asked();
    // Without a key a line has no effect, but a person who types one must learn that.
    let reads = key.is_some() || io::stdin().is_terminal();
    let typed = if reads { TypedLines::listen() } else { TypedLines::default() };
    let has_key = key.is_some();
    let request = || match typed.request() {
        _ if quit.load(Ordering::Relaxed) => UserRequest::Quit,
        UserRequest::StopFiring if !has_key => UserRequest::Unknown("stop".to_owned()),
        request @ (UserRequest::Continue
        | UserRequest::Quit
        | UserRequest::StopFiring
        | UserRequest::Unknown(_)) => request,
    };
    if key.is_some() {
        output::notice("To stop the firing: type stop and Enter", display);
    }
    let record = args.record.as_deref();
    let (until_end, give_up) = (args.until_end, args.give_up);
    let options = WatchOptions { record, until_end, give_up, key: key.as_ref() };
    let mut view = output::WatchView::new(display, plan, has_key, typed.echoed.clone());
    let end = saggar_client::watch(client, &options, request, |event| view.show(&event))?;
    view.end(&end.recorded, record)?;
    Ok(end.stop_error.map_or(Exit::Pass, |why| CliError::from(why).exit()))
}
