//! Checksums over the state of a firing that decides what the furnace does, so that a changed bit is
//! found.

use crate::demand::Setpoint;
use crate::programme::{Action, Step};

/// A running checksum. Every word is mixed in by a rotation and an exclusive or, both of which can be
/// undone, so a change within one word always changes the result.
#[derive(Clone, Copy)]
struct Seal(u32);

impl Seal {
    const fn with(self, word: u32) -> Self {
        Self(self.0.rotate_left(5) ^ word)
    }
}

/// The checksum of a step, its position in the programme, and the target of the ramp that follows.
pub(super) fn of_step(
    step: &Step,
    index: u8,
    next_offset: u16,
    next_target_mc: Option<i32>,
) -> u32 {
    // No programme asks for the lowest number as a temperature.
    let next_target = next_target_mc.unwrap_or(i32::MIN).cast_unsigned();
    let seal = Seal(u32::from(index) << 16 | u32::from(next_offset)).with(next_target);
    let (kind, [a, b, c]) = match step.action {
        Action::Ramp { to_mc, rate_mk_per_min } => {
            (1, [to_mc.cast_unsigned(), rate_mk_per_min, 0])
        }
        Action::Soak { duration_ms, band_mk, band_timeout_ms } => {
            (2, [duration_ms, band_mk, band_timeout_ms])
        }
        Action::Cool { below_mc } => (3, [below_mc.cast_unsigned(), 0, 0]),
        Action::MoveClosure { open, dwell_ms } => (4, [u32::from(open), dwell_ms, 0]),
        Action::Hold { timeout_ms, continue_on_timeout } => {
            (5, [timeout_ms, u32::from(continue_on_timeout), 0])
        }
    };
    let seal = seal.with(kind | (step.after_cut as u32) << 8).with(a).with(b).with(c);
    let seal = match step.vacuum {
        Some(stage) => {
            seal.with(stage.from_mc.cast_unsigned()).with(stage.to_pa).with(stage.within_ms)
        }
        None => seal,
    };
    seal.0
}

/// The checksum of the setpoint, of the way back to one after a power cut, and of the commands to the lift
/// or door.
pub(super) fn of_setpoint(
    setpoint: Option<&Setpoint>,
    returning: Option<[u32; 2]>,
    open: bool,
    shutting: bool,
) -> u32 {
    let commands = u32::from(open) | u32::from(shutting) << 1;
    let mut seal = Seal(commands);
    if let Some([to, rate]) = returning {
        seal = Seal(commands | 4).with(to).with(rate);
    }
    match setpoint {
        Some(setpoint) => {
            let [celsius, rate, rounding, rest] = setpoint.bits();
            seal.with(celsius).with(rate).with(rounding).with(rest).0
        }
        None => !seal.0,
    }
}

#[cfg(test)]
mod tests {
    use super::of_setpoint;
    use crate::demand::Setpoint;

    /// None has the checksum of another, so none turns into another unseen.
    #[test]
    fn every_state_of_the_setpoint_has_its_own_checksum() {
        let [zero, at_rest, higher] = [0.0, 800.0, 800.5].map(Setpoint::steady);
        let mut seen = [0; 48];
        let mut places = seen.iter_mut();
        for setpoint in [None, Some(&zero), Some(&at_rest), Some(&higher)] {
            for returning in [None, Some([800_000, 30_000]), Some([800_001, 30_000])] {
                for (open, shutting) in
                    [(false, false), (false, true), (true, false), (true, true)]
                {
                    *places.next().unwrap() = of_setpoint(setpoint, returning, open, shutting);
                }
            }
        }
        seen.sort_unstable();
        assert!(seen.windows(2).all(|pair| pair[0] != pair[1]), "{seen:x?}");
    }
}
