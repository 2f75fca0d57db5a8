//! From what was typed for a device to an exit code.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use serde_json::json;

use crate::Error;
use crate::args::device::{DeviceCommand, KeyCommand, Upload, Watch};
use crate::commands::device::{self as commands, Sending};
use crate::error::EXIT_PASS;
use crate::output;
use crate::settings::Display;
use crate::typed::Typed;
use saggar_client::link::OnRetry;
use saggar_client::{Watching, Wish};
use saggar_files::{hex, shown};

/// Does with a device what was asked, and shows it.
pub(crate) fn device(command: &DeviceCommand, display: &Display) -> Result<u8, Error> {
    match command {
        DeviceCommand::Key(KeyCommand::New { out }) => {
            commands::new_key(out)?;
            let file = path_shown(out);
            let told = format!(
                "{file}: a new key, for your eyes only; `saggar device settings` \
                                makes what is stored at the device"
            );
            output::done(&told, json!({ "file": file }), display)?;
        }
        DeviceCommand::Settings(new) => {
            let key = new.key.as_deref();
            let digest = commands::settings(&new.profile, key, &new.id, &new.output)?;
            let (file, digest) = (path_shown(&new.output), hex(&digest));
            let furnace = digest.get(..8).unwrap_or(&digest);
            let secret = if key.is_some() { ", with the key in it" } else { ", without a key" };
            let told = format!("{file}: settings of {}, furnace {furnace}{secret}", new.id);
            output::done(&told, json!({ "file": file, "furnace": digest }), display)?;
        }
        DeviceCommand::Info { at } => output::info(&commands::info(at)?, display)?,
        DeviceCommand::Upload(args) => upload(args, display)?,
        DeviceCommand::Watch(args) => return watch(args, display),
        DeviceCommand::Log { from, at } => {
            output::device_log(&commands::log(at, *from)?, display)?;
        }
        DeviceCommand::Stop { key, at } => {
            commands::stop(at, key, retries(display))?;
            let told = "the device has taken the order: the firing is ended, if one ran";
            output::done(told, json!({}), display)?;
        }
        DeviceCommand::Messages(args) => {
            commands::messages(args, |level, text| output::message(level, text, display))?;
        }
    }
    Ok(EXIT_PASS)
}

fn upload(args: &Upload, display: &Display) -> Result<(), Error> {
    let sending = Sending {
        file: &args.file,
        furnace: args.furnace.furnace.as_deref(),
        key: &args.key,
        clearance: args.clearance.as_deref(),
        at: &args.at,
    };
    output::uploaded(&commands::upload(&sending, retries(display))?, display)
}

/// Says that the line failed and that something is tried again.
fn retries(display: &Display) -> OnRetry {
    let display = *display;
    Box::new(move |why| {
        output::notice(&format!("the line failed, trying again ({why})"), &display)
    })
}

fn watch(args: &Watch, display: &Display) -> Result<u8, Error> {
    let key = args.key.as_deref().map(saggar_client::key::read).transpose()?;
    let desk = commands::desk(&args.at)?;
    let end = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&end);
    // Without it Ctrl-C ends the program at once, and the log ends in the middle of a record.
    let _ = ctrlc::set_handler(move || asked.store(true, Ordering::Relaxed));
    let typed = key.as_ref().map(|_| Typed::listen());
    let wish = || match &typed {
        _ if end.load(Ordering::Relaxed) => Wish::End,
        Some(typed) if typed.stop() => Wish::Stop,
        Some(_) | None => Wish::GoOn,
    };
    if key.is_some() {
        output::notice("To end the firing: type stop and Enter", display);
    }
    let record = args.record.as_deref();
    let (until_end, give_up) = (args.until_end, args.give_up);
    let watching = Watching { record, until_end, give_up, key: key.as_ref() };
    let mut view = output::View::new(display);
    let end = saggar_client::watch(desk, &watching, wish, |seen| view.show(&seen))?;
    view.end(&end.watched, record)?;
    Ok(end.not_stopped.map_or(EXIT_PASS, |why| Error::from(why).exit_code()))
}

fn path_shown(path: &Path) -> String {
    shown(&path.display().to_string(), 200)
}
