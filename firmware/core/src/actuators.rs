//! Consumes the heat permit and turns the duty into mains cycles.

use serde::Serialize;

use crate::control::Valves;
use crate::interlock::{HeatPermit, PermitError};
use crate::io::Outputs;

/// One full cycle, in the units of [`BurstFire::carry`].
const FULL: u32 = 1 << 16;

/// The burst-fire output. It switches whole mains cycles only, so that the supply sees no direct
/// current, and spreads them evenly by error feedback, so that the mean duty is exact.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct BurstFire {
    /// Fraction of a cycle carried over to the next one.
    carry: u32,
}

/// The inputs of [`BurstFire::drive`] other than permit and duty.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct OtherOutputs {
    /// Pump and valves.
    pub valves: Valves,
    /// Command lift or door to open.
    pub open_closure: bool,
    /// Close the contactor, unless tripped.
    pub contactor: bool,
    /// A firing is running.
    pub firing: bool,
    /// An operator hold waits for an answer, or something else has been waited for too long.
    pub calls_operator: bool,
}

impl BurstFire {
    /// The outputs of this tick. Without a permit no cycle conducts and the carry is dropped.
    pub fn drive(
        &mut self,
        permit: Result<HeatPermit, PermitError>,
        duty: f32,
        cycles_per_tick: u8,
        other: &OtherOutputs,
    ) -> Outputs {
        let tripped = matches!(permit, Err(PermitError::Tripped(_)));
        let heater_cycles = match permit {
            Ok(permit) => self.cycles(permit, duty, cycles_per_tick),
            Err(_) => {
                self.carry = 0;
                0
            }
        };
        Outputs {
            heater_cycles,
            contactor: other.contactor && !tripped,
            pump: other.valves.pump,
            isolation_valve: other.valves.isolation,
            vent_valve: other.valves.vent,
            open_closure: other.open_closure,
            lamp: other.firing,
            buzzer: other.calls_operator || tripped,
        }
    }

    #[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
    #[expect(clippy::cast_sign_loss, reason = "and takes a NaN to zero")]
    fn cycles(&mut self, _permit: HeatPermit, duty: f32, cycles_per_tick: u8) -> u8 {
        let each = ((duty * FULL as f32) as u32).min(FULL);
        // The carry is below one cycle and `each` at most one, so that their sum does not wrap.
        let mut pattern = 0u8;
        let mut bit = 1u8;
        for _ in 0..cycles_per_tick.min(8) {
            self.carry = self.carry.wrapping_add(each);
            if self.carry >= FULL {
                self.carry = self.carry.wrapping_sub(FULL);
                pattern |= bit;
            }
            bit = bit.rotate_left(1);
        }
        pattern
    }
}
