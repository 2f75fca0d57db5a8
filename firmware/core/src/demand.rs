//! What the sequencer demands in a tick: heat, vacuum, the position of the closure. The interlock sees the
//! demand of the last tick, the control follows that of this one.

use serde::{Deserialize, Serialize};

/// The setpoint that the temperature loop follows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct Setpoint {
    /// Temperature (°C).
    pub celsius: f32,
    /// Its rate (K/s).
    pub rate_k_per_s: f32,
    /// Accumulated rounding error of `celsius` (K). Near 1100 °C single precision resolves 0.12 mK;
    /// without this term a slow ramp would be some per cent too fast, or would not move at all.
    pub(crate) rounding_k: f32,
    /// Where it will come to rest (°C).
    pub rest_c: f32,
}

impl Setpoint {
    /// A setpoint that does not move.
    pub const fn steady(celsius: f32) -> Self {
        Self { celsius, rate_k_per_s: 0.0, rounding_k: 0.0, rest_c: celsius }
    }

    /// True if it does not move.
    pub fn is_steady(self) -> bool {
        self.rate_k_per_s.abs() <= 0.0
    }
}

/// Pressure from which a chamber counts as full of air (Pa): seven tenths of a standard atmosphere, so
/// that neither weather nor altitude keeps it shut.
pub const AIR_PA: u32 = 70_000;

/// What a firing waits for. Links and logs carry the variant's number, so add new variants at the end
/// only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Wait {
    /// The pressure of a vacuum stage.
    Vacuum,
    /// The band of a soak.
    Band,
    /// Air in the chamber, before it opens.
    Air,
    /// The contacts of the lift or door.
    Contacts,
    /// A furnace that is hotter than the ramp leads, or whose reading still rises by itself.
    Cooling,
}

/// What the self-test before the first heat of a firing commands in a tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub enum SelfTestPhase {
    /// The contactor is open.
    ContactorOpen,
    /// The contactor is closed, and no cycle conducts.
    ContactorClosed,
    /// Every cycle conducts.
    FullCycles,
}

/// The sequencer's demand in one tick.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct Demand {
    /// A firing is running.
    pub firing: bool,
    /// The setpoint to follow; `None` demands no heat.
    pub setpoint: Option<Setpoint>,
    /// The pressure to reach and keep (Pa); `None` for atmosphere.
    pub vacuum_pa: Option<u32>,
    /// The vacuum stage has exceeded its time.
    pub vacuum_overdue: bool,
    /// Command lift or door to open.
    pub open_closure: bool,
    /// An operator hold waits for an answer.
    pub operator_hold: bool,
    /// The lift or door has exceeded its time.
    pub closure_overdue: bool,
    /// What the firing waits for.
    pub waiting: Option<Wait>,
    /// The self-test runs. It commands contactor and cycles itself, and a setpoint only demands the permit
    /// for them.
    pub self_test: Option<SelfTestPhase>,
}

impl Demand {
    /// The setpoint that the control follows. The self-test's cycles are not controlled.
    pub fn controlled_setpoint(&self) -> Option<Setpoint> {
        self.setpoint.filter(|_| self.self_test.is_none())
    }

    /// The contactor is to be closed.
    pub const fn closes_contactor(&self) -> bool {
        match self.self_test {
            Some(SelfTestPhase::ContactorOpen) => false,
            Some(SelfTestPhase::ContactorClosed | SelfTestPhase::FullCycles) => true,
            None => self.setpoint.is_some(),
        }
    }
}
