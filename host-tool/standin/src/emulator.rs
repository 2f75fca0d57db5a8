//! The firmware's image on an emulated board, in lockstep with the furnace here.

use std::fs::OpenOptions;
use std::io::{self, ErrorKind};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant as Clock};

use saggar_core::controller::Status;
use saggar_core::events::Event;
use saggar_core::furnace::Furnace;
use saggar_core::programme::Image;
use saggar_core::sequencer::State;
use saggar_device::Announcement;
use saggar_device::wire::Tick;
use saggar_lockstep::{
    ANNOUNCED, ANSWER, ANSWERED, ASKED, DONE, EXCHANGE_WORDS, Exchange, FLASH, FLASH_BYTES,
    HALF_CYCLES, LOG, LOG_BYTES, LOG_MAX, METER, METERS, MODE, MODE_COUNT, MODE_LINE,
    MODE_SERIAL, NOW_MS, PINS_OUT, QUESTION, RX, RX_BYTES, RX_MAX, SCRIPT, SCRIPT_MAX, STACK,
    STATE_NOT_UP, STATE_RUNS, TURN, TX, TX_BYTES, TX_MAX, USED, WITNESS,
};
use tempfile::TempDir;

use super::Error;
use super::bench::Bench;
use super::brain::Brain;
use super::disk::KEEP;
use super::memory::Memory;
use super::shadow::Shadow;
use super::window::{Head, Window};

/// The emulator, and the machine of it that has a Cortex-M4F and enough memory.
const EMULATOR: &str = "qemu-system-arm";
const MACHINE: &str = "mps2-an386,memory-backend=window";

/// The emulated memory that the window lies in.
const MEMORY_BYTES: u64 = 16 << 20;

/// Longest time that the board is given for a tick, or to come up.
const PATIENCE: Duration = Duration::from_secs(20);

/// Looks between two at the clock.
const LOOKS: u32 = 20_000;

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

/// Instructions of one section of a tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Section {
    /// What it does.
    pub name: &'static str,
    /// Mean over all ticks.
    pub mean: f64,
    /// Most in one tick.
    pub most: f64,
}

/// An image that runs.
pub struct Emulator {
    child: Child,
    window: Window,
    // Goes after the window, with everything in it.
    _folder: TempDir,
    shadow: Shadow,
    /// The flash as it was when it was looked at last, and when that was.
    flash: Memory,
    looked: Option<Clock>,
    mode: u32,
    turn: u32,
    asked: u32,
    script: Vec<Exchange>,
    applied: usize,
    messages: Vec<u8>,
    announcement: Announcement,
}

impl Drop for Emulator {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Emulator {
    /// Starts an image with this flash.
    ///
    /// # Errors
    /// There is no emulator, or the image does not come up.
    pub fn launch(launch: &Launch<'_>, flash: Memory) -> Result<Self, Error> {
        if !launch.image.is_file() {
            return Err(Error::NoImage(launch.image.to_path_buf()));
        }
        let folder = folder().map_err(Error::Window)?;
        let path = folder.path().join("window");
        let window = prepared(&path, launch, &flash).map_err(Error::Window)?;
        let child = command(&path, launch).spawn().map_err(|why| {
            if why.kind() == ErrorKind::NotFound {
                Error::NoEmulator
            } else {
                Error::Window(why)
            }
        })?;
        let mut new = Self {
            child,
            window,
            _folder: folder,
            shadow: Shadow::new(launch.furnace.clone(), flash.bytes().to_vec()),
            flash,
            looked: None,
            mode: mode(launch),
            turn: 0,
            asked: 0,
            script: Vec::new(),
            applied: 0,
            messages: Vec::new(),
            announcement: Announcement::default(),
        };
        new.comes_up()?;
        new.reload()?;
        Ok(new)
    }

    fn comes_up(&mut self) -> Result<(), Error> {
        let since = Clock::now();
        loop {
            match self.window.state().map_err(Error::Window)? {
                STATE_RUNS => return Ok(()),
                STATE_NOT_UP => return Err(Error::NoSettings),
                _ => self.alive(since)?,
            }
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    fn alive(&mut self, since: Clock) -> Result<(), Error> {
        let ended = self.child.try_wait().map_err(Error::Window)?.is_some();
        if ended || since.elapsed() > PATIENCE { Err(Error::Silent) } else { Ok(()) }
    }

    /// The bytes of the image's own messages since the last call.
    pub fn take_messages(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.messages)
    }

    /// Ticks in which both cores answered the same.
    pub const fn compared(&self) -> u64 {
        self.shadow.ticks()
    }

    /// What the board has measured: the sections of a tick, and the deepest stack (bytes). Only
    /// with [`Launch::count`] the figures are instructions.
    ///
    /// # Errors
    /// The window cannot be read.
    pub fn measured(&self) -> Result<([Section; METERS], u32), Error> {
        let names = ["read", "step", "write", "say"];
        let mut sections = [Section::default(); METERS];
        for (index, (section, name)) in sections.iter_mut().zip(names).enumerate() {
            let at = METER + 16 * index;
            let word = |offset| self.window.word(at + offset).map_err(Error::Window);
            let sum = u64::from(word(0)?) | u64::from(word(4)?) << 32;
            *section = Section {
                name,
                mean: instructions(sum as f64 / self.compared().max(1) as f64),
                most: instructions(f64::from(word(8)?)),
            };
        }
        Ok((sections, self.window.word(STACK).map_err(Error::Window)?))
    }

    /// What is in the board's flash.
    fn board_flash(&self) -> Result<Vec<u8>, Error> {
        let mut flash = vec![0; FLASH_BYTES];
        self.window.read(FLASH, &mut flash).map_err(Error::Window)?;
        Ok(flash)
    }

    fn reload(&mut self) -> Result<(), Error> {
        let flash = self.board_flash()?;
        self.shadow.reload(flash);
        Ok(())
    }

    fn run(&mut self, now_ms: u64, bench: &mut Bench) -> io::Result<()> {
        self.script = bench.foresee(&std::mem::take(&mut self.script));
        self.script.truncate(SCRIPT_MAX);
        self.applied = 0;
        let mut half = Vec::with_capacity(SCRIPT + self.script.len() * EXCHANGE_WORDS * 4);
        half.extend(self.mode.to_le_bytes());
        half.extend(now_ms.to_le_bytes());
        half.extend(bench.pins().to_le_bytes());
        // The line brings nothing within a tick.
        half.extend(0u32.to_le_bytes());
        half.extend((self.script.len() as u32).to_le_bytes());
        half.extend(self.asked.to_le_bytes());
        // The last answer lies in between, and nobody looks at it any more.
        half.resize(SCRIPT - MODE, 0);
        half.extend(bytes_of(&self.script));
        self.window.write(MODE, &half)?;
        self.next_turn()
    }

    fn next_turn(&mut self) -> io::Result<()> {
        self.turn = self.turn.wrapping_add(1);
        self.window.set_word(TURN, self.turn)
    }

    /// Gives the board bytes of the line between two ticks.
    fn bring(&mut self, now_ms: u64, bytes: &[u8]) -> io::Result<()> {
        let bytes = bytes.get(..RX_MAX).unwrap_or(bytes);
        self.window.set_word(MODE, self.mode | MODE_LINE)?;
        self.window.write(NOW_MS, &now_ms.to_le_bytes())?;
        self.window.set_word(RX_BYTES, bytes.len() as u32)?;
        self.window.write(RX, bytes)?;
        self.next_turn()
    }

    /// Waits until the board's turn is over; `answer` answers what it asks meanwhile.
    fn over(
        &mut self,
        mut answer: impl FnMut(&mut Self, &Head) -> io::Result<()>,
    ) -> Result<Head, Error> {
        let since = Clock::now();
        loop {
            for _ in 0..LOOKS {
                let head = self.window.head().map_err(Error::Window)?;
                if head.word(DONE) == self.turn {
                    // What was read before the number may be older than it: once more.
                    return self.window.head().map_err(Error::Window);
                }
                if head.word(ASKED) != self.asked {
                    let head = self.window.head().map_err(Error::Window)?;
                    answer(self, &head).map_err(Error::Window)?;
                }
            }
            self.alive(since)?;
        }
    }

    /// Asks the parts what the board has taken from the script.
    fn apply(&mut self, bench: &mut Bench, used: usize) {
        for foreseen in
            self.script.get(self.applied..used.min(self.script.len())).unwrap_or(&[])
        {
            bench.exchange(foreseen);
        }
        self.applied = self.applied.max(used);
    }

    fn answer(&mut self, bench: &mut Bench, head: &Head) -> io::Result<()> {
        let used = head.word(USED) as usize;
        self.apply(bench, used);
        let question = exchange(head.bytes(QUESTION, EXCHANGE_WORDS * 4));
        let answer = bench.exchange(&question);
        self.applied = used + 1;
        // What is left of the script comes after this exchange.
        if let Some(left) = self.script.get_mut(used + 1..) {
            let anew = bench.foresee(left);
            left.copy_from_slice(&anew);
            let at = SCRIPT + (used + 1) * EXCHANGE_WORDS * 4;
            self.window.write(at, &bytes_of(&anew))?;
        }
        self.window.write(ANSWER, &bytes_of(&[answer]))?;
        self.asked = head.word(ASKED);
        self.window.set_word(ANSWERED, self.asked)
    }

    /// What the board says to the line, on its display and in its own log.
    fn said(&mut self, head: &Head, tx: &mut Vec<u8>) -> Result<(), Error> {
        let announced = head.word(ANNOUNCED);
        self.announcement = Announcement {
            open: announced & 1 != 0,
            commits: (announced >> 1) as u16,
            code: None,
        };
        tx.extend(self.fetch(TX, head.word(TX_BYTES), TX_MAX)?);
        let told = self.fetch(LOG, head.word(LOG_BYTES), LOG_MAX)?;
        self.messages.extend(told);
        Ok(())
    }

    fn fetch(&self, at: usize, length: u32, most: usize) -> Result<Vec<u8>, Error> {
        let mut bytes = vec![0; (length as usize).min(most)];
        if !bytes.is_empty() {
            self.window.read(at, &mut bytes).map_err(Error::Window)?;
        }
        Ok(bytes)
    }
}

impl Brain for Emulator {
    fn tick(&mut self, now_ms: u64, bench: &mut Bench, tx: &mut Vec<u8>) -> Result<(), Error> {
        self.run(now_ms, bench).map_err(Error::Window)?;
        let head = self.over(|this, head| this.answer(bench, head))?;
        self.apply(bench, head.word(USED) as usize);
        self.script = bench.asked().to_vec();
        bench.drive_all(head.word(PINS_OUT), head.word(HALF_CYCLES));
        // A serial line brings its programme between ticks, without a word to us.
        if self.mode & MODE_SERIAL != 0 && !self.shadow.running() {
            self.reload()?;
        }
        let words = std::array::from_fn(|index| head.word(WITNESS + 4 * index));
        self.shadow.follow(&Tick::from_words(words))?;
        Ok(self.said(&head, tx)?)
    }

    fn hear(&mut self, now_ms: u64, frame: &[u8], tx: &mut Vec<u8>) -> Result<(), Error> {
        self.bring(now_ms, frame).map_err(Error::Window)?;
        // It asks its parts nothing.
        let head = self.over(|_, _| Ok(()))?;
        self.said(&head, tx)?;
        if !self.shadow.running() {
            self.reload()?;
        }
        Ok(())
    }

    fn keep(&mut self, at_once: bool) -> Result<(), Error> {
        let Some(disk) = self.flash.disk() else { return Ok(()) };
        let now = Clock::now();
        if at_once || self.looked.is_none_or(|last| now.duration_since(last) >= KEEP) {
            self.looked = Some(now);
            let flash = self.board_flash()?;
            self.flash.replace(&flash).map_err(|_| Error::Flash)?;
            disk.keep(true, now).map_err(Error::Kept)?;
        }
        Ok(())
    }

    fn status(&self) -> Status {
        self.shadow.controller().status()
    }

    fn state(&self) -> &State {
        self.shadow.controller().state()
    }

    fn programme(&self) -> Option<&Image> {
        self.shadow.controller().programme()
    }

    fn announcement(&self) -> Announcement {
        self.announcement
    }

    fn events(&mut self) -> Vec<Event> {
        self.shadow.events()
    }
}

/// With a clock of 25 MHz and 64 ns an instruction, the board's timer counts 1.6 a piece.
fn instructions(count: f64) -> f64 {
    count / 1.6
}

/// A folder in memory if there is one: the window is looked at a million times a second.
fn folder() -> io::Result<TempDir> {
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

fn mode(launch: &Launch<'_>) -> u32 {
    let serial = if launch.serial.is_some() { MODE_SERIAL } else { 0 };
    serial | if launch.count { MODE_COUNT } else { 0 }
}

fn prepared(path: &Path, launch: &Launch<'_>, flash: &Memory) -> io::Result<Window> {
    let file = OpenOptions::new().read(true).write(true).create_new(true).open(path)?;
    file.set_len(MEMORY_BYTES)?;
    let window = Window::new(file);
    window.write(FLASH, flash.bytes())?;
    window.set_word(MODE, mode(launch))?;
    window.write(NOW_MS, &0u64.to_le_bytes())?;
    Ok(window)
}

fn command(window: &Path, launch: &Launch<'_>) -> Command {
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

fn bytes_of(exchanges: &[Exchange]) -> Vec<u8> {
    exchanges.iter().flat_map(|e| e.0).flat_map(u32::to_le_bytes).collect()
}

fn exchange(bytes: &[u8]) -> Exchange {
    let mut words = [0; EXCHANGE_WORDS];
    for (word, four) in words.iter_mut().zip(bytes.chunks_exact(4)) {
        *word = four.try_into().map_or(0, u32::from_le_bytes);
    }
    Exchange(words)
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
