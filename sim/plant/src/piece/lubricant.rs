//! Burn-off of the milling lubricant, which is like glycerol.
//!
//! The lubricant is split into oil, tar and char, as shares of the initial amount. The oil evaporates
//! in any gas and leaves tar. Tar burns in oxygen, and hardens into char without it. Char burns more
//! slowly and at a higher temperature. Below [`OXYGEN_PA`] nothing burns: a cleaning fire must run in
//! air. Each reaction is first order with an Arrhenius rate.

use crate::constants::KELVIN;

/// Below this chamber pressure (Pa) there is too little oxygen to burn anything. To calibrate.
pub const OXYGEN_PA: f64 = 20_000.0;
/// Share of the initial amount below which the piece counts as burnt off.
pub const CLEAN_SHARE: f64 = 1.0e-3;
/// Share of the oil that becomes tar, in air and without oxygen. To calibrate.
const TAR_AIR: f64 = 0.05;
const TAR_STARVED: f64 = 0.15;
/// Time step for predicting the burn-off of a longer soak (s).
const LOOK_AHEAD_S: f64 = 10.0;
/// Gas constant (J/(mol K)), CODATA.
const GAS_J_MOL_K: f64 = 8.314_463;

/// An Arrhenius rate that is `per_s` at `at_c`.
struct Arrhenius {
    per_s: f64,
    at_c: f64,
    j_mol: f64,
}

/// The oil. Activation energy from glycerol's vapour pressure at 150 and 200 °C (571.5 and
/// 5829 Pa, VDI Heat Atlas correlation) by Clausius and Clapeyron; the rate is to calibrate.
const OIL: Arrhenius = Arrhenius { per_s: 1.0 / 60.0, at_c: 200.0, j_mol: 77.3e3 };
/// The tar: half gone in a minute at 550 °C. To calibrate.
const TAR: Arrhenius = Arrhenius { per_s: 0.011_55, at_c: 550.0, j_mol: 140.0e3 };
/// The char: half gone in five minutes at 800 °C. To calibrate.
const CHAR: Arrhenius = Arrhenius { per_s: 0.002_31, at_c: 800.0, j_mol: 170.0e3 };

impl Arrhenius {
    fn rate(&self, kelvin: f64) -> f64 {
        let from = 1.0 / (self.at_c + KELVIN);
        self.per_s * libm::exp(self.j_mol / GAS_J_MOL_K * (from - 1.0 / kelvin))
    }
}

/// Share left after `x` mean lifetimes: the [0/2] Padé form of `exp(-x)`. It never
/// turns negative or grows, and is within `x³/6` of the exponential.
fn left_after(x: f64) -> f64 {
    1.0 / (1.0 + x + 0.5 * x * x)
}

/// The lubricant, as shares of the initial amount.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lubricant {
    oil: f64,
    tar: f64,
    char: f64,
    began: bool,
    clean_at_s: Option<f64>,
}

impl Lubricant {
    /// A body with or without lubricant.
    pub fn new(present: bool) -> Self {
        let oil = if present { 1.0 } else { 0.0 };
        Self { oil, tar: 0.0, char: 0.0, began: present, clean_at_s: None }
    }

    /// Whether there was lubricant at the start.
    pub fn was_present(&self) -> bool {
        self.began
    }

    /// Remaining oil, tar and char, as a share of the initial amount.
    pub fn share_left(&self) -> f64 {
        self.oil + self.tar + self.char
    }

    /// Remaining char, which forms for lack of oxygen, as a share.
    pub fn char_share(&self) -> f64 {
        self.char
    }

    /// When less than [`CLEAN_SHARE`] was left (s).
    pub fn clean_at_s(&self) -> Option<f64> {
        self.clean_at_s
    }

    /// Whether the piece would count as burnt off after this extra time at `c` (°C) in air.
    pub fn clean_after(&self, seconds: f64, c: f64) -> bool {
        let mut later = Self { clean_at_s: None, ..*self };
        let mut left_s = seconds;
        while left_s > 0.0 && later.share_left() >= CLEAN_SHARE {
            // Longer steps leave more, not less: see `left_after`.
            later.step(left_s.min(LOOK_AHEAD_S), c, OXYGEN_PA, 0.0);
            left_s -= LOOK_AHEAD_S;
        }
        later.share_left() < CLEAN_SHARE
    }

    /// The share of a time at `from_c` that has the same effect at `to_c` (°C), for the reaction that gains
    /// least from the higher temperature.
    pub fn equivalent_share(from_c: f64, to_c: f64) -> f64 {
        let share = |store: &Arrhenius| store.rate(from_c + KELVIN) / store.rate(to_c + KELVIN);
        share(&OIL).max(share(&TAR)).max(share(&CHAR))
    }

    /// One step of `dt_s` at `mean_c` that ends at `at_s`.
    pub(super) fn step(&mut self, dt_s: f64, mean_c: f64, pressure_pa: f64, at_s: f64) {
        if !self.began || (self.clean_at_s.is_some() && self.share_left() < 1e-9) {
            return;
        }
        let kelvin = mean_c + KELVIN;
        let oxygen = pressure_pa >= OXYGEN_PA;
        let oil_kept = left_after(OIL.rate(kelvin) * dt_s);
        let tar_kept = left_after(TAR.rate(kelvin) * dt_s);
        let tar_yield = if oxygen { TAR_AIR } else { TAR_STARVED };
        let new_tar = self.oil * (1.0 - oil_kept) * tar_yield;
        self.oil *= oil_kept;
        if oxygen {
            self.char *= left_after(CHAR.rate(kelvin) * dt_s);
        } else {
            self.char += self.tar * (1.0 - tar_kept);
        }
        self.tar = self.tar * tar_kept + new_tar;
        if self.clean_at_s.is_none() && self.share_left() < CLEAN_SHARE {
            self.clean_at_s = Some(at_s);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn held(t_c: f64, pressure_pa: f64, seconds: u32) -> Lubricant {
        let mut lubricant = Lubricant::new(true);
        for s in 0..seconds {
            lubricant.step(1.0, t_c, pressure_pa, f64::from(s));
        }
        lubricant
    }

    #[test]
    fn oil_follows_the_first_order_law() {
        // At 150 °C the rate is 1/60 s times the ratio of vapour pressures, 571.5 / 5829.
        let oil = held(150.0, 101_325.0, 300).oil;
        let law = f64::exp(-300.0 / 60.0 * 571.5 / 5829.0);
        assert!((oil / law - 1.0).abs() < 0.01, "{oil} {law}");
    }

    #[test]
    fn a_cleaning_fire_in_air_cleans_and_one_in_vacuum_chars() {
        let air = held(950.0, 101_325.0, 900);
        assert!(air.clean_at_s().is_some() && air.char_share() < CLEAN_SHARE);
        let vacuum = held(950.0, 5000.0, 900);
        assert_eq!(vacuum.clean_at_s(), None);
        assert!((vacuum.char_share() - TAR_STARVED).abs() < 1e-3, "{}", vacuum.char_share());
    }

    #[test]
    fn char_burns_by_half_in_five_minutes_at_800_and_hardly_at_500() {
        let kept = |t_c: f64| {
            let mut lubricant = held(950.0, 5000.0, 900);
            let before = lubricant.char_share();
            (0..300).for_each(|_| lubricant.step(1.0, t_c, 101_325.0, 0.0));
            lubricant.char_share() / before
        };
        assert!((kept(800.0) - 0.5).abs() < 1e-3, "{}", kept(800.0));
        assert!(kept(500.0) > 0.99);
    }

    proptest! {
        #[test]
        fn what_is_left_never_grows(
            steps in prop::collection::vec((0.0f64..1200.0, 100.0f64..101_325.0), 1..200)
        ) {
            let mut lubricant = Lubricant::new(true);
            let mut before = lubricant.share_left();
            for (t, p) in steps {
                lubricant.step(1.0, t, p, 0.0);
                prop_assert!(lubricant.share_left() <= before + 1e-15);
                let Lubricant { oil, tar, char, .. } = lubricant;
                prop_assert!(oil >= 0.0 && tar >= 0.0 && char >= 0.0);
                before = lubricant.share_left();
            }
        }
    }
}
