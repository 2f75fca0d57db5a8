//! Power cuts: the bookmarks of a running firing, and the firing that a cut interrupted.
//!
//! A bookmark takes two lines of the log. The events of a firing close it: its end, a trip, a stop, the
//! next start. What is open at boot is offered to the core, which never goes on without a press of start.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::io::{Buttons, Outputs};
use saggar_core::units::Instant;

use super::Device;
use super::call::CallPattern;
use super::records::{NO_STEP, append, bookmark_lines};
use crate::wire::{LogEvent, Order, Refusal};

/// The call while an interrupted firing waits: another one than that for a programme.
const WAITS: CallPattern = CallPattern { period_ticks: 40, lamp_ticks: 30, buzzer_ticks: 1 };

impl<F: NorFlash> Device<F> {
    /// Writes the bookmark that is due after this tick, if there is space beyond what the events of the
    /// firing may need. Once there is not, a last line says so: a bookmark of a step long past would send
    /// the furnace to a wrong temperature.
    pub(super) fn write_bookmark(&mut self, at: Instant) {
        if !self.is_firing() {
            self.bookmarks_closed = false;
            return;
        }
        let Some(bookmark) = self.controller.bookmark() else { return };
        if self.bookmarks_closed {
            return;
        }
        if self.store.journal_free() > self.log_space_for_events() {
            for line in bookmark_lines(&bookmark) {
                self.lock_outs.last &= !append(&mut self.store, at, &line);
            }
        } else {
            let closing = LogEvent::FiringPosition { step: NO_STEP, gathered_s: 0 };
            self.bookmarks_closed = self.try_write_log(at, closing);
        }
    }

    /// The lines of the interrupted firing, for a new region of the journal.
    pub(super) fn interrupted_lines(&self) -> Option<[LogEvent; 2]> {
        self.controller.interrupted().as_ref().map(bookmark_lines)
    }

    /// Why this order is refused while an interrupted firing waits for the operator: its programme must
    /// stay.
    pub(super) fn refusal_after_cut(&self, order: &Order<'_>) -> Option<Refusal> {
        let uploads =
            matches!(order, Order::Begin { .. } | Order::Chunk { .. } | Order::Commit { .. });
        let waits = self.controller.interrupted().is_some();
        (waits && uploads).then_some(Refusal::FiringInterrupted)
    }

    /// Adds a stop that a client ordered to the buttons. No message discards an interrupted firing.
    pub(super) fn add_ordered_stop(&mut self, buttons: &mut Buttons) {
        let ordered = core::mem::take(&mut self.stop);
        buttons.stop |= ordered && self.controller.interrupted().is_none();
    }

    /// Adds the call for the operator to the outputs while an interrupted firing waits.
    pub(super) fn call_after_cut(&self, outputs: Outputs, tick: u32) -> Outputs {
        if self.controller.interrupted().is_none() {
            return outputs;
        }
        WAITS.add(outputs, tick)
    }
}
