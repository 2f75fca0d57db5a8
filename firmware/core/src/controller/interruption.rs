//! What may become of a firing that a power cut interrupted, and when a bookmark of the running one is due.
//!
//! Nothing heats by itself. After a boot the device offers the last bookmark; a press of start goes on, a
//! press of stop discards, and a trip ends it like any firing.

use super::recovery::Recovery;
use super::{Bookmark, Controller, StartError};
use crate::events::EventKind;
use crate::io::Buttons;
use crate::programme::AfterCut;
use crate::sequencer::{ResumePoint, SequencerState};
use crate::units::Instant;

/// Time between two bookmarks of a step (ms).
const BOOKMARK_MS: u64 = 300_000;

impl From<Bookmark> for ResumePoint {
    fn from(bookmark: Bookmark) -> Self {
        Self {
            step: bookmark.step,
            gathered_s: bookmark.gathered_s,
            vacuum_drawn: bookmark.has(Bookmark::VACUUM_DRAWN),
        }
    }
}

impl Controller {
    /// Offers the last bookmark of a firing that a power cut interrupted, after the programme of that
    /// firing was loaded and before the first tick. Returns false and does nothing if there is no such
    /// step, or a trip is latched: its firing is over.
    #[inline]
    pub fn offer_bookmark(&mut self, bookmark: Bookmark) -> bool {
        let idle = matches!(self.sequencer.state(), SequencerState::Idle);
        let image = self.programme.as_ref().map(|loaded| &loaded.image);
        let step = image.and_then(|image| image.steps().nth(usize::from(bookmark.step)));
        let (Some(step), true, None) = (step, idle, self.interlock.trip()) else {
            return false;
        };
        let over = match step.after_cut {
            AfterCut::GoOn => 0,
            AfterCut::End => Bookmark::OVER,
        };
        let flags = bookmark.flags & !Bookmark::OVER | over;
        self.recovery = Recovery {
            interrupted: Some(Bookmark { flags, ..bookmark }),
            ..Recovery::default()
        };
        true
    }

    /// The firing that a power cut interrupted, until start or stop is pressed.
    pub const fn interrupted(&self) -> Option<Bookmark> {
        self.recovery.interrupted()
    }

    /// The bookmark to note after this tick, for a device that writes it where it outlives a power cut:
    /// one at the beginning of each step, one when its vacuum is drawn, and one every five minutes.
    pub const fn bookmark(&self) -> Option<Bookmark> {
        self.recovery.due
    }

    /// Why a press of start does not go on with the interrupted firing.
    pub(super) fn resume_error(
        &self,
        bookmark: &Bookmark,
        reading_c: f32,
    ) -> Option<StartError> {
        if bookmark.has(Bookmark::OVER) {
            return Some(StartError::FiringOver);
        }
        let image = &self.programme.as_ref()?.image;
        let step = image.steps().nth(usize::from(bookmark.step))?;
        let fall_max_k = f32::from(image.fall_max_k());
        let fell_far = !(f32::from(bookmark.reading_c) - reading_c <= fall_max_k);
        if !step.action.heats() {
            return None;
        }
        if fell_far && !self.recovery.asked {
            return Some(StartError::AskTwice);
        }
        let proven =
            bookmark.has(Bookmark::CONTACT_SEEN_OPEN) || self.previous.contact.is_proven();
        (!proven).then_some(StartError::ContactUnproven)
    }

    /// Remembers that the operator was told how far the reading has fallen.
    pub(super) fn remember_question(&mut self) {
        self.recovery.asked |= self.previous.start_error == Some(StartError::AskTwice);
    }

    /// Discards the interrupted firing when stop is pressed, or confirm if it is over anyway. A trip ends
    /// it as it ends any firing.
    pub(super) fn discard_interrupted(&mut self, now: Instant, pressed: Buttons) {
        let Some(bookmark) = self.recovery.interrupted else { return };
        if self.interlock.trip().is_some() {
            self.recovery.discard();
        } else if pressed.stop || (pressed.confirm && bookmark.has(Bookmark::OVER)) {
            self.recovery.discard();
            self.previous.start_error = None;
            self.events.push(now, EventKind::FiringDiscarded);
        }
    }

    /// Decides whether a bookmark is due after this tick. Without a reading it waits for one.
    pub(super) fn note_bookmark(&mut self, now: Instant) {
        self.recovery.due = None;
        let SequencerState::Running(firing) = self.sequencer.state() else {
            self.recovery.noted = None;
            return;
        };
        let (step, drawn) = (firing.step_index(), firing.vacuum_drawn());
        let fresh = |noted: (u8, bool, Instant)| {
            (noted.0, noted.1) == (step, drawn) && now.since(noted.2) < BOOKMARK_MS
        };
        if self.recovery.noted.is_some_and(fresh) {
            return;
        }
        let Some(reading_c) = self.previous.reading_c else { return };
        let flag = |set: bool, flag: u8| if set { flag } else { 0 };
        self.recovery.noted = Some((step, drawn, now));
        self.recovery.due = Some(Bookmark {
            step,
            gathered_s: u16::try_from(firing.counted_ms() / 1000).unwrap_or(u16::MAX),
            reading_c: whole_degrees(reading_c),
            flags: flag(self.previous.outputs.open_closure, Bookmark::CHAMBER_OPEN)
                | flag(self.previous.contact.is_proven(), Bookmark::CONTACT_SEEN_OPEN)
                | flag(drawn, Bookmark::VACUUM_DRAWN),
        });
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
const fn whole_degrees(celsius: f32) -> i16 {
    celsius as i16
}
