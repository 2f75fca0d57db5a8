//! The temperature of every node of a furnace and its work.

use serde::{Deserialize, Serialize};

/// Layers of the insulation.
pub(super) const INSULATION: usize = 6;

/// Layers of the piece's wall.
pub(super) const PIECE: usize = 4;

/// The temperature of every node (°C), except for the ambient, which the furnace's data state.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NodeTemperatures {
    /// The heating element.
    #[serde(rename = "element_celsius")]
    pub element_c: f64,
    /// The insulation from hot face to cold face.
    #[serde(rename = "insulation_celsius")]
    pub insulation_c: [f64; INSULATION],
    /// The muffle.
    #[serde(rename = "muffle_celsius")]
    pub muffle_c: f64,
    /// The gas in the muffle.
    #[serde(rename = "gas_celsius")]
    pub gas_c: f64,
    /// The tip of the control thermocouple.
    #[serde(rename = "control_sensor_celsius")]
    pub control_sensor_c: f64,
    /// The tip of the limit thermocouple.
    #[serde(rename = "limit_sensor_celsius")]
    pub limit_sensor_c: f64,
    /// The table.
    #[serde(rename = "table_celsius")]
    pub table_c: f64,
    /// The pins.
    #[serde(rename = "pin_celsius")]
    pub pin_c: f64,
    /// The wall of the piece from outside to inside.
    #[serde(rename = "piece_celsius")]
    pub piece_c: [f64; PIECE],
}

impl NodeTemperatures {
    /// Everything at one temperature (°C).
    pub const fn even(celsius: f64) -> Self {
        Self {
            element_c: celsius,
            insulation_c: [celsius; INSULATION],
            muffle_c: celsius,
            gas_c: celsius,
            control_sensor_c: celsius,
            limit_sensor_c: celsius,
            table_c: celsius,
            pin_c: celsius,
            piece_c: [celsius; PIECE],
        }
    }

    /// The same furnace with a piece of this temperature (°C) in it.
    pub const fn with_piece_at(self, celsius: f64) -> Self {
        Self { piece_c: [celsius; PIECE], ..self }
    }

    /// Every temperature (°C).
    pub fn all(&self) -> impl Iterator<Item = f64> {
        let Self { element_c, muffle_c, gas_c, control_sensor_c, limit_sensor_c, .. } = *self;
        [element_c, muffle_c, gas_c, control_sensor_c, limit_sensor_c, self.table_c, self.pin_c]
            .into_iter()
            .chain(self.insulation_c)
            .chain(self.piece_c)
    }
}
