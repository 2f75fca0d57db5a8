//! Queries and orders of a client.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::controller::{CheckedProgramme, LoadError};
use saggar_core::programme::{DIGEST_BYTES, IMAGE_BYTES_MAX};
use saggar_core::units::Instant;

use super::Device;
use crate::link::OrderCheck;
use crate::store::StoreError;
use crate::wire::{
    Answer, CHUNK_BYTES, FrameError, FrameKind, LogEvent, Order, Query, Refusal,
};

/// What to do about a frame, without a borrow of the receiver.
enum FrameAction {
    Query(Query),
    Answer(Answer),
    RepeatAnswer,
    RequestResend(u32),
    Refuse(Refusal),
    LockOut(u16),
}

impl<F: NorFlash> Device<F> {
    /// Handles the frame that has just been received.
    #[inline(never)]
    pub(super) fn handle_frame(&mut self, now: Instant) {
        match self.read_frame(now) {
            None => {}
            Some(FrameAction::Query(query)) => self.handle_query(now, query),
            Some(FrameAction::Answer(answer)) => self.pending.answer(answer),
            Some(FrameAction::RepeatAnswer) => self.pending.answer_again(),
            Some(FrameAction::RequestResend(sequence)) => self.pending.expect(sequence),
            Some(FrameAction::Refuse(why)) => self.pending.refuse(why),
            Some(FrameAction::LockOut(seconds)) => {
                self.lock_outs.count();
                self.pending.refuse(Refusal::LockedOut(seconds));
            }
        }
    }

    fn read_frame(&mut self, now: Instant) -> Option<FrameAction> {
        // The frame borrows the receiver, and carrying out an order needs the rest of the device.
        let mut receiver = core::mem::take(&mut self.receiver);
        let action = match receiver.take_frame() {
            Err(FrameError::Corrupt) => None,
            Err(FrameError::OtherProtocol(_)) => {
                Some(FrameAction::Refuse(Refusal::OtherProtocol(crate::wire::PROTOCOL)))
            }
            Err(FrameError::Unreadable) => Some(FrameAction::Refuse(Refusal::Unreadable)),
            Ok(body) => match body.kind {
                FrameKind::Query => Some(match body.message() {
                    Ok(query) => FrameAction::Query(query),
                    Err(_) => FrameAction::Refuse(Refusal::Unreadable),
                }),
                FrameKind::Order => Some(match self.sessions.check_order(now, &body) {
                    OrderCheck::New(order, first) => {
                        if first {
                            self.store.abort_upload();
                        }
                        FrameAction::Answer(
                            self.order(now, order).unwrap_or_else(Answer::Refused),
                        )
                    }
                    OrderCheck::Repeat => FrameAction::RepeatAnswer,
                    OrderCheck::Gap(sequence) => FrameAction::RequestResend(sequence),
                    OrderCheck::Refused(why) => FrameAction::Refuse(why),
                    OrderCheck::LockOut(seconds) => FrameAction::LockOut(seconds),
                }),
                // An echo of the device's own frames.
                FrameKind::Notice | FrameKind::Answer => None,
            },
        };
        self.receiver = receiver;
        action
    }

    /// Does what a query asks for besides its reply. In a greeting that waits for its reply the device's
    /// nonce takes the place of the client's.
    fn handle_query(&mut self, now: Instant, mut query: Query) {
        self.last_query_at = now;
        if let Query::Hello { nonce } = &mut query {
            *nonce = self.sessions.offer(now, nonce);
        } else if let Query::Subscribe(subscription) = query {
            self.subscription = subscription;
            self.pending.restart_ticks(subscription.ticks);
        }
        self.pending.reply_to(query);
    }

    #[inline(never)]
    fn order(&mut self, now: Instant, order: Order<'_>) -> Result<Answer, Refusal> {
        if self.is_firing() && !order.is_urgent() {
            self.store.abort_upload();
            return Err(Refusal::FiringRunning);
        }
        if let Some(why) = self.refusal_after_cut(&order) {
            return Err(why);
        }
        match order {
            Order::Stop => {
                // Several in a tick count once, and a stop without a firing is not logged.
                if !core::mem::replace(&mut self.stop, true) && self.is_firing() {
                    self.write_log(now, LogEvent::StopRequested);
                }
                Ok(Answer::Stopping)
            }
            Order::Begin { bytes, digest, furnace } => self.begin(bytes, digest, &furnace),
            Order::Chunk { offset, data } => self.chunk(offset, data),
            Order::Commit { digest } => self.commit(now, &digest),
            Order::Pledge { hash } => {
                let drawn = self.approval.accept_pledge(&hash).ok_or(Refusal::OutOfOrder)?;
                Ok(Answer::Drawn { number: drawn })
            }
            Order::Reveal { number } => {
                let programme = self.programme.as_ref().ok_or(Refusal::OutOfOrder)?;
                if self.approval.accept_number(&number, programme) {
                    Ok(Answer::Agreed)
                } else {
                    Err(Refusal::OutOfOrder)
                }
            }
        }
    }

    fn begin(
        &mut self,
        bytes: u16,
        digest: [u8; DIGEST_BYTES],
        furnace: &[u8; DIGEST_BYTES],
    ) -> Result<Answer, Refusal> {
        self.store.abort_upload();
        if *furnace != self.furnace {
            return Err(Refusal::OtherFurnace);
        }
        if bytes == 0 || usize::from(bytes) > IMAGE_BYTES_MAX {
            return Err(Refusal::BadSize(u16::try_from(IMAGE_BYTES_MAX).unwrap_or(u16::MAX)));
        }
        self.store.begin_upload(bytes).map_err(|_| Refusal::FlashFailed)?;
        self.announced_digest = digest;
        Ok(Answer::Begun)
    }

    fn chunk(&mut self, offset: u16, data: &[u8]) -> Result<Answer, Refusal> {
        let staged = self.store.staged().ok_or(Refusal::OutOfOrder)?;
        let left = usize::from(staged.bytes.saturating_sub(staged.written));
        // Every chunk but the last is full.
        let fits = !data.is_empty() && data.len() == left.min(CHUNK_BYTES);
        if offset != staged.written || !fits {
            return Err(Refusal::OutOfOrder);
        }
        if self.store.write_chunk(offset, data).is_err() {
            self.store.abort_upload();
        }
        let staged = self.store.staged().ok_or(Refusal::FlashFailed)?;
        Ok(Answer::Staged { bytes: staged.written })
    }

    /// Repeats the checks of the client with the device's own furnace data, then commits to flash, then
    /// loads into the core. Until flash has taken the programme nothing changes, so that a refusal
    /// leaves the old programme and its confirmation alone.
    #[inline(never)]
    fn commit(&mut self, now: Instant, digest: &[u8; DIGEST_BYTES]) -> Result<Answer, Refusal> {
        let admitted = self.admitted(digest).inspect_err(|_| self.store.abort_upload())?;
        self.store_staged(now, digest).inspect_err(|_| self.store.abort_upload())?;
        self.approval.on_commit();
        // No tick has passed since it was checked, so no firing has begun.
        self.controller.load_checked(admitted).map_err(refusal)?;
        self.programme = Some(*digest);
        self.programme_status = super::ProgrammeStatus::Ready;
        // The next ticks belong to another programme, so a subscriber needs a new origin.
        self.pending.restart_ticks(self.subscription.ticks);
        Ok(Answer::Committed { digest: *digest })
    }

    /// Checks the upload: complete, of the announced digest, and allowed on this furnace.
    #[inline]
    fn admitted(&mut self, digest: &[u8; DIGEST_BYTES]) -> Result<CheckedProgramme, Refusal> {
        let whole = self.store.staged().filter(|staged| staged.written == staged.bytes);
        let staged = whole.ok_or(Refusal::OutOfOrder)?;
        if self.announced_digest != *digest {
            return Err(Refusal::OutOfOrder);
        }
        let mut buffer = [0; IMAGE_BYTES_MAX];
        let bytes = buffer.get_mut(..usize::from(staged.bytes)).ok_or(Refusal::FlashFailed)?;
        match self.store.read_staged(0, bytes) {
            Ok(length) if length == bytes.len() => {
                self.controller.check_programme(bytes, digest).map_err(refusal)
            }
            Ok(_) | Err(_) => Err(Refusal::FlashFailed),
        }
    }

    /// Makes the upload the active programme in flash.
    fn store_staged(
        &mut self,
        now: Instant,
        digest: &[u8; DIGEST_BYTES],
    ) -> Result<(), Refusal> {
        // Logged first, because it revokes the confirmation of the active programme.
        let begin = digest.first_chunk().copied().unwrap_or_default();
        if self.try_write_log(now, LogEvent::Programme(begin)) {
            match self.store.commit(digest) {
                Ok(()) => return Ok(()),
                Err(StoreError::ActiveUnknown) => return Err(Refusal::FlashFailed),
                Err(_) => {}
            }
        }
        // That entry may be in the journal even if the flash reported a failure. If the flash does not
        // take this one either, the next boot asks for the confirmation again.
        if let Some(confirmed) = self.confirmation_entry() {
            self.try_write_log(now, confirmed);
        }
        Err(Refusal::FlashFailed)
    }
}

#[inline]
fn refusal(why: LoadError) -> Refusal {
    match why {
        LoadError::FiringInProgress => Refusal::FiringRunning,
        LoadError::Image(why) => Refusal::BadProgramme(why),
        LoadError::Furnace(why) => Refusal::UnfitFurnace(why),
        LoadError::Violations { first, count } => {
            Refusal::Forbidden { first, count: u16::try_from(count).unwrap_or(u16::MAX) }
        }
    }
}
