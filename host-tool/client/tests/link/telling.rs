//! What the device for tests tells of its own: ticks, origins and statuses, or what no true device
//! tells.

use std::time::Duration;

use saggar_core::io::{Inputs, Outputs};
use saggar_device::wire::{
    DeviceStatus, FRAME_BYTES_MAX, FrameKind, Notice, Origin, Subscription, Tick, encode_frame,
};

/// A tick.
const TICK: Duration = Duration::from_millis(100);

/// What is not asked for a minute tells no more.
const KEEPS: Duration = Duration::from_secs(60);

/// Frames that a hostile device sends in the time of one.
const FLOOD: u32 = 300;

/// What is wrong with what a device tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Hostile {
    /// One tick, again and again.
    OneTick,
    /// Ticks that rise while its time stands.
    TimeStands,
    /// Origins that nobody asked for.
    Origins,
    /// Numbers that go back, while it never came up anew.
    GoesBack,
    /// Ticks of a furnace that lives as fast as the line carries them, without end.
    Endless,
    /// Ticks with a gap between each two.
    Gaps,
}

/// The telling.
#[derive(Debug, Default)]
pub(crate) struct Telling {
    pub(crate) hostile: Option<Hostile>,
    follow: Subscription,
    /// When the device came up, and when it was last asked.
    up_at: Duration,
    asked_at: Duration,
    /// Ticks that are over.
    over: u32,
    /// Number of the last one, as it is told.
    number: u32,
    begin: bool,
    /// Origins that were asked for.
    pub(crate) origins: u32,
}

impl Telling {
    /// A question came.
    pub(crate) fn asked(&mut self, now: Duration, follow: Option<Subscription>) {
        self.asked_at = now;
        if let Some(follow) = follow {
            self.begin = follow.ticks;
            self.follow = follow;
        }
    }

    /// The device came up anew.
    pub(crate) fn reboot(&mut self, now: Duration) {
        *self = Self { hostile: self.hostile, up_at: now, ..Self::default() };
    }

    /// When the next tick is over.
    pub(crate) fn wake(&self) -> Option<Duration> {
        let next = self.up_at + TICK * (self.over + 1);
        if self.begin { Some(Duration::ZERO) } else { self.follow.ticks.then_some(next) }
    }

    /// How it stands.
    pub(crate) fn status(&self, now: Duration) -> DeviceStatus {
        let at_ms = now.saturating_sub(self.up_at).as_millis() as u64;
        DeviceStatus { at_ms, cycles_per_tick: 5, ..DeviceStatus::default() }
    }

    /// The frames that are due by now.
    pub(crate) fn frames(&mut self, now: Duration) -> Vec<Vec<u8>> {
        let mut frames = Vec::new();
        if now.saturating_sub(self.asked_at) > KEEPS {
            self.follow = Subscription::default();
        }
        while self.up_at + TICK * (self.over + 1) <= now {
            self.over += 1;
            for _ in 0..if self.hostile.is_some() { FLOOD } else { 1 } {
                self.tick(&mut frames, now);
            }
        }
        if std::mem::take(&mut self.begin) {
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
            Some(Hostile::OneTick) if self.number > 5 => 0,
            Some(Hostile::Gaps) => 2,
            Some(_) | None => 1,
        };
        if self.hostile == Some(Hostile::GoesBack) && self.number > 500 {
            self.number = 1;
        }
        if !self.follow.ticks {
            return;
        }
        let at_ms = match self.hostile {
            Some(Hostile::TimeStands) => 1000,
            Some(_) | None => u64::from(self.number) * 100,
        };
        let tick = Tick::new(self.number, at_ms, &Inputs::default(), &Outputs::default());
        frames.push(frame(&Notice::Tick(tick)));
        if self.hostile == Some(Hostile::Origins) {
            frames.push(self.origin());
        }
        if self.number.is_multiple_of(10) {
            let mut status = self.status(now);
            // A hostile device says something else each time.
            status.bad_frames = if self.hostile.is_some() { frames.len() as u32 } else { 0 };
            frames.push(frame(&Notice::Status(status)));
        }
    }

    fn origin(&self) -> Vec<u8> {
        let memory = &[7; 200];
        frame(&Notice::Origin(Origin { number: self.number, programme: None, memory }))
    }
}

fn frame(tell: &Notice<'_>) -> Vec<u8> {
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes = encode_frame(FrameKind::Notice, None, tell, &mut frame).expect("fits");
    frame[..bytes].to_vec()
}
