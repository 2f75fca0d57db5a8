//! One fault as data: what, how much, from when until when, and whether it comes and goes.

use super::catalogue::FaultKind;
use super::effect::FaultEffect;

/// A fault that comes and goes: it is there for the first part of every period.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Intermittent {
    /// Length of a period (s), above 0.
    pub every_s: f64,
    /// Time of each period in which the fault is there (s), above 0 and below `every_s`.
    pub for_s: f64,
}

/// A fault and its times, in seconds after the start button.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fault {
    /// What is wrong.
    pub kind: FaultKind,
    /// How much, in the unit of the kind's [`Severity`](super::Severity); not used by a kind without one.
    pub severity: f64,
    /// When it strikes (s), or [`Self::BEFORE_START_S`].
    pub from_s: f64,
    /// When it is mended (s); infinite for never.
    pub until_s: f64,
    /// Whether it comes and goes in between.
    pub intermittent: Option<Intermittent>,
}

impl Fault {
    /// The time of a fault that is there before the start button is pressed.
    pub const BEFORE_START_S: f64 = -1.0;

    /// With another severity.
    #[must_use]
    pub const fn severity(self, severity: f64) -> Self {
        Self { severity, ..self }
    }

    /// Mended at this time (s).
    #[must_use]
    pub const fn until(self, until_s: f64) -> Self {
        Self { until_s, ..self }
    }

    /// There for the first `for_s` of every `every_s` seconds.
    #[must_use]
    pub const fn intermittent(self, every_s: f64, for_s: f64) -> Self {
        Self { intermittent: Some(Intermittent { every_s, for_s }), ..self }
    }

    /// What it does.
    pub fn effect(&self) -> FaultEffect {
        self.kind.effect(self.severity)
    }

    /// Whether it is there at this time (s).
    pub fn is_active_at(&self, now_s: f64) -> bool {
        let within = self.from_s <= now_s && now_s < self.until_s;
        within && self.intermittent.is_none_or(|times| self.phase_s(times, now_s) < times.for_s)
    }

    /// The next time after `now_s` at which it may come or go (s); infinite if there is none.
    pub(super) fn next_change_s(&self, now_s: f64) -> f64 {
        if now_s < self.from_s {
            return self.from_s;
        }
        if now_s >= self.until_s {
            return f64::INFINITY;
        }
        let Some(times) = self.intermittent else { return self.until_s };
        let phase_s = self.phase_s(times, now_s);
        let left_s = match phase_s < times.for_s {
            true => times.for_s - phase_s,
            false => times.every_s - phase_s,
        };
        // Half a millisecond early, so that rounding does not move the edge past its tick.
        (now_s + left_s - 0.0005).min(self.until_s)
    }

    /// Time since its period began (s). Counted in whole milliseconds: in seconds, rounding could move an
    /// edge by a tick.
    fn phase_s(&self, times: Intermittent, now_s: f64) -> f64 {
        let ms = |seconds: f64| (seconds * 1000.0).round();
        ms(now_s - self.from_s) % ms(times.every_s).max(1.0) / 1000.0
    }
}

impl FaultKind {
    /// This fault with its default severity, from this time on (s after the start button).
    pub const fn at(self, from_s: f64) -> Fault {
        let severity = match self.severity() {
            Some(severity) => severity.default,
            None => 0.0,
        };
        Fault { kind: self, severity, from_s, until_s: f64::INFINITY, intermittent: None }
    }

    /// This fault with its default severity, there before the start button is pressed.
    pub const fn before_start(self) -> Fault {
        self.at(Fault::BEFORE_START_S)
    }
}
