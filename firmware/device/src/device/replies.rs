//! The frames that the device sends.
//!
//! There is no queue: pending replies are flags, and a frame is built when the link can take it.
//! Answers go first; a tick that the link had no time for is lost, which the tick numbers show.

use embedded_storage::nor_flash::NorFlash;
use heapless::Vec;
use saggar_core::TICK_MS;
use saggar_core::controller::SNAPSHOT_BYTES_MAX;
use saggar_core::units::Instant;

use super::settings::{SETTINGS_BYTES_MAX, read_furnace};
use super::{Device, SUBSCRIPTION_MS, WINDOW};
use crate::wire::{
    CHUNK_BYTES, Chunk, DeviceStatus, FRAME_BYTES_MAX, FrameKind, Hello, NONCE_BYTES, Notice,
    Origin, Query, Refusal, Subscription, encode_frame,
};

/// Ticks between two statuses of a subscription: one second.
const STATUS_TICKS: u32 = 1000 / TICK_MS;

impl<F: NorFlash> Device<F> {
    /// Writes the next frame for the link and returns its length; `None` if nothing is pending.
    #[inline(never)]
    pub fn transmit(&mut self, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if let Some(answer) = self.pending.take_answer() {
            let sealed = self.sessions.answering()?;
            return encode_frame(FrameKind::Answer, Some(sealed), &answer, frame);
        }
        if let Some(why) = self.pending.refusal.take() {
            return encode_frame(FrameKind::Notice, None, &Notice::Refused(why), frame);
        }
        if let Some(query) = self.pending.query.take() {
            return self.reply(query, frame);
        }
        if core::mem::take(&mut self.pending.origin) {
            self.pending.tick = false;
            return self.origin(frame);
        }
        if core::mem::take(&mut self.pending.tick) {
            return encode_frame(FrameKind::Notice, None, &Notice::Tick(self.tick), frame);
        }
        if core::mem::take(&mut self.pending.status) {
            return encode_frame(
                FrameKind::Notice,
                None,
                &Notice::Status(self.status()),
                frame,
            );
        }
        None
    }

    /// Marks what a subscriber gets after a tick.
    pub(super) fn schedule_tick(&mut self, now: Instant) {
        if now.since(self.last_query_at) > SUBSCRIPTION_MS {
            self.subscription = Subscription::default();
        }
        self.pending.tick = self.subscription.ticks;
        if self.subscription.status && self.tick.number.is_multiple_of(STATUS_TICKS) {
            self.pending.status = true;
        }
    }

    #[inline(never)]
    fn reply(&mut self, query: Query, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        let mut buffer = [0; CHUNK_BYTES];
        let notice = match query {
            Query::Hello { nonce } => Notice::Hello(self.hello(nonce)),
            Query::Status | Query::Subscribe(_) => Notice::Status(self.status()),
            Query::Log { from } => {
                let mut entries = Vec::new();
                let next = self.read_log(from, &mut entries);
                Notice::Log { next, entries }
            }
            Query::Programme { offset } => {
                let of = self.store.active().map_or(0, |active| active.bytes);
                let read = self.store.read_programme(offset, &mut buffer).unwrap_or(0);
                Notice::Programme(Chunk {
                    offset,
                    total: of,
                    data: buffer.get(..read).unwrap_or(&[]),
                })
            }
            Query::Furnace { offset } => return self.furnace_piece(offset, frame),
        };
        encode_frame(FrameKind::Notice, None, &notice, frame)
    }

    fn furnace_piece(
        &mut self,
        offset: u16,
        frame: &mut [u8; FRAME_BYTES_MAX],
    ) -> Option<usize> {
        let mut buffer = [0; SETTINGS_BYTES_MAX];
        let notice = match read_furnace(&mut self.store, &mut buffer) {
            Some(whole) => {
                let of = u16::try_from(whole.len()).ok()?;
                let rest = whole.get(usize::from(offset)..).unwrap_or(&[]);
                let data = rest.get(..CHUNK_BYTES).unwrap_or(rest);
                Notice::Furnace(Chunk { offset, total: of, data })
            }
            None => Notice::Refused(Refusal::FlashFailed),
        };
        encode_frame(FrameKind::Notice, None, &notice, frame)
    }

    #[inline(never)]
    fn origin(&mut self, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        let mut buffer = [0; SNAPSHOT_BYTES_MAX];
        let used = self.controller.save_snapshot(&mut buffer)?;
        let notice = Notice::Origin(Origin {
            number: self.tick.number,
            programme: self.programme,
            memory: buffer.get(..used)?,
        });
        encode_frame(FrameKind::Notice, None, &notice, frame)
    }

    fn hello(&self, nonce: [u8; NONCE_BYTES]) -> Hello {
        let who = self.sessions.identity();
        Hello {
            device: who.id,
            nonce,
            has_key: who.key.is_some(),
            version: crate::VERSION,
            boot: who.boot.unwrap_or(0),
            furnace: self.furnace,
            programme: self.programme,
            window: WINDOW,
        }
    }

    fn status(&self) -> DeviceStatus {
        let status = self.controller.status();
        let (inputs, outputs) = (self.tick.inputs(), self.tick.outputs());
        DeviceStatus {
            at_ms: self.tick.at_ms,
            programme: self.programme.as_ref().and_then(|digest| digest.first_chunk().copied()),
            step: status.step,
            steps: status.steps,
            setpoint_mc: status.setpoint.map(|setpoint| milli(setpoint.celsius)),
            reading_mc: status.reading_c.map(milli),
            limit_mc: status.limit_c.map(milli),
            pressure_pa: inputs.pressure_pa,
            cycles: count(outputs.heater_cycles),
            cycles_per_tick: self.controller.cycles_per_tick(),
            operator_wanted: outputs.buzzer && status.trip.is_none(),
            tripped: status.trip,
            ended: status.ending,
            log_next: self.log_next(),
            bad_frames: self.receiver.bad_frames(),
            damaged: self.store.has_damaged_slot(),
            shut: inputs.closure.shut,
            open: inputs.closure.open,
            contactor_closed: inputs.contactor_closed,
            heater_current_ma: inputs.heater_current_ma,
            may_open: status.may_open,
            waiting: status.waiting,
            interrupted: status.interrupted,
            start_error: status.start_error,
            heater_weak: status.heater_weak,
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
fn milli(celsius: f32) -> i32 {
    (celsius * 1000.0) as i32
}

#[expect(clippy::cast_possible_truncation, reason = "at most eight")]
const fn count(cycles: u8) -> u8 {
    cycles.count_ones() as u8
}
