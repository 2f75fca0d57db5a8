//! A furnace before a firing, or as a firing left it: how warm it is, and what else outlasts a firing.

use serde::{Deserialize, Serialize};

use crate::constants::ATMOSPHERE_PA;
use crate::spec::{FurnaceSpec, WorkSpec};
use crate::terminals;
use crate::thermal::{Chamber, NetworkError, NodeTemperatures, PieceThermal, TICK_S};
use crate::vacuum::{ChamberGas, VacuumCommand};

/// Bounds of a credible state: temperatures (°C) and pressure (Pa).
const COLDEST_C: f64 = -50.0;
const HOTTEST_C: f64 = 2_000.0;
const PRESSURE_MAX_PA: f64 = 2.0 * ATMOSPHERE_PA;

/// The state of a furnace between two firings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FurnaceState {
    /// The temperature of every node.
    pub temperatures: NodeTemperatures,
    /// Temperature of the controller's terminals (°C).
    #[serde(rename = "terminals_celsius")]
    pub terminals_c: f64,
    /// Pressure in the chamber (Pa).
    #[serde(rename = "pressure_pascal")]
    pub pressure_pa: f64,
    /// How far the lift or door is open, 0 to 1.
    pub opening: f64,
}

impl FurnaceState {
    /// A furnace that stands evenly warm (°C), shut and with air in it. At the ambient temperature it is
    /// cold.
    pub fn evenly_warm(furnace: &FurnaceSpec, celsius: f64) -> Self {
        Self {
            temperatures: NodeTemperatures::even(celsius),
            terminals_c: terminals::beside_even_furnace_c(furnace.ambient_c, celsius),
            pressure_pa: ATMOSPHERE_PA,
            opening: 0.0,
        }
    }

    /// Whether every value is one that a furnace can have. NaN is not.
    pub fn is_credible(&self) -> bool {
        let credible = |celsius: f64| (COLDEST_C..=HOTTEST_C).contains(&celsius);
        self.temperatures.all().all(credible)
            && credible(self.terminals_c)
            && (0.0..=PRESSURE_MAX_PA).contains(&self.pressure_pa)
            && (0.0..=1.0).contains(&self.opening)
    }

    /// The state after a pause (s) without heat, the valves shut and the lift or door as it was left. What
    /// was fired last stays in the chamber; its mass is that of `work`.
    ///
    /// # Errors
    /// The furnace and the work do not form a valid thermal network.
    pub fn after_pause(
        &self,
        furnace: &FurnaceSpec,
        work: &WorkSpec,
        pause_s: f64,
    ) -> Result<Self, NetworkError> {
        let piece = PieceThermal::of(work);
        let mut chamber = Chamber::starting_at(furnace, &piece, &self.temperatures)?;
        let mut gas = ChamberGas::new(&furnace.chamber, furnace.pump.as_ref());
        gas.set_pressure(self.pressure_pa);
        let mut terminals_c = self.terminals_c;
        for _ in 0..(pause_s / TICK_S).round() as u64 {
            gas.step(VacuumCommand::default(), self.opening, 0.0);
            chamber.step(0.0, gas.pressure_pa(), self.opening);
            terminals_c = terminals::warmed_c(terminals_c, furnace.ambient_c, TICK_S);
        }
        let temperatures = chamber.node_temperatures();
        Ok(Self { temperatures, terminals_c, pressure_pa: gas.pressure_pa(), ..*self })
    }

    /// The same furnace with new work in it, as cold as the ambient (°C). Putting it in lets air into the
    /// chamber and takes no time: the heat that is lost meanwhile is not modelled.
    #[must_use]
    pub fn loaded(&self, ambient_c: f64) -> Self {
        let temperatures = self.temperatures.with_piece_at(ambient_c);
        Self { temperatures, pressure_pa: ATMOSPHERE_PA, ..*self }
    }
}
