//! The speed of a stand-in: real time, a multiple of it, or as fast as it can.

use std::str::FromStr;
use std::time::{Duration, Instant as Clock};

use saggar_core::TICK_MS;

/// Greatest speed while no firing runs: there the clients need a device that answers, not time that
/// passes.
const IDLE_SPEED_MAX: f64 = 20.0;

/// Greatest multiple of real time.
const SPEED_MAX: f64 = 100_000.0;

/// Speed of a stand-in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Speed {
    /// A multiple of real time.
    Times(f64),
    /// As fast as it can.
    Max,
}

impl FromStr for Speed {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text == "max" {
            return Ok(Self::Max);
        }
        let times = text.strip_suffix('x').unwrap_or(text);
        match times.parse::<f64>() {
            Ok(times) if (0.1..=SPEED_MAX).contains(&times) => Ok(Self::Times(times)),
            Ok(_) => Err(format!("give 0.1 to {SPEED_MAX} times real time, or max")),
            Err(_) => {
                Err("give how many times faster than real time, such as 60, or max".to_owned())
            }
        }
    }
}

/// Says when each tick is due.
#[derive(Debug)]
pub struct TickPacer {
    speed: Speed,
    due_at: Clock,
}

impl TickPacer {
    /// The first tick is due now.
    pub fn new(speed: Speed) -> Self {
        Self { speed, due_at: Clock::now() }
    }

    /// When the tick after this one is due; `None` for at once.
    pub fn next_tick_at(&mut self, firing: bool) -> Option<Clock> {
        let times = match (self.speed, firing) {
            (Speed::Max, true) => return None,
            (Speed::Max, false) => IDLE_SPEED_MAX,
            (Speed::Times(times), true) => times,
            (Speed::Times(times), false) => times.min(IDLE_SPEED_MAX),
        };
        let now = Clock::now();
        self.due_at += Duration::from_secs_f64(f64::from(TICK_MS) / 1000.0 / times);
        // More than a second behind is not made up for.
        if now.saturating_duration_since(self.due_at) > Duration::from_secs(1) {
            self.due_at = now;
        }
        (self.due_at > now).then_some(self.due_at)
    }

    /// Starts over, when a firing has begun or ended.
    pub fn restart(&mut self) {
        self.due_at = Clock::now();
    }
}
