//! A whole device without its board: the control core, what lies in flash, and the line to a
//! desk.
//!
//! A board reads its instruments, calls [`Device::step`] ten times a second, does what comes
//! back, and in between carries bytes: [`Device::receive`] what the line brought,
//! [`Device::transmit`] what it shall take. The simulated and the emulated device call the same.
//!
//! The line can put a programme into flash, and ask for a stop. Heat is started by a button.
//!
//! What a tick does not need stands apart (`inline(never)`): put into one function, all of it shares
//! one large frame of the stack, and takes 2.6 KB more of an image.

mod approval;
mod lock_outs;
mod log;
mod orders;
mod pending;
mod presses;
mod records;
mod replies;
mod settings;

use embedded_storage::nor_flash::NorFlash;
use saggar_core::Controller;
use saggar_core::controller::LoadError;
use saggar_core::events::{Event, EventKind};
use saggar_core::io::{Inputs, Outputs};
use saggar_core::programme::{DIGEST_BYTES, IMAGE_BYTES_MAX};
use saggar_core::units::Instant;

use crate::link::{Identity, Receiver, Sessions};
use crate::store::{Layout, Store, StoreError};
use crate::wire::{LogEvent, Subscription, Tick};
use approval::Approval;
use lock_outs::LockOuts;
use pending::PendingReplies;
use presses::{PressFacts, PressWatch};

pub use approval::{Announcement, RandomSource};
pub use presses::{IgnoredPress, PressError};
pub use settings::{DeviceSettings, SETTINGS_BYTES_MAX};

/// Orders that a desk may send before the first is answered.
pub const WINDOW: u8 = 8;

/// A device that is not asked anything for this long tells no more of its own (ms).
const FOLLOW_MS: u64 = 60_000;

/// Why a device cannot come up. Its board keeps everything off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum BootError {
    /// The flash cannot be used.
    Flash(StoreError),
    /// There are no settings in flash, or they cannot be read: they are stored at the device.
    NoSettings,
}

/// What came of the programme in flash when the device came up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ProgrammeStatus {
    /// There is none.
    Missing,
    /// It may be started.
    Ready,
    /// It is whole and this furnace must not run it, or it cannot be read.
    Rejected(LoadError),
}

/// A furnace's controller with its flash and its line.
pub struct Device<F> {
    controller: Controller,
    store: Store<F>,
    receiver: Receiver,
    sessions: Sessions,
    /// Digests of the furnace's data and of the programme that would run.
    furnace: [u8; DIGEST_BYTES],
    programme: Option<[u8; DIGEST_BYTES]>,
    approval: Approval,
    presses: PressWatch,
    loaded: ProgrammeStatus,
    /// Digest that was announced of the programme that the store has on its way.
    begun: [u8; DIGEST_BYTES],
    pending: PendingReplies,
    follow: Subscription,
    /// When the desk last asked something.
    asked: Instant,
    tick: Tick,
    /// A desk with the key wants the firing to end: as if the button were down for a tick.
    stop: bool,
    /// Lines of the log that the flash did not take.
    lost: u16,
    /// The flash could not be erased for more of them.
    log_stuck: bool,
    lock_outs: LockOuts,
}

impl<F: NorFlash> Device<F> {
    /// A device that comes up. Counts the boot, loads the active programme, and latches again a trip
    /// that nobody has accepted. `draw` is the board's source of numbers.
    ///
    /// # Errors
    /// Why it cannot.
    #[inline(never)]
    pub fn boot(flash: F, layout: Layout, draw: RandomSource) -> Result<Self, BootError> {
        let mut store = Store::open(flash, layout).map_err(BootError::Flash)?;
        let (settings, furnace) = settings::read(&mut store).ok_or(BootError::NoSettings)?;
        let remembered = records::remembered(&mut store);
        // Without a count there are no sessions, and everything else works.
        let boot = store.count_boot().ok();
        let who = Identity { id: settings.id, key: settings.key(), salt: settings.salt, boot };
        let mut device = Self {
            controller: Controller::new(settings.furnace),
            store,
            receiver: Receiver::default(),
            sessions: Sessions::new(who),
            furnace,
            programme: None,
            approval: Approval::new(draw),
            presses: PressWatch::new(),
            loaded: ProgrammeStatus::Missing,
            begun: [0; DIGEST_BYTES],
            pending: PendingReplies::default(),
            follow: Subscription::default(),
            asked: Instant::default(),
            tick: Tick::default(),
            stop: false,
            lost: 0,
            log_stuck: false,
            lock_outs: LockOuts::default(),
        };
        device.load();
        if device.programme.as_ref().map(records::tag) == remembered.confirmed {
            device.approval.give();
        }
        if let Some(cause) = remembered.tripped {
            device.controller.restore_trip(cause);
        }
        device.write_log(Instant::default(), LogEvent::Booted);
        Ok(device)
    }

    /// One tick. `tell` hears what happened.
    pub fn step(
        &mut self,
        now: Instant,
        inputs: &Inputs,
        mut tell: impl FnMut(&Event),
    ) -> Outputs {
        // Before the core is asked: its answer does not wait for an erase.
        self.make_room_in_log(now);
        self.log_lock_outs(now);
        let mut inputs = *inputs;
        inputs.buttons.stop |= core::mem::take(&mut self.stop);
        let pressed = inputs.buttons;
        let mut facts = self.facts_before_press();
        facts.confirmed = self.look_at_buttons(now, &mut inputs);
        let outputs = self.controller.step(now, &inputs);
        let number = self.tick.number.wrapping_add(1);
        self.tick = Tick::new(number, now.millis(), &inputs, &outputs);
        self.receiver.reset_budget();
        self.tell_tick(now);
        while let Some(event) = self.controller.take_event() {
            facts.started |= event.kind == EventKind::FiringStarted;
            facts.confirmed |= event.kind == EventKind::TripAccepted;
            tell(&event);
            self.write_log(event.at, LogEvent::Core(event.kind));
        }
        let status = self.controller.status();
        facts.tripped = status.trip.or(facts.tripped);
        facts.has_reading = status.reading_c.is_some();
        self.presses.update(now, pressed, &facts);
        if self.sessions.expire(now) {
            self.store.abort_upload();
        }
        // Not part of the tick that is told: the core answered without it, and a replay does.
        self.approval.announced(outputs, number)
    }

    fn facts_before_press(&self) -> PressFacts {
        PressFacts {
            was_firing: self.firing(),
            was_asked: self.firing() && self.tick.outputs().buzzer,
            tripped: self.controller.status().trip,
            started: false,
            confirmed: false,
            has_programme: self.programme.is_some(),
            was_confirmed: self.approval.given(),
            has_reading: false,
        }
    }

    /// A programme that nobody has confirmed is not started. True if confirm was pressed for it.
    fn look_at_buttons(&mut self, now: Instant, inputs: &mut Inputs) -> bool {
        let tripped = self.controller.status().trip.is_some();
        let confirmed = self.approval.look(inputs.buttons, tripped);
        if confirmed && let Some(entry) = self.confirmed() {
            self.write_log(now, entry);
        }
        inputs.buttons.start = self.approval.starts(inputs.buttons.start);
        confirmed
    }

    /// What the line brought.
    #[inline(never)]
    pub fn receive(&mut self, now: Instant, bytes: &[u8]) {
        for byte in bytes {
            if self.receiver.push(now, *byte) {
                self.frame(now);
            }
        }
    }

    /// The core, for a display.
    pub const fn controller(&self) -> &Controller {
        &self.controller
    }

    /// What came of the programme in flash.
    pub const fn programme_status(&self) -> ProgrammeStatus {
        self.loaded
    }

    /// Digest of the programme that would run. A display shows at least its first 32 digits.
    pub const fn programme(&self) -> Option<&[u8; DIGEST_BYTES]> {
        self.programme.as_ref()
    }

    /// What a display has to announce.
    pub fn announcement(&self) -> Announcement {
        self.approval.announcement()
    }

    /// The last press of start or confirm, if it had no effect, with the reason for a display to
    /// show. `None` again after a press that had one.
    pub const fn ignored_press(&self) -> Option<IgnoredPress> {
        self.presses.ignored
    }

    /// The last tick.
    pub const fn tick(&self) -> &Tick {
        &self.tick
    }

    const fn firing(&self) -> bool {
        self.controller.is_firing()
    }

    /// Loads the active programme from flash.
    fn load(&mut self) {
        let Some(digest) = self.store.active().map(|active| active.digest) else {
            self.loaded = ProgrammeStatus::Missing;
            return;
        };
        let mut room = [0; IMAGE_BYTES_MAX];
        let length = self.store.read_programme(0, &mut room).unwrap_or(0);
        let bytes = room.get(..length).unwrap_or(&[]);
        self.loaded = match self.controller.load(bytes, &digest) {
            Ok(()) => {
                self.programme = Some(digest);
                ProgrammeStatus::Ready
            }
            Err(why) => ProgrammeStatus::Rejected(why),
        };
    }
}
