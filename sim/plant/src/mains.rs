//! Heater power and current for a number of conducting mains cycles.

use crate::spec::{HeaterSpec, MainsSpec};

/// Largest number of cycles in a tick that the core can command.
const CYCLES_MAX: usize = 8;

/// How the contactor follows its coil.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ContactorCondition {
    /// It closes and opens as commanded.
    #[default]
    Working,
    /// Its contacts weld: once closed, it does not open.
    Welded,
    /// It is open and does not close.
    Dead,
}

impl ContactorCondition {
    /// Whether it is closed under this command.
    pub const fn is_closed(self, commanded: bool, was_closed: bool) -> bool {
        match self {
            Self::Working => commanded,
            Self::Welded => commanded || was_closed,
            Self::Dead => false,
        }
    }
}

/// The state of the parts of the heater's circuit. The default is a healthy one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CircuitCondition {
    /// The contactor.
    pub contactor: ContactorCondition,
    /// Share of the mains' half-waves that the output stage conducts while it is on.
    pub on_share: f64,
    /// The same while it is off.
    pub off_share: f64,
    /// Power of the element as a share of its rated power: its resistance is higher by the inverse.
    pub element_share: f64,
    /// Voltage of the mains as a share of what they have without the fault.
    pub mains_share: f64,
}

impl Default for CircuitCondition {
    fn default() -> Self {
        let contactor = ContactorCondition::Working;
        Self { contactor, on_share: 1.0, off_share: 0.0, element_share: 1.0, mains_share: 1.0 }
    }
}

/// The heater on its mains supply. The element is an ohmic resistance that does not change with
/// temperature; that of iron-chromium-aluminium alloys hardly changes (common practice, no source).
#[derive(Clone, Debug)]
pub struct HeaterCircuit {
    watt: [f64; CYCLES_MAX + 1],
    milliampere: [u32; CYCLES_MAX + 1],
    /// Mains cycles in a tick.
    cycles: f64,
    /// Power (W) and current (A rms) while every cycle conducts.
    full_watt: f64,
    full_ampere: f64,
}

impl HeaterCircuit {
    /// A circuit of this heater on this supply.
    pub fn new(heater: &HeaterSpec, mains: &MainsSpec) -> Self {
        let cycles = f64::from(mains.hz) / 10.0;
        let volt = mains.actual_v / mains.nominal_v;
        let watt = heater.rated_w * volt * volt;
        let ampere = heater.rated_w / mains.nominal_v * volt;
        let share = |count: usize| (count as f64 / cycles).min(1.0);
        Self {
            watt: std::array::from_fn(|count| watt * share(count)),
            milliampere: std::array::from_fn(|count| {
                (ampere * share(count).sqrt() * 1000.0) as u32
            }),
            cycles,
            full_watt: watt,
            full_ampere: ampere,
        }
    }

    /// Mean power (W) and current (mA rms) over a tick in which this many cycles conduct, in a healthy
    /// circuit with the contactor closed.
    pub fn conduct(&self, cycles: u32) -> (f64, u32) {
        let index = (cycles as usize).min(CYCLES_MAX);
        let watt = self.watt.get(index).copied().unwrap_or(0.0);
        (watt, self.milliampere.get(index).copied().unwrap_or(0))
    }

    /// The same in a circuit with this condition, for the cycles that are commanded.
    pub fn conduct_in(&self, condition: &CircuitCondition, cycles: u32) -> (f64, u32) {
        let on = (f64::from(cycles) / self.cycles).min(1.0);
        let share = on * condition.on_share + (1.0 - on) * condition.off_share;
        let volt = condition.mains_share;
        let watt = self.full_watt * condition.element_share * volt * volt * share;
        let ampere = self.full_ampere * condition.element_share * volt * share.sqrt();
        (watt, (ampere * 1000.0) as u32)
    }
}

#[cfg(test)]
mod tests {
    use super::{CircuitCondition, ContactorCondition, HeaterCircuit};
    use crate::thermal::tests::demo::small_lift_furnace;

    fn circuit() -> HeaterCircuit {
        let furnace = small_lift_furnace();
        HeaterCircuit::new(&furnace.heater, &furnace.mains)
    }

    /// 1,200 W at 230 V are 5,217 mA.
    const FULL: (f64, u32) = (1_200.0, 5_217);

    #[test]
    fn a_healthy_condition_changes_nothing() {
        for cycles in 0..=8 {
            let (watt, current_ma) = circuit().conduct(cycles);
            let (same_watt, same_ma) =
                circuit().conduct_in(&CircuitCondition::default(), cycles);
            assert!((watt - same_watt).abs() < 1e-9 && current_ma.abs_diff(same_ma) <= 1);
        }
        assert_eq!(circuit().conduct(5), FULL);
    }

    #[test]
    fn each_part_changes_power_and_current_by_its_own_law() {
        let healthy = CircuitCondition::default();
        let root_half = (600.0, 3_689);
        for (condition, off, on) in [
            (CircuitCondition { on_share: 0.5, ..healthy }, (0.0, 0), root_half),
            (CircuitCondition { off_share: 0.5, ..healthy }, root_half, FULL),
            (CircuitCondition { off_share: 1.0, ..healthy }, FULL, FULL),
            (CircuitCondition { element_share: 0.75, ..healthy }, (0.0, 0), (900.0, 3_913)),
            (CircuitCondition { element_share: 0.0, ..healthy }, (0.0, 0), (0.0, 0)),
            (CircuitCondition { mains_share: 0.5, ..healthy }, (0.0, 0), (300.0, 2_608)),
        ] {
            assert_eq!(circuit().conduct_in(&condition, 0), off, "{condition:?}");
            assert_eq!(circuit().conduct_in(&condition, 5), on, "{condition:?}");
        }
    }

    #[test]
    fn a_welded_contactor_closes_once_and_a_dead_one_never() {
        use ContactorCondition::{Dead, Welded, Working};
        for (condition, commanded, was_closed, closed) in [
            (Working, true, false, true),
            (Working, false, true, false),
            (Welded, false, false, false),
            (Welded, true, false, true),
            (Welded, false, true, true),
            (Dead, true, true, false),
        ] {
            assert_eq!(condition.is_closed(commanded, was_closed), closed, "{condition:?}");
        }
    }
}
