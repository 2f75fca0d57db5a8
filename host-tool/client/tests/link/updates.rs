//! The updates of the fake device: ticks, origins and statuses, regular or hostile.

use std::time::Duration;

use saggar_core::io::{Inputs, Outputs};
use saggar_device::wire::{
    DeviceStatus, FRAME_BYTES_MAX, FrameKind, Notice, Origin, Subscription, Tick, encode_frame,
};

/// Duration of a tick.
const TICK: Duration = Duration::from_millis(100);

/// A subscription ends after this time without a query.
const SUBSCRIPTION_TIMEOUT: Duration = Duration::from_secs(60);

/// Ticks that a hostile device sends in the time of one.
const FLOOD: u32 = 300;

/// How the updates of a hostile device are wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Hostile {
    /// The same tick repeatedly.
    RepeatedTick,
    /// Tick numbers rise, but the time stays the same.
    TimeStandsStill,
    /// An unrequested origin after each tick.
    Origins,
    /// Tick numbers go back without a restart.
    NumbersGoBack,
    /// Valid ticks without end, as fast as the link carries them.
    Endless,
    /// Ticks with a gap between each two.
    Gaps,
}

/// The state of the updates.
#[derive(Debug, Default)]
pub(crate) struct Updates {
    pub(crate) hostile: Option<Hostile>,
    follow: Subscription,
    /// When the device booted.
    booted_at: Duration,
    /// When it last received a query.
    queried_at: Duration,
    /// Ticks since boot.
    ticks: u32,
    /// Tick number in the last update.
    number: u32,
    /// An origin is to be sent.
    origin_due: bool,
    /// Origins that were requested.
    pub(crate) origins: u32,
}

impl Updates {
    /// Notes a query, which may be a subscription.
    pub(crate) fn on_query(&mut self, now: Duration, follow: Option<Subscription>) {
        self.queried_at = now;
        if let Some(follow) = follow {
            self.origin_due = follow.ticks;
            self.follow = follow;
        }
    }

    /// Starts over after a restart of the device.
    pub(crate) fn reboot(&mut self, now: Duration) {
        *self = Self { hostile: self.hostile, booted_at: now, ..Self::default() };
    }

    /// When the next update is due.
    pub(crate) fn wake_at(&self) -> Option<Duration> {
        let next = self.booted_at + TICK * (self.ticks + 1);
        if self.origin_due { Some(Duration::ZERO) } else { self.follow.ticks.then_some(next) }
    }

    /// The device's status.
    pub(crate) fn status(&self, now: Duration) -> DeviceStatus {
        let at_ms = now.saturating_sub(self.booted_at).as_millis() as u64;
        DeviceStatus { at_ms, cycles_per_tick: 5, ..DeviceStatus::default() }
    }

    /// Takes the frames that are due.
    pub(crate) fn frames(&mut self, now: Duration) -> Vec<Vec<u8>> {
        let mut frames = Vec::new();
        if now.saturating_sub(self.queried_at) > SUBSCRIPTION_TIMEOUT {
            self.follow = Subscription::default();
        }
        while self.booted_at + TICK * (self.ticks + 1) <= now {
            self.ticks += 1;
            for _ in 0..if self.hostile.is_some() { FLOOD } else { 1 } {
                self.tick(&mut frames, now);
            }
        }
        if std::mem::take(&mut self.origin_due) {
            self.origins += 1;
            frames.push(self.origin());
            if self.hostile == Some(Hostile::Gaps) {
                self.tick(&mut frames, now);
            }
        }
        frames
    }

    fn tick(&mut self, frames: &mut Vec<Vec<u8>>, now: Duration) {
        self.number += match self.hostile {
            Some(Hostile::RepeatedTick) if self.number > 5 => 0,
            Some(Hostile::Gaps) => 2,
            Some(_) | None => 1,
        };
        if self.hostile == Some(Hostile::NumbersGoBack) && self.number > 500 {
            self.number = 1;
        }
        if !self.follow.ticks {
            return;
        }
        let at_ms = match self.hostile {
            Some(Hostile::TimeStandsStill) => 1000,
            Some(_) | None => u64::from(self.number) * 100,
        };
        let tick = Tick::new(self.number, at_ms, &Inputs::default(), &Outputs::default());
        frames.push(frame(&Notice::Tick(tick)));
        if self.hostile == Some(Hostile::Origins) {
            frames.push(self.origin());
        }
        if self.number.is_multiple_of(10) {
            let mut status = self.status(now);
            // A hostile device's statuses differ each time.
            status.bad_frames = if self.hostile.is_some() { frames.len() as u32 } else { 0 };
            frames.push(frame(&Notice::Status(status)));
        }
    }

    fn origin(&self) -> Vec<u8> {
        let memory = &[7; 200];
        frame(&Notice::Origin(Origin { number: self.number, programme: None, memory }))
    }
}

fn frame(notice: &Notice<'_>) -> Vec<u8> {
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes = encode_frame(FrameKind::Notice, None, notice, &mut frame).expect("fits");
    frame[..bytes].to_vec()
}
