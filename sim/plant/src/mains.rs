//! Heater power and current for a number of conducting mains cycles.

use crate::spec::{HeaterSpec, MainsSpec};

/// Largest number of cycles in a tick that the core can command.
const CYCLES_MAX: usize = 8;

/// The heater on its mains supply. The element is an ohmic resistance that does not change with
/// temperature; that of iron-chromium-aluminium alloys hardly changes (common practice, no source).
#[derive(Clone, Debug)]
pub struct HeaterCircuit {
    watt: [f64; CYCLES_MAX + 1],
    milliampere: [u32; CYCLES_MAX + 1],
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
        }
    }

    /// Mean power (W) and current (mA rms) over a tick in which this many cycles conduct.
    pub fn conduct(&self, cycles: u32) -> (f64, u32) {
        let index = (cycles as usize).min(CYCLES_MAX);
        let watt = self.watt.get(index).copied().unwrap_or(0.0);
        (watt, self.milliampere.get(index).copied().unwrap_or(0))
    }
}
