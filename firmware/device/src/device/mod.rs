//! A whole device without its board: control core, flash store and the link to a client.
//!
//! A board reads its instruments, calls [`Device::step`] ten times a second and applies the outputs.
//! In between it passes received bytes to [`Device::receive`] and sends what [`Device::transmit`]
//! returns. The simulated and the emulated device use the same calls.
//!
//! The link can put a programme into flash and ask for a stop. Only a button starts heat.
//!
//! Functions that not every tick needs are `inline(never)`: inlined into one, they share one large
//! stack frame and add 2.6 KB to an image.

mod approval;
mod boot_error;
mod call;
mod lock_outs;
mod log;
mod orders;
mod pending;
mod power_cuts;
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
use crate::store::{Layout, Store};
use crate::wire::{LogEvent, Subscription, Tick};
use approval::Approval;
use lock_outs::LockOuts;
use pending::PendingReplies;
use presses::{PressFacts, PressWatch};

pub use approval::{Announcement, RandomSource};
pub use boot_error::BootError;
pub use presses::{IgnoredPress, PressError};
pub use settings::{DeviceSettings, SETTINGS_BYTES_MAX, SETTINGS_VERSION};

/// Orders that a client may send before the first is answered.
pub const WINDOW: u8 = 8;

/// A subscription ends after this time without a query (ms).
const SUBSCRIPTION_MS: u64 = 60_000;

/// State of the programme in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ProgrammeStatus {
    /// No programme in flash.
    Missing,
    /// Loaded.
    Ready,
    /// It cannot be read, or this furnace must not run it.
    Rejected(LoadError),
}

/// A furnace's controller with its flash and its link.
pub struct Device<F> {
    controller: Controller,
    store: Store<F>,
    receiver: Receiver,
    sessions: Sessions,
    /// Digests of the furnace's data and of the loaded programme.
    furnace: [u8; DIGEST_BYTES],
    programme: Option<[u8; DIGEST_BYTES]>,
    approval: Approval,
    presses: PressWatch,
    programme_status: ProgrammeStatus,
    /// Digest that the current upload began with.
    announced_digest: [u8; DIGEST_BYTES],
    pending: PendingReplies,
    subscription: Subscription,
    /// Time of the last query.
    last_query_at: Instant,
    tick: Tick,
    /// A client ordered a stop: acts like the stop button in the next tick.
    stop: bool,
    /// Log entries that the flash did not take.
    lost_entries: u16,
    /// Erasing flash for the log failed; not retried before the next firing.
    log_erase_failed: bool,
    /// The journal has no space for more bookmarks of this firing.
    bookmarks_closed: bool,
    lock_outs: LockOuts,
}

impl<F: NorFlash> Device<F> {
    /// Boots: counts the boot, loads the active programme, latches a trip again that was not accepted
    /// before the power failed, and offers the core the firing that the power cut interrupted.
    ///
    /// # Errors
    /// [`BootError`]
    #[inline(never)]
    pub fn boot(flash: F, layout: Layout, random: RandomSource) -> Result<Self, BootError> {
        let mut store = Store::open(flash, layout).map_err(BootError::Flash)?;
        let (settings, furnace) = settings::read(&mut store)?;
        let retained = records::read_retained(&mut store);
        // Without a boot number there are no sessions; everything else works.
        let boot = store.count_boot().ok();
        let who = Identity { id: settings.id, key: settings.key(), salt: settings.salt, boot };
        let mut device = Self {
            controller: Controller::new(settings.furnace),
            store,
            receiver: Receiver::default(),
            sessions: Sessions::new(who),
            furnace,
            programme: None,
            approval: Approval::new(random),
            presses: PressWatch::new(),
            programme_status: ProgrammeStatus::Missing,
            announced_digest: [0; DIGEST_BYTES],
            pending: PendingReplies::default(),
            subscription: Subscription::default(),
            last_query_at: Instant::default(),
            tick: Tick::default(),
            stop: false,
            lost_entries: 0,
            log_erase_failed: false,
            bookmarks_closed: false,
            lock_outs: LockOuts::default(),
        };
        device.load();
        if device.programme.as_ref().map(records::confirmation_tag) == retained.confirmed {
            device.approval.mark_confirmed();
        }
        if let Some(cause) = retained.tripped {
            device.controller.restore_trip(cause);
        }
        // The programme that was confirmed is the one that was fired.
        if let Some(bookmark) = retained.bookmark.filter(|_| device.approval.is_confirmed()) {
            device.controller.offer_bookmark(bookmark);
        }
        device.write_log(Instant::default(), LogEvent::Booted);
        Ok(device)
    }

    /// Runs one tick, to be called every [`TICK_MS`](saggar_core::TICK_MS) ms. `tell` receives the core's
    /// events.
    pub fn step(
        &mut self,
        now: Instant,
        inputs: &Inputs,
        mut tell: impl FnMut(&Event),
    ) -> Outputs {
        // Before the core's step, so that its outputs do not wait for an erase.
        self.reserve_log_space(now);
        self.log_lock_outs(now);
        let mut inputs = *inputs;
        self.add_ordered_stop(&mut inputs.buttons);
        let pressed = self.presses.edges(inputs.buttons);
        let trip = self.controller.status().trip;
        let mut facts = PressFacts {
            stop: inputs.buttons.stop,
            was_firing: self.is_firing(),
            was_asked: self.tick.outputs().buzzer,
            was_confirmed: self.approval.is_confirmed(),
            trip,
            effective: false,
        };
        facts.effective = self.handle_buttons(now, &mut inputs, trip.is_some());
        let outputs = self.controller.step(now, &inputs);
        let number = self.tick.number.wrapping_add(1);
        self.tick = Tick::new(number, now.millis(), &inputs, &outputs);
        self.receiver.reset_budget();
        self.schedule_tick(now);
        while let Some(event) = self.controller.take_event() {
            facts.effective |= matches!(
                event.kind,
                EventKind::FiringStarted
                    | EventKind::FiringResumed(_)
                    | EventKind::FiringDiscarded
                    | EventKind::TripAccepted
                    | EventKind::ContactChecked
            );
            tell(&event);
            self.write_log(event.at, LogEvent::Core(event.kind));
        }
        self.write_bookmark(now);
        if pressed.start || pressed.confirm {
            let error = facts.error(pressed, &self.controller);
            self.presses.ignored = error.map(|error| IgnoredPress { at: now, error });
        }
        if self.sessions.expire(now) {
            self.store.abort_upload();
        }
        // Not part of the recorded tick: the core's outputs do not contain it, nor do those of a replay.
        self.approval.overlay(self.call_after_cut(outputs, number), number)
    }

    /// Withholds start from the core until the programme is confirmed. True if confirm was pressed for
    /// the programme in this tick.
    fn handle_buttons(&mut self, now: Instant, inputs: &mut Inputs, tripped: bool) -> bool {
        let confirmed = self.approval.confirm_pressed(inputs.buttons, tripped);
        if confirmed && let Some(entry) = self.confirmation_entry() {
            self.write_log(now, entry);
        }
        inputs.buttons.start = self.approval.filter_start(inputs.buttons.start);
        confirmed
    }

    /// Takes bytes received from the link.
    #[inline(never)]
    pub fn receive(&mut self, now: Instant, bytes: &[u8]) {
        for byte in bytes {
            if self.receiver.push(now, *byte) {
                self.handle_frame(now);
            }
        }
    }

    /// The core, for a display.
    pub const fn controller(&self) -> &Controller {
        &self.controller
    }

    /// The core, for a bench that flips bits of its memory.
    #[cfg(feature = "bench")]
    pub const fn controller_mut(&mut self) -> &mut Controller {
        &mut self.controller
    }

    /// State of the programme in flash.
    pub const fn programme_status(&self) -> ProgrammeStatus {
        self.programme_status
    }

    /// Digest of the loaded programme. A display shows at least its first 32 hexadecimal digits.
    pub const fn programme(&self) -> Option<&[u8; DIGEST_BYTES]> {
        self.programme.as_ref()
    }

    /// What a display has to announce about the programme.
    pub fn announcement(&self) -> Announcement {
        self.approval.announcement()
    }

    /// Why the last press of start or confirm had no effect, for a display; `None` if it had one.
    pub const fn ignored_press(&self) -> Option<IgnoredPress> {
        self.presses.ignored
    }

    /// The last tick.
    pub const fn tick(&self) -> &Tick {
        &self.tick
    }

    const fn is_firing(&self) -> bool {
        self.controller.is_firing()
    }

    /// Loads the active programme from flash.
    fn load(&mut self) {
        let Some(digest) = self.store.active().map(|active| active.digest) else {
            self.programme_status = ProgrammeStatus::Missing;
            return;
        };
        let mut buffer = [0; IMAGE_BYTES_MAX];
        let length = self.store.read_programme(0, &mut buffer).unwrap_or(0);
        let bytes = buffer.get(..length).unwrap_or(&[]);
        self.programme_status = match self.controller.load(bytes, &digest) {
            Ok(()) => {
                self.programme = Some(digest);
                ProgrammeStatus::Ready
            }
            Err(why) => ProgrammeStatus::Rejected(why),
        };
    }
}
