//! A whole device on a bench: its flash, a minimal furnace, and its link.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
use saggar_core::controller::StartError;
use saggar_core::events::EventKind;
use saggar_core::furnace::Furnace;
use saggar_core::io::{Buttons, ClosureContacts};
use saggar_core::programme::{Action, ProgrammeImage};
use saggar_core::sensors::ThermocoupleType;
use saggar_core::units::Instant;
use saggar_core::{Cause, Inputs, Outputs};
use saggar_device::store::{Layout, Region, Store};
use saggar_device::wire::seal::{DeviceKey, KEY_BYTES};
use saggar_device::wire::{
    DeviceStatus, FRAME_BYTES_MAX, Hello, LogEntry, LogEvent, Notice, Query, RANDOM_BYTES,
};
use saggar_device::{BootError, Device, DeviceSettings, SETTINGS_BYTES_MAX};

use super::client::{Client, ask, told};
use crate::store::flash::{Flash, SECTOR};
use crate::support::{ATMOSPHERE_PA, furnace, image, ramp, sample, soak, step};

/// The device's key, and another key.
pub(super) const KEY: [u8; KEY_BYTES] = *b"a key that only these two share.";
pub(super) const OTHER_KEY: [u8; KEY_BYTES] = *b"a key of somebody else entirely.";

/// Its id, and the salt drawn with the key.
pub(super) const ID: [u8; 8] = *b"furnace1";
pub(super) const SALT: [u8; 16] = *b"drawn with a key";

/// Sectors: two slots, two regions of the journal, settings.
const SECTORS: [(u32, u32); 5] = [(0, 9), (9, 9), (18, 16), (34, 16), (50, 7)];
const CAPACITY: usize = 57 * SECTOR;

pub(super) fn layout() -> Layout {
    let [a, b, c, d, e] = SECTORS.map(|(first, count)| Region {
        at: first * SECTOR as u32,
        bytes: count * SECTOR as u32,
    });
    Layout { slots: [a, b], journal: [c, d], settings: e }
}

/// A flash shared by device and test.
#[derive(Clone)]
pub(super) struct Chip(pub(super) Rc<RefCell<Flash<4>>>);

impl ErrorType for Chip {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Chip {
    const READ_SIZE: usize = Flash::<4>::READ_SIZE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        self.0.borrow_mut().read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        CAPACITY
    }
}

impl NorFlash for Chip {
    const WRITE_SIZE: usize = Flash::<4>::WRITE_SIZE;
    const ERASE_SIZE: usize = Flash::<4>::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        self.0.borrow_mut().erase(from, to)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        self.0.borrow_mut().write(offset, bytes)
    }
}

impl Chip {
    /// A new flash with these settings, and optionally a programme.
    pub(super) fn provisioned(
        settings: &DeviceSettings,
        programme: Option<&ProgrammeImage>,
    ) -> Self {
        let chip = Self(Rc::new(RefCell::new(Flash::new(vec![0xFF; CAPACITY]))));
        chip.provision(settings);
        if let Some(image) = programme {
            let mut store = Store::open(chip.clone(), layout()).expect("opens");
            store.begin_upload(image.bytes().len() as u16).expect("erases");
            store.write_chunk(0, image.bytes()).expect("writes");
            store.commit(&image.digest()).expect("commits");
        }
        chip
    }

    /// Writes settings, as is done at the device.
    pub(super) fn provision(&self, settings: &DeviceSettings) {
        let mut room = [0; SETTINGS_BYTES_MAX];
        let bytes = settings.encode(&mut room).expect("room");
        let mut store = Store::open(self.clone(), layout()).expect("opens");
        store.write_settings(bytes).expect("writes");
    }

    /// An independent copy.
    pub(super) fn twin(&self) -> Self {
        Self(Rc::new(RefCell::new(self.0.borrow().clone())))
    }

    /// Its contents.
    pub(super) fn bytes(&self) -> Vec<u8> {
        self.0.borrow().bytes.clone()
    }

    /// Bytes written and erase steps so far.
    pub(super) fn spent(&self) -> u64 {
        self.0.borrow().spent
    }
}

/// The settings of the bench device.
pub(super) fn settings() -> DeviceSettings {
    DeviceSettings::new(ID, Some(KEY), SALT, furnace())
}

/// The first programme: a ramp to 900 °C.
pub(super) fn first_programme() -> ProgrammeImage {
    image(&[step(ramp(900, 30)), step(soak(600)), step(Action::Cool { below_mc: 200_000 })])
}

/// Another programme, of the longest kind.
pub(super) fn second_programme() -> ProgrammeImage {
    let ramps = (1..60).map(|index| step(ramp(400 + index * 5, 30)));
    image(&ramps.chain([step(soak(60))]).collect::<Vec<_>>())
}

thread_local! {
    /// How many numbers this thread's devices have drawn, and whether they have a source.
    pub(super) static DRAWS: Cell<u8> = const { Cell::new(0) };
    pub(super) static CAN_DRAW: Cell<bool> = const { Cell::new(true) };
}

/// The random source of this thread's devices: another number each time.
fn drawn() -> Option<[u8; RANDOM_BYTES]> {
    DRAWS.set(DRAWS.get() + 1);
    CAN_DRAW.get().then_some([DRAWS.get(); RANDOM_BYTES])
}

/// A device and its furnace.
pub(super) struct Bed {
    pub(super) device: Device<Chip>,
    pub(super) chip: Chip,
    pub(super) millis: u64,
    /// The true temperature (°C).
    pub(super) celsius: f64,
    pub(super) out: Outputs,
    pub(super) events: Vec<EventKind>,
    pub(super) buttons: Buttons,
    /// The control channel is unplugged.
    pub(super) unplugged: bool,
}

/// The furnace's power (W), loss (W/K) and heat capacity (J/K).
const HEAT: (f64, f64, f64) = (2400.0, 0.8, 600.0);

impl Bed {
    /// The bench device, cold, two seconds after boot.
    pub(super) fn new() -> Self {
        Self::of(&settings(), Some(&first_programme()))
    }

    pub(super) fn of(settings: &DeviceSettings, programme: Option<&ProgrammeImage>) -> Self {
        let mut bed = Self::boot(Chip::provisioned(settings, programme)).expect("comes up");
        bed.run(20);
        bed
    }

    pub(super) fn boot(chip: Chip) -> Result<Self, BootError> {
        Ok(Self {
            device: Device::boot(chip.clone(), layout(), drawn)?,
            chip,
            millis: 0,
            celsius: 20.0,
            out: Outputs::default(),
            events: Vec::new(),
            buttons: Buttons::default(),
            unplugged: false,
        })
    }

    /// A power failure and a boot.
    pub(super) fn reboot(&mut self) {
        let celsius = self.celsius;
        *self = Self { celsius, ..Self::boot(self.chip.clone()).expect("comes up") };
        self.run(20);
    }

    pub(super) fn now(&self) -> Instant {
        Instant::from_millis(self.millis)
    }

    /// One tick.
    pub(super) fn tick(&mut self) -> Outputs {
        let mut inputs = self.inputs();
        if self.unplugged {
            inputs.control = None;
        }
        self.millis += 100;
        let now = self.now();
        let events = &mut self.events;
        self.out = self.device.step(now, &inputs, |event| events.push(event.kind));
        let (rated_w, loss, capacity) = HEAT;
        let heat_w = rated_w * self.share() - loss * (self.celsius - 20.0);
        self.celsius += heat_w / capacity * 0.1;
        self.out
    }

    fn inputs(&self) -> Inputs {
        let open = self.out.open_closure;
        // The chamber was just loaded.
        let loading = self.millis < 300;
        Inputs {
            control: Some(sample(ThermocoupleType::S, self.celsius)),
            limit: Some(sample(ThermocoupleType::S, self.celsius + 2.0)),
            pressure_pa: Some(ATMOSPHERE_PA),
            closure: ClosureContacts { shut: !open && !loading, open },
            contactor_closed: self.out.contactor,
            heater_current_ma: Some((self.share().sqrt() * 10_000.0) as u32),
            mains_crossings: Some(10),
            buttons: self.buttons,
        }
    }

    fn share(&self) -> f64 {
        f64::from(self.out.heater_cycles.count_ones()) / 5.0
    }

    pub(super) fn run(&mut self, ticks: u32) {
        for _ in 0..ticks {
            self.tick();
        }
    }

    /// Presses a button for a tick.
    pub(super) fn press(&mut self, which: impl Fn(&mut Buttons)) {
        which(&mut self.buttons);
        self.tick();
        self.buttons = Buttons::default();
        self.tick();
    }

    /// Starts the firing by the buttons, and waits for heat.
    pub(super) fn fire(&mut self) {
        if self.device.announcement().unconfirmed {
            self.press(|buttons| buttons.confirm = true);
        }
        self.press(|buttons| buttons.start = true);
        self.answer_contact_question();
        for _ in 0..200 {
            if self.tick().heater_cycles != 0 {
                return;
            }
        }
        panic!("no heat within 20 s of a start");
    }

    /// Asked whether the chamber is shut, the operator looks, confirms and presses start again.
    pub(super) fn answer_contact_question(&mut self) {
        let error = self.device.controller().status().start_error;
        if error == Some(StartError::ContactUnproven) {
            self.press(|buttons| buttons.confirm = true);
            self.press(|buttons| buttons.start = true);
        }
    }

    pub(super) fn tripped(&self) -> Option<Cause> {
        self.device.controller().status().trip
    }

    /// Sends bytes to the device.
    pub(super) fn send(&mut self, bytes: &[u8]) {
        self.device.receive(self.now(), bytes);
    }

    /// All frames that the device sends now.
    pub(super) fn replies(&mut self) -> Vec<Vec<u8>> {
        let mut room = [0; FRAME_BYTES_MAX];
        let device = &mut self.device;
        core::iter::from_fn(|| device.transmit(&mut room).map(|used| room[..used].to_vec()))
            .collect()
    }

    /// Sends bytes and returns the frames that come back.
    pub(super) fn exchange(&mut self, bytes: &[u8]) -> Vec<Vec<u8>> {
        self.send(bytes);
        self.replies()
    }

    /// A client with the key that has greeted the device.
    pub(super) fn connect(&mut self) -> (Client, Hello) {
        let mut client = Client::new(DeviceKey::new(KEY).expect("a key"));
        let greeting = client.hello(7);
        let replies = self.exchange(&greeting);
        let hello = client.accept_greeting(&replies);
        (client, hello)
    }

    pub(super) fn status(&mut self) -> DeviceStatus {
        let replies = self.exchange(&ask(&Query::Status));
        let status = |tell: Notice<'_>| {
            if let Notice::Status(status) = tell { Some(status) } else { None }
        };
        replies.iter().find_map(|frame| told(frame, status)).expect("a status")
    }

    /// The whole log.
    pub(super) fn log(&mut self) -> Vec<LogEntry> {
        let mut lines = Vec::new();
        loop {
            let from = lines.last().map_or(0, |line: &LogEntry| line.number + 1);
            // A zero first clears the link.
            self.send(&[0]);
            let replies = self.exchange(&ask(&Query::Log { from }));
            let log = |tell: Notice<'_>| {
                if let Notice::Log { entries, .. } = tell {
                    Some(entries.to_vec())
                } else {
                    None
                }
            };
            let more = replies.iter().find_map(|frame| told(frame, log)).expect("a log");
            if more.is_empty() {
                return lines;
            }
            lines.extend(more);
        }
    }

    /// How often the log has this event.
    pub(super) fn logged(&mut self, entry: LogEvent) -> usize {
        self.log().iter().filter(|line| line.event == entry).count()
    }

    /// Digest of the core's furnace data.
    pub(super) fn furnace(&self) -> [u8; 32] {
        Furnace::digest(self.device.controller().furnace())
    }
}

/// xorshift64 (Marsaglia 2003, value from memory): any spread of bits will do.
pub(super) struct Dice(pub(super) u64);

impl Dice {
    pub(super) fn roll(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// A random number below `end`.
    pub(super) fn below(&mut self, end: usize) -> usize {
        (self.roll() >> 16) as usize % end
    }
}
