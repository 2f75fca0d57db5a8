//! Station 6: spends the permit and turns a duty into mains cycles.

use serde::Serialize;

use crate::control::Valves;
use crate::interlock::{HeatPermit, PermitError};
use crate::io::Outputs;

/// One full cycle, in the units of the carry.
const FULL: u32 = 1 << 16;

/// Memory of the burst-fire output: the part of a cycle that is still owed.
///
/// Whole cycles only, so that the supply sees no direct current; an error-feedback quantiser
/// spreads them evenly and loses nothing over time.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct BurstFire {
    owed: u32,
}

/// Everything but heat that the outputs show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct OtherOutputs {
    /// Pump and valves.
    pub valves: Valves,
    /// Lift or door open.
    pub open_closure: bool,
    /// The step at hand heats.
    pub heating: bool,
    /// A firing is running.
    pub firing: bool,
    /// The operator is wanted.
    pub operator_hold: bool,
}

impl BurstFire {
    /// The outputs of this tick. Without a permit no cycle conducts and nothing stays owed.
    pub fn drive(
        &mut self,
        permit: Result<HeatPermit, PermitError>,
        duty: f32,
        cycles_per_tick: u8,
        rest: &OtherOutputs,
    ) -> Outputs {
        let tripped = matches!(permit, Err(PermitError::Tripped(_)));
        let heater_cycles = match permit {
            Ok(permit) => self.cycles(permit, duty, cycles_per_tick),
            Err(_) => {
                self.owed = 0;
                0
            }
        };
        Outputs {
            heater_cycles,
            contactor: rest.heating && !tripped,
            pump: rest.valves.pump,
            isolation_valve: rest.valves.isolation,
            vent_valve: rest.valves.vent,
            open_closure: rest.open_closure,
            lamp: rest.firing,
            buzzer: rest.operator_hold || tripped,
        }
    }

    #[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
    #[expect(clippy::cast_sign_loss, reason = "and takes a NaN to zero")]
    fn cycles(&mut self, _permit: HeatPermit, duty: f32, cycles_per_tick: u8) -> u8 {
        let each = ((duty * FULL as f32) as u32).min(FULL);
        // Owed is below one cycle and each at most one, so that their sum does not wrap.
        let mut pattern = 0u8;
        let mut bit = 1u8;
        for _ in 0..cycles_per_tick.min(8) {
            self.owed = self.owed.wrapping_add(each);
            if self.owed >= FULL {
                self.owed = self.owed.wrapping_sub(FULL);
                pattern |= bit;
            }
            bit = bit.rotate_left(1);
        }
        pattern
    }
}
