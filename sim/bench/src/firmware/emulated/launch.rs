//! Starting the emulator, with a window of memory that it shares with this process.

use std::fs::OpenOptions;
use std::io;
use std::path::Path;
use std::process::{Command, Stdio};

use saggar_core::furnace::Furnace;
use saggar_lockstep::{FLASH, MODE, MODE_COUNT, MODE_SERIAL, NOW_MS};
use tempfile::TempDir;

use super::window::SharedWindow;
use crate::flash::SimulatedFlash;

/// The emulator, and the machine of it that has a Cortex-M4F and enough memory.
const EMULATOR: &str = "qemu-system-arm";
const MACHINE: &str = "mps2-an386,memory-backend=window";

/// The emulated memory that the window lies in.
const MEMORY_BYTES: u64 = 16 << 20;

/// How an image is run.
#[derive(Clone, Debug)]
pub struct Launch<'a> {
    /// The image: an ELF file for the emulated board.
    pub image: &'a Path,
    /// The furnace's data, for the desk's core beside it.
    pub furnace: &'a Furnace,
    /// The address where the emulated serial port listens; without one the line goes through the
    /// window.
    pub serial: Option<String>,
    /// Let the emulator count instructions, so that the board can measure itself.
    pub count: bool,
}

/// A folder in memory if there is one: the window is looked at a million times a second.
pub(super) fn folder() -> io::Result<TempDir> {
    let fast = Path::new("/dev/shm");
    // The flash is in it, and the key in that: for its owner alone.
    let builder = || {
        let mut builder = tempfile::Builder::new();
        builder.prefix("saggar-").rand_bytes(8);
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o700));
        builder
    };
    if fast.is_dir()
        && let Ok(folder) = builder().tempdir_in(fast)
    {
        return Ok(folder);
    }
    builder().tempdir()
}

pub(super) fn mode(launch: &Launch<'_>) -> u32 {
    let serial = if launch.serial.is_some() { MODE_SERIAL } else { 0 };
    serial | if launch.count { MODE_COUNT } else { 0 }
}

pub(super) fn prepared(
    path: &Path,
    launch: &Launch<'_>,
    flash: &SimulatedFlash,
) -> io::Result<SharedWindow> {
    let file = OpenOptions::new().read(true).write(true).create_new(true).open(path)?;
    file.set_len(MEMORY_BYTES)?;
    let window = SharedWindow::new(file);
    window.write(FLASH, flash.bytes())?;
    window.set_word(MODE, mode(launch))?;
    window.write(NOW_MS, &0u64.to_le_bytes())?;
    Ok(window)
}

pub(super) fn command(window: &Path, launch: &Launch<'_>) -> Command {
    let mut memory = std::ffi::OsString::from(format!(
        "memory-backend-file,id=window,size={MEMORY_BYTES},share=on,mem-path="
    ));
    memory.push(window);
    let mut command = bound_to_us(EMULATOR);
    command.args(["-M", MACHINE, "-display", "none", "-monitor", "none", "-nodefaults"]);
    command.arg("-object").arg(memory).arg("-kernel").arg(launch.image);
    if launch.count {
        command.args(["-icount", "shift=6"]);
    }
    if let Some(address) = &launch.serial {
        command.arg("-serial").arg(format!("tcp:{address},server=on,wait=off,nodelay=on"));
    }
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command
}

/// A command that ends when this process does, however that ends; where the system has no such
/// thing, only when it ends in order.
fn bound_to_us(program: &str) -> Command {
    if cfg!(target_os = "linux") && installed("setpriv") && installed(program) {
        let mut command = Command::new("setpriv");
        command.args(["--pdeathsig", "KILL", "--", program]);
        return command;
    }
    Command::new(program)
}

fn installed(program: &str) -> bool {
    let folders = std::env::var_os("PATH").unwrap_or_default();
    std::env::split_paths(&folders).any(|folder| folder.join(program).is_file())
}
