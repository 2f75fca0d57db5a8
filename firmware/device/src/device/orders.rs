//! What a desk asks and orders.

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

/// What a frame asks for, with nothing borrowed from it but a chunk's bytes.
enum FrameAction {
    Question(Query),
    Done(Answer),
    Again,
    Gap(u32),
    Refused(Refusal),
    Locks(u16),
}

impl<F: NorFlash> Device<F> {
    /// Does what the frame that has just come in asks for.
    #[inline(never)]
    pub(super) fn frame(&mut self, now: Instant) {
        match self.wanted(now) {
            None => {}
            Some(FrameAction::Question(ask)) => self.question(now, ask),
            Some(FrameAction::Done(answer)) => self.pending.answer(answer),
            Some(FrameAction::Again) => self.pending.answer_again(),
            Some(FrameAction::Gap(sequence)) => self.pending.expect(sequence),
            Some(FrameAction::Refused(why)) => self.pending.refuse(why),
            Some(FrameAction::Locks(seconds)) => {
                self.lock_outs.count();
                self.pending.refuse(Refusal::LockedOut(seconds));
            }
        }
    }

    fn wanted(&mut self, now: Instant) -> Option<FrameAction> {
        // The body borrows the receiver; what it asks for needs the rest of the device.
        let mut receiver = core::mem::take(&mut self.receiver);
        let wanted = match receiver.take_frame() {
            Err(FrameError::Corrupt) => None,
            Err(FrameError::OtherProtocol(_)) => {
                Some(FrameAction::Refused(Refusal::OtherProtocol(crate::wire::PROTOCOL)))
            }
            Err(FrameError::Unreadable) => Some(FrameAction::Refused(Refusal::Unreadable)),
            Ok(body) => match body.kind {
                FrameKind::Query => Some(match body.message() {
                    Ok(ask) => FrameAction::Question(ask),
                    Err(_) => FrameAction::Refused(Refusal::Unreadable),
                }),
                FrameKind::Order => Some(match self.sessions.check_order(now, &body) {
                    OrderCheck::New(order, first) => {
                        if first {
                            self.store.abort_upload();
                        }
                        FrameAction::Done(
                            self.order(now, order).unwrap_or_else(Answer::Refused),
                        )
                    }
                    OrderCheck::Repeat => FrameAction::Again,
                    OrderCheck::Gap(sequence) => FrameAction::Gap(sequence),
                    OrderCheck::Refused(why) => FrameAction::Refused(why),
                    OrderCheck::LockOut(seconds) => FrameAction::Locks(seconds),
                }),
                // An echo of what this device has said itself.
                FrameKind::Notice | FrameKind::Answer => None,
            },
        };
        self.receiver = receiver;
        wanted
    }

    /// Does what a question asks for besides an answer. In a greeting that waits for its answer
    /// stands the device's number for the desk's.
    fn question(&mut self, now: Instant, mut ask: Query) {
        self.asked = now;
        if let Query::Hello { nonce } = &mut ask {
            *nonce = self.sessions.offer(now, nonce);
        } else if let Query::Subscribe(follow) = ask {
            self.follow = follow;
            self.pending.follow(follow.ticks);
        }
        self.pending.ask(ask);
    }

    #[inline(never)]
    fn order(&mut self, now: Instant, order: Order<'_>) -> Result<Answer, Refusal> {
        if self.firing() && !order.is_urgent() {
            self.store.abort_upload();
            return Err(Refusal::FiringRunning);
        }
        match order {
            Order::Stop => {
                // More of them in a tick are one, and one that ends nothing wears no flash.
                if !core::mem::replace(&mut self.stop, true) && self.firing() {
                    self.write_log(now, LogEvent::StopRequested);
                }
                Ok(Answer::Stopping)
            }
            Order::Begin { bytes, digest, furnace } => self.begin(bytes, digest, &furnace),
            Order::Chunk { offset, data } => self.chunk(offset, data),
            Order::Commit { digest } => self.commit(now, &digest),
            Order::Pledge { hash } => {
                let drawn = self.approval.pledged(&hash).ok_or(Refusal::OutOfOrder)?;
                Ok(Answer::Drawn { number: drawn })
            }
            Order::Reveal { number } => {
                let programme = self.programme.as_ref().ok_or(Refusal::OutOfOrder)?;
                if self.approval.revealed(&number, programme) {
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
        self.begun = digest;
        Ok(Answer::Begun)
    }

    fn chunk(&mut self, offset: u16, data: &[u8]) -> Result<Answer, Refusal> {
        let staged = self.store.staged().ok_or(Refusal::OutOfOrder)?;
        let left = usize::from(staged.bytes.saturating_sub(staged.written));
        // All pieces but the last are full ones.
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

    /// The same checks that the desk has made, with what the device itself knows; then the flash,
    /// then the core. Until the flash has taken it, all that is known of the programme before
    /// stays as it is: a refusal has changed nothing.
    #[inline(never)]
    fn commit(&mut self, now: Instant, digest: &[u8; DIGEST_BYTES]) -> Result<Answer, Refusal> {
        let admitted = self.admitted(digest).inspect_err(|_| self.store.abort_upload())?;
        self.store_staged(now, digest).inspect_err(|_| self.store.abort_upload())?;
        self.approval.committed();
        // No tick has passed since it was admitted, and so no firing has begun.
        self.controller.load_checked(admitted).map_err(refusal)?;
        self.programme = Some(*digest);
        self.loaded = super::ProgrammeStatus::Ready;
        // Ticks from now on are another programme's: whoever follows them needs an origin.
        self.pending.follow(self.follow.ticks);
        Ok(Answer::Committed { digest: *digest })
    }

    /// What has arrived, if it is whole, was announced so, and may run on this furnace.
    #[inline]
    fn admitted(&mut self, digest: &[u8; DIGEST_BYTES]) -> Result<CheckedProgramme, Refusal> {
        let whole = self.store.staged().filter(|staged| staged.written == staged.bytes);
        let staged = whole.ok_or(Refusal::OutOfOrder)?;
        if self.begun != *digest {
            return Err(Refusal::OutOfOrder);
        }
        let mut room = [0; IMAGE_BYTES_MAX];
        let bytes = room.get_mut(..usize::from(staged.bytes)).ok_or(Refusal::FlashFailed)?;
        match self.store.read_staged(0, bytes) {
            Ok(length) if length == bytes.len() => {
                self.controller.check_programme(bytes, digest).map_err(refusal)
            }
            Ok(_) | Err(_) => Err(Refusal::FlashFailed),
        }
    }

    /// Makes it the active programme in flash.
    fn store_staged(
        &mut self,
        now: Instant,
        digest: &[u8; DIGEST_BYTES],
    ) -> Result<(), Refusal> {
        // Written first: from here on nothing proves that the active programme was confirmed.
        let begin = digest.first_chunk().copied().unwrap_or_default();
        if self.try_write(now, LogEvent::Programme(begin)) {
            match self.store.commit(digest) {
                Ok(()) => return Ok(()),
                Err(StoreError::ActiveUnknown) => return Err(Refusal::FlashFailed),
                Err(_) => {}
            }
        }
        // The line may stand in the journal even if the flash says that it does not. If it does not
        // take this one, the next start asks for the confirmation again.
        if let Some(confirmed) = self.confirmed() {
            self.try_write(now, confirmed);
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
