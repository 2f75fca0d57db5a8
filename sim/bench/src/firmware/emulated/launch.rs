//! Starts the emulator with a window of memory that it shares with this process.

use std::fs::OpenOptions;
use std::io;
use std::path::Path;
use std::process::{Command, Stdio};

use saggar_core::furnace::Furnace;
use saggar_lockstep::{FLASH, MODE, MODE_COUNT, MODE_SERIAL, NOW_MS};
use tempfile::TempDir;

use super::window::SharedWindow;
use crate::flash::SimulatedFlash;

/// The emulator, and its machine that has a Cortex-M4F and enough memory.
const EMULATOR: &str = "qemu-system-arm";
const MACHINE: &str = "mps2-an386,memory-backend=window";

/// Size of the emulated memory that holds the window.
const MEMORY_BYTES: u64 = 16 << 20;

/// How an image is run.
#[derive(Clone, Debug)]
pub struct Launch<'a> {
    /// The image: an ELF file for the emulated board.
    pub image: &'a Path,
    /// The furnace's data, for the reference core on this side.
    pub furnace: &'a Furnace,
    /// The address where the emulated serial port listens; `None` passes frames through the window
    /// instead.
    pub serial: Option<String>,
    /// Makes the emulator count instructions, so that the board can measure its own load.
    pub count: bool,
}

/// A temporary folder, in memory if the system has one: the window is polled a million times a second.
pub(super) fn window_folder() -> io::Result<TempDir> {
    let fast = Path::new("/dev/shm");
    // The window holds the flash and with it the device's key, so only the owner may read it.
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

pub(super) fn create_window(
    path: &Path,
    launch: &Launch<'_>,
    flash: &SimulatedFlash,
) -> io::Result<SharedWindow> {
    let file = OpenOptions::new().read(true).write(true).create_new(true).open(path)?;
    file.set_len(MEMORY_BYTES)?;
    let window = SharedWindow::new(file);
    window.write(FLASH, &flash.bytes())?;
    window.set_word(MODE, mode(launch))?;
    window.write(NOW_MS, &0u64.to_le_bytes())?;
    Ok(window)
}

pub(super) fn emulator_command(window: &Path, launch: &Launch<'_>) -> Command {
    let mut memory = std::ffi::OsString::from(format!(
        "memory-backend-file,id=window,size={MEMORY_BYTES},share=on,mem-path="
    ));
    memory.push(window);
    let mut command = killed_with_parent(EMULATOR);
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

/// A command whose process is killed when this one dies. Without `setpriv` it only ends when this process
/// shuts down in order.
fn killed_with_parent(program: &str) -> Command {
    if cfg!(target_os = "linux") && is_installed("setpriv") && is_installed(program) {
        let mut command = Command::new("setpriv");
        command.args(["--pdeathsig", "KILL", "--", program]);
        return command;
    }
    Command::new(program)
}

fn is_installed(program: &str) -> bool {
    let folders = std::env::var_os("PATH").unwrap_or_default();
    std::env::split_paths(&folders).any(|folder| folder.join(program).is_file())
}
