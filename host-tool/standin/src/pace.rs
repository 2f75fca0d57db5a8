//! How fast a stand-in lives: as life does, a multiple of it, or as fast as it can.

use std::str::FromStr;
use std::time::{Duration, Instant as Clock};

use saggar_core::TICK_MS;

/// Fastest while no firing runs: whoever talks to a furnace at rest wants it to listen, not to grow
/// old.
const IDLE_SPEED_MAX: f64 = 20.0;

/// Longest multiple of life that is a number.
const SPEED_MAX: f64 = 100_000.0;

/// How fast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Speed {
    /// A multiple of life.
    Times(f64),
    /// As fast as it can.
    Max,
}

impl FromStr for Speed {
    type Err = String;

    fn from_str(typed: &str) -> Result<Self, String> {
        if typed == "max" {
            return Ok(Self::Max);
        }
        let times = typed.strip_suffix('x').unwrap_or(typed);
        match times.parse::<f64>() {
            Ok(times) if (0.1..=SPEED_MAX).contains(&times) => Ok(Self::Times(times)),
            Ok(_) => Err(format!("give 0.1 to {SPEED_MAX} times life, or max")),
            Err(_) => {
                Err("give how many times faster than life, such as 60, or max".to_owned())
            }
        }
    }
}

/// Keeps a pace.
#[derive(Debug)]
pub struct TickPacer {
    speed: Speed,
    due_at: Clock,
}

impl TickPacer {
    /// Begins now.
    pub fn new(speed: Speed) -> Self {
        Self { speed, due_at: Clock::now() }
    }

    /// A tick was run: when the next is due, `None` for at once.
    pub fn next_tick_at(&mut self, firing: bool) -> Option<Clock> {
        let times = match (self.speed, firing) {
            (Speed::Max, true) => return None,
            (Speed::Max, false) => IDLE_SPEED_MAX,
            (Speed::Times(times), true) => times,
            (Speed::Times(times), false) => times.min(IDLE_SPEED_MAX),
        };
        let now = Clock::now();
        self.due_at += Duration::from_secs_f64(f64::from(TICK_MS) / 1000.0 / times);
        // Who fell behind by a second does not make up for it.
        if now.saturating_duration_since(self.due_at) > Duration::from_secs(1) {
            self.due_at = now;
        }
        (self.due_at > now).then_some(self.due_at)
    }

    /// A firing has begun or ended: what was due then no longer is.
    pub fn restart(&mut self) {
        self.due_at = Clock::now();
    }
}
