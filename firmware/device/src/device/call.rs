//! The pattern in which lamp and buzzer call the operator outside a firing.

use saggar_core::io::Outputs;

/// Of so many ticks the lamp is lit for the first few and the buzzer sounds for the first few, unlike the
/// steady sound of a hold or a trip.
pub(super) struct CallPattern {
    pub(super) period_ticks: u32,
    pub(super) lamp_ticks: u32,
    pub(super) buzzer_ticks: u32,
}

impl CallPattern {
    /// Adds the call to the outputs of a tick.
    pub(super) fn add(&self, outputs: Outputs, tick: u32) -> Outputs {
        let phase = tick.checked_rem(self.period_ticks).unwrap_or(0);
        Outputs {
            lamp: outputs.lamp || phase < self.lamp_ticks,
            buzzer: outputs.buzzer || phase < self.buzzer_ticks,
            ..outputs
        }
    }
}
