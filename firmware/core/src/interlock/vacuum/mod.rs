//! The watch on gauge, pump and valves.

mod gauge;
mod isolation;
mod pump_down;
mod venting;

use serde::Serialize;

use super::cause::Cause;
use super::inputs::InterlockInputs;
use crate::furnace::Furnace;
use gauge::GaugeWatch;
use isolation::IsolationWatch;
use pump_down::PumpDownWatch;
use venting::VentingWatch;

/// State of the vacuum watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct VacuumWatch {
    isolation: IsolationWatch,
    pump_down: PumpDownWatch,
    venting: VentingWatch,
    gauge: GaugeWatch,
}

impl VacuumWatch {
    /// Updates the watch with one tick and returns the cause that is present. Without a firing only a
    /// stuck isolation valve is one: a gauge may be unplugged at rest.
    pub(super) fn update(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
    ) -> Option<Cause> {
        furnace.vacuum.as_ref()?;
        let (applied, pressure_pa) = (inputs.applied, inputs.raw.pressure_pa);
        let firing = inputs.demand.firing;
        let alone = applied.pump && !applied.isolation_valve;
        let isolation = self.isolation.update(alone, pressure_pa);
        let gauge = self.gauge.update(firing.then_some(inputs.demand), pressure_pa);
        let pump_down = self.pump_down.update(inputs);
        let venting = self.venting.update(firing && applied.vent_valve, pressure_pa);
        if isolation {
            Some(Cause::IsolationStuck)
        } else if gauge || venting {
            Some(Cause::GaugeImplausible)
        } else if inputs.vacuum_lost {
            Some(Cause::VacuumLost)
        } else {
            pump_down
        }
    }
}
