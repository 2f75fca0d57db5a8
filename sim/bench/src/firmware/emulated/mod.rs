//! Runs the firmware's image on an emulated board, in lockstep with the simulated furnace.

mod launch;
mod window;

use std::io::{self, ErrorKind};
use std::process::Child;
use std::time::{Duration, Instant as Clock};

use saggar_core::Controller;
use saggar_core::events::Event;
use saggar_core::furnace::Furnace;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::programme::IMAGE_BYTES_MAX;
use saggar_core::sequencer::SequencerState;
use saggar_core::units::Instant;
use saggar_device::store::Store;
use saggar_device::wire::Tick;
use saggar_device::{Announcement, Device};
use saggar_lockstep::{
    BusTransfer, DISPLAY_STATE, FLASH, FLASH_BYTES, HALF_CYCLES, LOG, LOG_CAPACITY, LOG_LEN,
    MODE, MODE_LINK_ONLY, MODE_SERIAL, NOW_MS, PINS_OUT, REPLY, REPLY_NUMBER, REQUEST,
    REQUEST_NUMBER, RX, RX_CAPACITY, RX_LEN, SCRIPT, SCRIPT_MAX, SCRIPT_USED, SECTION_COUNT,
    SECTION_COUNTERS, STACK_PEAK, STATE_RUNS, STATE_START_FAILED, TICK_RECORD, TRANSFER_WORDS,
    TURN_DONE, TURN_STARTED, TX, TX_CAPACITY, TX_LEN, flash_layout,
};
use tempfile::TempDir;

use self::window::{BoardSnapshot, SharedWindow};
use super::wiring::Wiring;
use super::{BoardUsage, Firmware, LinkedFirmware, SectionCost};
use crate::BenchError;
use crate::flash::SimulatedFlash;
use crate::reference_core::ReferenceCore;

pub use launch::Launch;

/// Timeout for a tick and for booting.
const REPLY_TIMEOUT: Duration = Duration::from_secs(20);

/// Polls of the window between two checks of the clock.
const POLLS_PER_CLOCK_CHECK: u32 = 20_000;

/// A running image.
pub struct EmulatedBoard {
    child: Child,
    window: SharedWindow,
    // Dropped after `window`; deletes the folder.
    _folder: TempDir,
    reference: ReferenceCore,
    /// Digest of the programme that the reference core has loaded.
    programme: Option<[u8; 32]>,
    wires: Wiring,
    /// The flash at the last synchronisation.
    flash: SimulatedFlash,
    mode: u32,
    turn: u32,
    /// Number of the last bus transfer request that was served.
    last_request: u32,
    script: Vec<BusTransfer>,
    script_applied: usize,
    /// Bytes sent on the link, not fetched yet.
    link_output: Vec<u8>,
    /// Defmt messages, not fetched yet.
    messages: Vec<u8>,
    announcement: Announcement,
}

impl Drop for EmulatedBoard {
    fn drop(&mut self) {
        // Errors are ignored: the process may have exited already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl EmulatedBoard {
    /// Starts an image with this flash and waits until it has booted.
    ///
    /// # Errors
    /// The image or the emulator does not exist, or the image does not boot.
    pub fn launch(launch: &Launch<'_>, flash: SimulatedFlash) -> Result<Self, BenchError> {
        if !launch.image.is_file() {
            return Err(BenchError::NoImage(launch.image.to_path_buf()));
        }
        let folder = launch::window_folder()?;
        let path = folder.path().join("window");
        let window = launch::create_window(&path, launch, &flash)?;
        let child = launch::emulator_command(&path, launch).spawn().map_err(|why| {
            if why.kind() == ErrorKind::NotFound {
                BenchError::NoEmulator
            } else {
                BenchError::Window(why)
            }
        })?;
        let mut new = Self {
            child,
            window,
            _folder: folder,
            reference: boot_reference(launch.furnace, &flash),
            programme: None,
            wires: Wiring::default(),
            flash,
            mode: launch::mode(launch),
            turn: 0,
            last_request: 0,
            script: Vec::new(),
            script_applied: 0,
            link_output: Vec::new(),
            messages: Vec::new(),
            announcement: Announcement::default(),
        };
        new.wait_for_boot()?;
        new.reload()?;
        Ok(new)
    }

    fn wait_for_boot(&mut self) -> Result<(), BenchError> {
        let since = Clock::now();
        loop {
            match self.window.state()? {
                STATE_RUNS => return Ok(()),
                STATE_START_FAILED => return Err(BenchError::NoSettings),
                _ => self.check_alive(since)?,
            }
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    fn check_alive(&mut self, since: Clock) -> Result<(), BenchError> {
        let ended = self.child.try_wait()?.is_some();
        if ended || since.elapsed() > REPLY_TIMEOUT { Err(BenchError::Silent) } else { Ok(()) }
    }

    /// The bytes of the image's own messages since the last call.
    pub fn take_messages(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.messages)
    }

    /// Ticks in which the board's core and the reference core gave the same outputs.
    pub const fn compared(&self) -> u64 {
        self.reference.ticks_compared()
    }

    /// The board's measurements of itself. The figures are instructions only with [`Launch::count`].
    ///
    /// # Errors
    /// The window cannot be read.
    pub fn usage(&self) -> Result<BoardUsage, BenchError> {
        let names = ["read", "step", "write", "transmit"];
        let mut sections = [SectionCost::default(); SECTION_COUNT];
        for (index, (section, name)) in sections.iter_mut().zip(names).enumerate() {
            let at = SECTION_COUNTERS + 16 * index;
            let word = |offset| self.window.word(at + offset);
            let sum = u64::from(word(0)?) | u64::from(word(4)?) << 32;
            *section = SectionCost {
                name,
                mean: instructions(sum as f64 / self.compared().max(1) as f64),
                max: instructions(f64::from(word(8)?)),
            };
        }
        Ok(BoardUsage { sections, stack: self.window.word(STACK_PEAK)? })
    }

    /// The current contents of the board's flash.
    fn board_flash(&self) -> Result<Vec<u8>, BenchError> {
        let mut flash = vec![0; FLASH_BYTES];
        self.window.read(FLASH, &mut flash)?;
        Ok(flash)
    }

    /// Loads the active programme from the board's flash into the reference core if it has
    /// changed.
    fn reload(&mut self) -> Result<(), BenchError> {
        let flash = SimulatedFlash::read_only(self.board_flash()?);
        let Ok(mut store) = Store::open(flash, flash_layout()) else { return Ok(()) };
        let Some(active) = store.active() else { return Ok(()) };
        if self.programme == Some(active.digest) {
            return Ok(());
        }
        let mut image = [0; IMAGE_BYTES_MAX];
        let length = store.read_programme(0, &mut image).unwrap_or(0);
        // The board has verified it. If the reference core rejects it, the next firing's comparison fails.
        let bytes = image.get(..length).unwrap_or(&[]);
        if self.reference.core.load(bytes, &active.digest).is_ok() {
            self.programme = Some(active.digest);
        }
        Ok(())
    }

    fn is_firing(&self) -> bool {
        matches!(self.reference.core.state(), SequencerState::Running(_))
    }

    fn run(&mut self, now_ms: u64) -> io::Result<()> {
        self.script = self.wires.predict(&std::mem::take(&mut self.script));
        self.script.truncate(SCRIPT_MAX);
        self.script_applied = 0;
        let mut header = Vec::with_capacity(SCRIPT + self.script.len() * TRANSFER_WORDS * 4);
        header.extend(self.mode.to_le_bytes());
        header.extend(now_ms.to_le_bytes());
        header.extend(self.wires.pins().to_le_bytes());
        // No link input during a tick.
        header.extend(0u32.to_le_bytes());
        header.extend((self.script.len() as u32).to_le_bytes());
        header.extend(self.last_request.to_le_bytes());
        let nominal = 2 * self.reference.core.cycles_per_tick();
        let crossings = self.wires.mains_crossings().unwrap_or(nominal);
        header.extend(u32::from(crossings).to_le_bytes());
        // Overwrites the last reply, which is no longer needed.
        header.resize(SCRIPT - MODE, 0);
        header.extend(bytes_of(&self.script));
        self.window.write(MODE, &header)?;
        self.next_turn()
    }

    fn next_turn(&mut self) -> io::Result<()> {
        self.turn = self.turn.wrapping_add(1);
        self.window.set_word(TURN_STARTED, self.turn)
    }

    /// Sends bytes to the board's link between two ticks.
    fn send_frame(&mut self, now_ms: u64, bytes: &[u8]) -> io::Result<()> {
        let bytes = bytes.get(..RX_CAPACITY).unwrap_or(bytes);
        self.window.set_word(MODE, self.mode | MODE_LINK_ONLY)?;
        self.window.write(NOW_MS, &now_ms.to_le_bytes())?;
        self.window.set_word(RX_LEN, bytes.len() as u32)?;
        self.window.write(RX, bytes)?;
        self.next_turn()
    }

    /// Waits until the board ends its turn. `answer` serves the bus transfers that it requests on the way.
    fn wait_for_turn(
        &mut self,
        mut answer: impl FnMut(&mut Self, &BoardSnapshot) -> io::Result<()>,
    ) -> Result<BoardSnapshot, BenchError> {
        let since = Clock::now();
        loop {
            for _ in 0..POLLS_PER_CLOCK_CHECK {
                let head = self.window.head()?;
                if head.word(TURN_DONE) == self.turn {
                    // Read again: the words read before `TURN_DONE` may be older.
                    return Ok(self.window.head()?);
                }
                if head.word(REQUEST_NUMBER) != self.last_request {
                    let head = self.window.head()?;
                    answer(self, &head)?;
                }
            }
            self.check_alive(since)?;
        }
    }

    /// Applies the transfers that the board has taken from the script to the chip models.
    fn consume_script(&mut self, used: usize) {
        for transfer in
            self.script.get(self.script_applied..used.min(self.script.len())).unwrap_or(&[])
        {
            self.wires.exchange(transfer);
        }
        self.script_applied = self.script_applied.max(used);
    }

    /// Serves a transfer that the script did not predict, and updates the rest of the script.
    fn answer(&mut self, head: &BoardSnapshot) -> io::Result<()> {
        let used = head.word(SCRIPT_USED) as usize;
        self.consume_script(used);
        let request = exchange(head.bytes(REQUEST, TRANSFER_WORDS * 4));
        let answer = self.wires.exchange(&request);
        self.script_applied = used + 1;
        // This transfer changes the models' state, so the remaining script is predicted again.
        if let Some(left) = self.script.get_mut(used + 1..) {
            let predicted = self.wires.predict(left);
            left.copy_from_slice(&predicted);
            let at = SCRIPT + (used + 1) * TRANSFER_WORDS * 4;
            self.window.write(at, &bytes_of(&predicted))?;
        }
        self.window.write(REPLY, &bytes_of(&[answer]))?;
        self.last_request = head.word(REQUEST_NUMBER);
        self.window.set_word(REPLY_NUMBER, self.last_request)
    }

    /// Collects the board's output: link, display and log.
    fn collect_output(&mut self, head: &BoardSnapshot) -> Result<(), BenchError> {
        let announced = head.word(DISPLAY_STATE);
        self.announcement = Announcement {
            unconfirmed: announced & 1 != 0,
            commits: (announced >> 1) as u16,
            code: None,
        };
        let sent = self.fetch(TX, head.word(TX_LEN), TX_CAPACITY)?;
        self.link_output.extend(sent);
        let messages = self.fetch(LOG, head.word(LOG_LEN), LOG_CAPACITY)?;
        self.messages.extend(messages);
        Ok(())
    }

    fn fetch(&self, at: usize, length: u32, capacity: usize) -> Result<Vec<u8>, BenchError> {
        let mut bytes = vec![0; (length as usize).min(capacity)];
        if !bytes.is_empty() {
            self.window.read(at, &mut bytes)?;
        }
        Ok(bytes)
    }
}

impl Firmware for EmulatedBoard {
    type Error = BenchError;

    fn tick(&mut self, now: Instant, inputs: &mut Inputs) -> Result<Outputs, BenchError> {
        self.wires.set_inputs(inputs);
        self.run(now.millis())?;
        let head = self.wait_for_turn(Self::answer)?;
        self.consume_script(head.word(SCRIPT_USED) as usize);
        self.script = self.wires.exchanges().to_vec();
        self.wires.drive_all(head.word(PINS_OUT), head.word(HALF_CYCLES));
        // Over a serial port a programme arrives without passing through `receive`.
        if self.mode & MODE_SERIAL != 0 && !self.is_firing() {
            self.reload()?;
        }
        let words = std::array::from_fn(|index| head.word(TICK_RECORD + 4 * index));
        let tick = Tick::from_words(words);
        self.reference.compare(&tick)?;
        *inputs = tick.inputs();
        self.collect_output(&head)?;
        Ok(self.wires.end_tick())
    }

    fn core(&self) -> &Controller {
        &self.reference.core
    }

    fn take_event(&mut self) -> Option<Event> {
        self.reference.core.take_event()
    }

    fn announcement(&self) -> Announcement {
        self.announcement
    }
}

impl LinkedFirmware for EmulatedBoard {
    fn drain_output(&mut self, output: &mut Vec<u8>) {
        output.append(&mut self.link_output);
    }

    fn receive(
        &mut self,
        now: Instant,
        frame: &[u8],
        output: &mut Vec<u8>,
    ) -> Result<(), BenchError> {
        self.send_frame(now.millis(), frame)?;
        // A link-only turn makes no bus transfers.
        let head = self.wait_for_turn(|_, _| Ok(()))?;
        self.collect_output(&head)?;
        self.drain_output(output);
        if !self.is_firing() {
            self.reload()?;
        }
        Ok(())
    }

    fn sync_flash(&mut self) -> Result<(), BenchError> {
        let flash = self.board_flash()?;
        self.flash.replace(&flash).map_err(|_| BenchError::Flash)
    }
}

/// A reference core in the state in which the board's core boots: with the stored trip, if it has not been
/// accepted.
fn boot_reference(furnace: &Furnace, flash: &SimulatedFlash) -> ReferenceCore {
    let mut core = Controller::new(furnace.clone());
    let device =
        Device::boot(SimulatedFlash::read_only(flash.bytes()), flash_layout(), || None);
    let cause = device.ok().and_then(|device| device.controller().status().trip);
    if let Some(cause) = cause {
        core.restore_trip(cause);
    }
    ReferenceCore::new(core)
}

/// Converts counts of the board's 25 MHz timer to instructions: it counts 1.6 per instruction of 64 ns.
fn instructions(count: f64) -> f64 {
    count / 1.6
}

fn bytes_of(exchanges: &[BusTransfer]) -> Vec<u8> {
    exchanges.iter().flat_map(|e| e.0).flat_map(u32::to_le_bytes).collect()
}

fn exchange(bytes: &[u8]) -> BusTransfer {
    let mut words = [0; TRANSFER_WORDS];
    for (word, four) in words.iter_mut().zip(bytes.chunks_exact(4)) {
        *word = four.try_into().map_or(0, u32::from_le_bytes);
    }
    BusTransfer(words)
}
