//! Pressure in the chamber: pump, leak, valves, vapour.
//!
//! Each flow into or out of the chamber drives the pressure towards its own target at its own rate.
//! The sum is one exponential approach within a tick, which is solved exactly. The exponential is
//! computed again only when a command, the opening or the load changes.
//!
//! The share of water vapour depends only on the flows into the chamber: the pump removes the mixture
//! as it is, and the gas at its ultimate pressure has the same composition.

use crate::constants::ATMOSPHERE_PA;
use crate::piece::AMBIENT_VAPOUR_SHARE;
use crate::spec::{ChamberSpec, PumpSpec};
use crate::thermal::TICK_S;

/// How fast an open chamber fills with air (1/s per unit of opening); common practice, no
/// source: a lift is not tight, and its first millimetre lets the air in.
const OPEN_RATE: f64 = 40.0;

/// Rate at which ambient air replaces the gas in a chamber that is shut but vented (1/s):
/// once per minute. To calibrate.
const DRAUGHT_RATE: f64 = 1.0 / 60.0;

/// Flow through a pump that stands still, back into the chamber, as a share of the flow that it pumps
/// while it runs. To calibrate.
const BACK_FLOW: f64 = 0.1;

/// Opening below which the seal still holds.
const SEAL: f64 = 0.005;

/// Commands for the pump and the valves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct VacuumCommand {
    /// The pump runs.
    pub pump: bool,
    /// The valve between pump and chamber is open.
    pub isolation_open: bool,
    /// The valve that lets air in is open.
    pub vent_open: bool,
}

/// The positions of the valves without power. The default is both shut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ValvesAtRest {
    /// The valve between pump and chamber is open.
    pub isolation_open: bool,
    /// The valve that lets air in is open.
    pub vent_open: bool,
}

/// The conditions that decide how the pressure changes.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Conditions {
    command: VacuumCommand,
    opening: f64,
    load_pa_m3_s: f64,
    seal_pa_m3_s: f64,
    pump_share: f64,
}

impl Conditions {
    fn pumps(&self) -> bool {
        self.command.pump && self.pump_share > 0.0
    }

    /// Whether air enters through the pump line.
    fn sucks_back(&self) -> bool {
        self.command.isolation_open && !self.pumps()
    }
}

/// The gas in the chamber.
#[derive(Clone, Debug)]
pub struct ChamberGas {
    volume_m3: f64,
    pump: Option<PumpSpec>,
    pressure_pa: f64,
    vapour_share: f64,
    /// Leak of a broken seal into a vacuum (Pa m³/s).
    seal_pa_m3_s: f64,
    /// Speed of the pump as a share of its specified one.
    pump_share: f64,
    conditions: Option<Conditions>,
    /// The pressure after a tick is `pressure · keep + add`.
    keep: f64,
    add: f64,
}

impl ChamberGas {
    /// A chamber at atmospheric pressure. Without a pump it stays at ambient pressure.
    pub fn new(chamber: &ChamberSpec, pump: Option<&PumpSpec>) -> Self {
        Self {
            volume_m3: chamber.volume_m3,
            pump: pump.cloned(),
            pressure_pa: ATMOSPHERE_PA,
            vapour_share: AMBIENT_VAPOUR_SHARE,
            seal_pa_m3_s: 0.0,
            pump_share: 1.0,
            conditions: None,
            keep: 1.0,
            add: 0.0,
        }
    }

    /// The pressure (Pa).
    pub fn pressure_pa(&self) -> f64 {
        self.pressure_pa
    }

    /// Share of water vapour in the gas.
    pub fn vapour_share(&self) -> f64 {
        self.vapour_share
    }

    /// Mixes the inflow of `dt_s` into the gas, under the conditions of the last tick: `vapour_pa_m3_s` of
    /// the load was vapour, the rest of it air.
    pub fn mix(&mut self, dt_s: f64, vapour_pa_m3_s: f64) {
        let Some(conditions) = self.conditions else { return };
        let gas = (conditions.load_pa_m3_s - vapour_pa_m3_s).max(0.0);
        let air = gas + self.air_pa_m3_s(&conditions);
        let all = air + vapour_pa_m3_s;
        if all <= 0.0 || self.pressure_pa <= 0.0 {
            return;
        }
        let target = (vapour_pa_m3_s + air * AMBIENT_VAPOUR_SHARE) / all;
        let rate = all / (self.pressure_pa * self.volume_m3);
        self.vapour_share -= (target - self.vapour_share) * libm::expm1(-rate * dt_s);
    }

    /// Air that enters from outside (Pa m³/s).
    fn air_pa_m3_s(&self, conditions: &Conditions) -> f64 {
        let missing = (ATMOSPHERE_PA - self.pressure_pa).max(0.0);
        let draught = self.pressure_pa * DRAUGHT_RATE;
        let Some(pump) = &self.pump else {
            let open = OPEN_RATE * conditions.opening * ATMOSPHERE_PA;
            return self.volume_m3 * (draught + open);
        };
        let leak = pump.leak_pa_m3_s + conditions.seal_pa_m3_s;
        let mut air = leak * missing / ATMOSPHERE_PA;
        if conditions.sucks_back() {
            air += BACK_FLOW * pump.speed_m3_s * missing;
        }
        if conditions.command.vent_open {
            air += self.volume_m3 * (missing / pump.vent_s + draught);
        }
        if conditions.opening > SEAL {
            air += self.volume_m3 * OPEN_RATE * conditions.opening * ATMOSPHERE_PA;
        }
        air
    }

    /// Sets the pressure (Pa).
    pub fn set_pressure(&mut self, pressure_pa: f64) {
        self.pressure_pa = pressure_pa;
    }

    /// Sets the leak of a broken seal (Pa m³/s), in addition to the chamber's own. Both are stated for a
    /// vacuum in the chamber.
    pub fn set_seal_leak(&mut self, leak_pa_m3_s: f64) {
        self.seal_pa_m3_s = leak_pa_m3_s;
    }

    /// Sets the speed of the pump as a share of its specified one; at 0 it stands still.
    pub fn set_pump_share(&mut self, share: f64) {
        self.pump_share = share;
    }

    /// Advances one tick and returns the pressure (Pa). The load is vapour and gas that the
    /// work and the walls give off (Pa m³/s).
    pub fn step(&mut self, command: VacuumCommand, opening: f64, load_pa_m3_s: f64) -> f64 {
        let Self { seal_pa_m3_s, pump_share, .. } = *self;
        let conditions =
            Conditions { command, opening, load_pa_m3_s, seal_pa_m3_s, pump_share };
        if self.conditions != Some(conditions) {
            self.conditions = Some(conditions);
            (self.keep, self.add) = self.factors(&conditions);
        }
        self.pressure_pa = self.pressure_pa * self.keep + self.add;
        self.pressure_pa
    }

    /// The factor on the pressure and the addition (Pa) of one tick.
    fn factors(&self, conditions: &Conditions) -> (f64, f64) {
        let command = conditions.command;
        let mut rate = 0.0;
        let mut source = conditions.load_pa_m3_s / self.volume_m3;
        match &self.pump {
            None => {
                rate += OPEN_RATE;
                source += OPEN_RATE * ATMOSPHERE_PA;
            }
            Some(pump) => {
                // A leak is stated for a vacuum in the chamber and is zero at ambient pressure.
                let leak = (pump.leak_pa_m3_s + conditions.seal_pa_m3_s) / self.volume_m3;
                rate += leak / ATMOSPHERE_PA;
                source += leak;
                let pumped = pump.speed_m3_s / self.volume_m3;
                if conditions.pumps() && command.isolation_open {
                    rate += pumped * conditions.pump_share;
                    source += pumped * conditions.pump_share * pump.ultimate_pa;
                }
                if conditions.sucks_back() {
                    rate += BACK_FLOW * pumped;
                    source += BACK_FLOW * pumped * ATMOSPHERE_PA;
                }
                if command.vent_open {
                    rate += 1.0 / pump.vent_s;
                    source += ATMOSPHERE_PA / pump.vent_s;
                }
                if conditions.opening > SEAL {
                    rate += OPEN_RATE * conditions.opening;
                    source += OPEN_RATE * conditions.opening * ATMOSPHERE_PA;
                }
            }
        }
        let gone = -libm::expm1(-rate * TICK_S);
        let add = if rate > 0.0 { source / rate * gone } else { source * TICK_S };
        (1.0 - gone, add)
    }
}
