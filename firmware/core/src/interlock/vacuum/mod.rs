//! The watch on gauge, pump and valves.

mod gauge;
mod isolation;
mod pump_down;
mod venting;

use serde::Serialize;

use super::cause::Cause;
use super::inputs::InterlockInputs;
use super::second::{Check, Second};
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
        second: &Second,
    ) -> Option<Cause> {
        furnace.vacuum.as_ref()?;
        let alone = inputs.applied.pump && !inputs.applied.isolation_valve;
        if self.isolation.update(alone, inputs.raw.pressure_pa) {
            return Some(Cause::IsolationStuck);
        }
        let checked = if second.is_due(Check::Vacuum) { self.check(inputs) } else { None };
        if inputs.vacuum_lost { checked.or(Some(Cause::VacuumLost)) } else { checked }
    }

    /// The checks, once a second. Not inlined, so that the ticks between carry nothing of them.
    #[inline(never)]
    fn check(&mut self, inputs: &InterlockInputs<'_>) -> Option<Cause> {
        let pressure_pa = inputs.raw.pressure_pa;
        let firing = inputs.demand.firing;
        let gauge = self.gauge.update(firing.then_some(inputs.demand), pressure_pa);
        let pump_down = self.pump_down.update(inputs);
        let venting = self.venting.update(firing && inputs.applied.vent_valve, pressure_pa);
        if gauge || venting { Some(Cause::GaugeImplausible) } else { pump_down }
    }
}
