//! Drying: the free water in the coat and the pores, its drying rate, and whether bubbles in it lift
//! the coat.
//!
//! While the surface is wet, a gas film limits the rate (Stefan flow: the rate grows with the
//! logarithm of the ratio of the air's partial pressures far from the surface and at it). Below
//! [`CRITICAL_SHARE`] the surface is no longer wet and the rate falls with the water that is left;
//! the pores open, and steam may also flow out through them. Far from the piece the gas is that of
//! the chamber, with all its vapour.
//!
//! Gas bubbles lift a wet coat. A brushed slurry holds small bubbles of air; the air
//! shares the chamber's pressure with the vapour of the water around it, so a bubble grows as
//! the pressure falls and as the water warms, without limit at the boiling point. Boiling is not
//! required: evaporation cools a coat under a pump, so it may stay below its boiling point while its
//! bubbles grow to dozens of times their size.

use super::vapour::{TRIPLE_C, VAPOUR_J_KG_K, evaporation_j_kg, saturation_pa, steepness_pa_k};
use crate::constants::{ATMOSPHERE_PA, KELVIN};

/// Specific heat of liquid water (J/(kg K)), value from memory.
const WATER_J_KG_K: f64 = 4186.0;

/// Mass transfer of the gas film (kg/(m² s) for a unit logarithm). To calibrate; the start
/// value is 10 W/(m² K) of free convection over air's specific heat, times the ratio of molar
/// masses.
const FILM_KG_M2_S: f64 = 6.0e-3;
/// Minimum partial pressure of air at the surface, as a share of the pressure; bounds the logarithm.
const FILM_FLOOR: f64 = 0.01;
/// Maximum share of vapour in the chamber that the film uses; bounds the logarithm too.
const FAR_MAX: f64 = 0.9;
/// Share of the water left below which the surface is no longer wet. To calibrate.
const CRITICAL_SHARE: f64 = 0.3;
/// Steam through open pores (kg/(m² s Pa)). To calibrate; the start value is Darcy flow through
/// 0.6 mm of 5 µm powder, Kozeny-Carman permeability 7e-14 m².
const STEAM_KG_M2_S_PA: f64 = 5.0e-6;
/// Pressure of the air in a bubble (Pa) over its temperature (K) when the coat was brushed on:
/// one atmosphere at 20 °C, less the vapour.
const BRUSHED_PA_K: f64 = (ATMOSPHERE_PA - 2339.3) / 293.15;
/// Growth of a bubble's volume at which the coat lifts. To calibrate; a factor of ten is reached at 96 °C
/// in air, and at 122 hPa under a pump at 20 °C.
pub const GROWTH_MAX: f64 = 10.0;
/// Growth that counts as boiling; larger values are limited to this.
pub const GROWTH_BOILING: f64 = 1000.0;
/// Share of the water left below which the coat no longer holds bubbles, because its pores are open. To
/// calibrate.
pub const OPEN_SHARE: f64 = 0.03;
/// Share of the water left at which the piece counts as dry.
pub const DRY_SHARE: f64 = 0.01;

/// The size of a bubble in the wet coat, and the conditions at that moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bubble {
    /// Its volume relative to the volume when the coat was brushed on; at most [`GROWTH_BOILING`].
    pub growth: f64,
    /// Time (s).
    pub at_s: f64,
    /// Temperature of the hottest layer (°C).
    pub at_c: f64,
    /// Pressure of the chamber (Pa).
    pub pressure_pa: f64,
    /// Share of the water left at that moment.
    pub water_left: f64,
}

/// Growth of a bubble of air in water of this temperature (°C) and vapour pressure (Pa).
fn growth(t_c: f64, vapour_pa: f64, pressure_pa: f64) -> f64 {
    let most = BRUSHED_PA_K * (t_c + KELVIN);
    let air_pa = pressure_pa - vapour_pa;
    if air_pa * GROWTH_BOILING > most { most / air_pa } else { GROWTH_BOILING }
}

/// Temperature (°C) at which bubbles in a wet coat have grown enough to lift it, at a pressure (Pa).
pub fn lift_temperature_c(pressure_pa: f64) -> f64 {
    let (mut below, mut above) = (TRIPLE_C, 200.0);
    for _ in 0..60 {
        let middle = 0.5 * (below + above);
        if growth(middle, saturation_pa(middle), pressure_pa) > GROWTH_MAX {
            above = middle;
        } else {
            below = middle;
        }
    }
    below
}

/// The conditions that decide drying in one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct DryingConditions {
    pub(super) mean_c: f64,
    pub(super) hottest_c: f64,
    pub(super) pressure_pa: f64,
    /// Share of vapour in the chamber's gas.
    pub(super) vapour_share: f64,
    pub(super) at_s: f64,
}

/// The free water of all pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Water {
    /// Area that dries (m²), all pieces.
    area_m2: f64,
    /// Water at the start (kg/m²).
    initial: f64,
    /// Water left (kg/m²).
    left: f64,
    /// Heat capacity of the dry body behind that area (J/(m² K)).
    body_j_m2_k: f64,
    /// Drying rate now (kg/(m² s)).
    rate: f64,
    /// Temperature of the leaving vapour (°C).
    rate_c: f64,
    /// Mean temperature at the step before (°C).
    last_c: Option<f64>,
    dry_at_s: Option<f64>,
    largest: Option<Bubble>,
    lifted: Option<Bubble>,
}

impl Water {
    /// `kg` of water in pieces that dry over `area_m2`, with a heat capacity of the dry bodies of
    /// `body_j_k` (J/K).
    pub fn new(kg: f64, area_m2: f64, body_j_k: f64) -> Self {
        let area = area_m2.max(1e-12);
        Self {
            area_m2: area,
            initial: kg / area,
            left: kg / area,
            body_j_m2_k: body_j_k / area,
            rate: 0.0,
            rate_c: 20.0,
            last_c: None,
            dry_at_s: None,
            largest: None,
            lifted: None,
        }
    }

    /// Share of the water left; 0 for a piece that was dry at the start.
    pub fn share_left(&self) -> f64 {
        if self.initial > 0.0 { self.left / self.initial } else { 0.0 }
    }

    /// How wet the surface is, from 1 to 0: it dries below [`CRITICAL_SHARE`].
    pub fn wetness(&self) -> f64 {
        (self.share_left() / CRITICAL_SHARE).min(1.0)
    }

    /// Heat capacity of the water left in all pieces (J/K).
    pub fn heat_capacity_j_k(&self) -> f64 {
        self.left * self.area_m2 * WATER_J_KG_K
    }

    /// Whether there was water at the start.
    pub fn was_wet(&self) -> bool {
        self.initial > 0.0
    }

    /// When less than [`DRY_SHARE`] was left (s).
    pub fn dry_at_s(&self) -> Option<f64> {
        self.dry_at_s
    }

    /// The first bubble large enough to lift the coat.
    pub fn first_lift(&self) -> Option<Bubble> {
        self.lifted
    }

    /// The largest bubble in the wet coat.
    pub fn largest_bubble(&self) -> Option<Bubble> {
        self.largest
    }

    /// Water vapour that leaves all pieces now (kg/s).
    pub fn vapour_kg_s(&self) -> f64 {
        self.rate * self.area_m2
    }

    /// Heat that the vapour takes from all pieces now (W). The chamber must take it out of the
    /// outer layer: a wet piece stays near its wet-bulb temperature only by this.
    pub fn heat_taken_w(&self) -> f64 {
        self.vapour_kg_s() * evaporation_j_kg(self.rate_c)
    }

    /// Gas that the vapour brings into the chamber (Pa m³/s), at the temperature of the piece.
    pub fn load_pa_m3_s(&self) -> f64 {
        self.vapour_kg_s() * VAPOUR_J_KG_K * (self.rate_c + KELVIN)
    }

    /// One step of `dt_s`.
    pub(super) fn step(&mut self, dt_s: f64, w: &DryingConditions) {
        if self.left <= 0.0 {
            self.rate = 0.0;
            return;
        }
        let pressure_pa = w.pressure_pa.max(1.0);
        let share = self.share_left();
        let vapour = saturation_pa(w.mean_c);
        self.bubble(vapour, w, share);
        let gas = ChamberGasMix { pressure_pa, vapour_share: w.vapour_share };
        let (rate, slope) = flux(vapour, gas, share, w.mean_c);
        let latent = evaporation_j_kg(w.mean_c);
        let heat_capacity = self.body_j_m2_k + self.left * WATER_J_KG_K;
        // Linearly implicit. Within the step, heat warms the piece and speeds up evaporation, and
        // evaporation cools it and slows itself down. Without both effects, rate and temperature would
        // oscillate near the boiling point. The effect of heat alone is taken from the previous step.
        let seen = self.last_c.map_or(0.0, |last_c| w.mean_c - last_c);
        let heated = (seen + self.rate * latent * dt_s / heat_capacity).max(0.0);
        let rate = (rate + slope * heated) / (1.0 + slope * latent * dt_s / heat_capacity);
        self.last_c = Some(w.mean_c);
        let gone = (rate * dt_s).min(self.left);
        self.rate = if dt_s > 0.0 { gone / dt_s } else { 0.0 };
        self.rate_c = w.mean_c;
        self.left -= gone;
        if self.dry_at_s.is_none() && self.share_left() < DRY_SHARE {
            self.dry_at_s = Some(w.at_s);
        }
    }

    /// Records the bubble size. A frozen coat cannot be lifted.
    fn bubble(&mut self, vapour: f64, w: &DryingConditions, share: f64) {
        if share <= OPEN_SHARE || w.hottest_c <= TRIPLE_C {
            return;
        }
        let vapour = if w.hottest_c > w.mean_c { saturation_pa(w.hottest_c) } else { vapour };
        let growth = growth(w.hottest_c, vapour, w.pressure_pa.max(1.0));
        if self.largest.is_some_and(|largest| growth <= largest.growth) {
            return;
        }
        let bubble = Bubble {
            growth,
            at_s: w.at_s,
            at_c: w.hottest_c,
            pressure_pa: w.pressure_pa,
            water_left: share,
        };
        self.largest = Some(bubble);
        if self.lifted.is_none() && growth > GROWTH_MAX {
            self.lifted = Some(bubble);
        }
    }
}

/// The gas of the chamber.
#[derive(Clone, Copy, Debug, PartialEq)]
struct ChamberGasMix {
    pressure_pa: f64,
    vapour_share: f64,
}

/// Rate of drying (kg/(m² s)) and its derivative by temperature, at this share of water left.
fn flux(vapour: f64, gas: ChamberGasMix, share: f64, t_c: f64) -> (f64, f64) {
    let pressure = gas.pressure_pa;
    let steepness = steepness_pa_k(vapour, t_c);
    let wet = (share / CRITICAL_SHARE).min(1.0);
    let far = pressure * (1.0 - gas.vapour_share.clamp(0.0, FAR_MAX));
    let held_back = pressure - vapour;
    let floor = FILM_FLOOR * pressure;
    let film = FILM_KG_M2_S * wet * libm::log(far / held_back.max(floor));
    let film_slope =
        if held_back > floor { FILM_KG_M2_S * wet * steepness / held_back } else { 0.0 };
    let (steam, steam_slope) = if held_back < 0.0 {
        let open = STEAM_KG_M2_S_PA * (1.0 - wet);
        (-open * held_back, open * steepness)
    } else {
        (0.0, 0.0)
    };
    ((film + steam).max(0.0), film_slope + steam_slope)
}

#[cfg(test)]
mod tests {
    use super::super::vapour::AMBIENT_VAPOUR_SHARE;
    use super::*;

    const AIR: ChamberGasMix =
        ChamberGasMix { pressure_pa: ATMOSPHERE_PA, vapour_share: AMBIENT_VAPOUR_SHARE };

    fn wet() -> Water {
        // 5 cm² of 0.5 mm body under a 0.6 mm coat.
        Water::new(1.45e-4, 5.0e-4, 0.9)
    }

    fn at(t_c: f64, pressure_pa: f64, at_s: f64) -> DryingConditions {
        DryingConditions {
            mean_c: t_c,
            hottest_c: t_c,
            pressure_pa,
            vapour_share: AMBIENT_VAPOUR_SHARE,
            at_s,
        }
    }

    /// A piece under a constant heat flux; evaporation cools it as in the chamber.
    fn heated(flux_w_m2: f64, seconds: u32) -> (Water, f64) {
        let (mut water, mut t) = (wet(), 20.0);
        for s in 0..seconds {
            water.step(1.0, &at(t, ATMOSPHERE_PA, f64::from(s)));
            let heat = flux_w_m2 * 5.0e-4 - water.heat_taken_w();
            t += heat / (0.9 + water.left * 5.0e-4 * WATER_J_KG_K);
        }
        (water, t)
    }

    #[test]
    fn gentle_heat_dries_in_minutes_without_boiling() {
        let (water, _) = heated(3000.0, 600);
        assert_eq!(water.first_lift(), None);
        let dry = water.dry_at_s().unwrap();
        assert!((180.0..600.0).contains(&dry), "{dry}");
        // One second earlier, more than that share was left.
        assert!(heated(3000.0, dry as u32).0.share_left() >= DRY_SHARE);
        assert!(heated(3000.0, dry as u32 + 1).0.share_left() < DRY_SHARE);
    }

    #[test]
    fn fierce_heat_boils_the_coat() {
        let (water, _) = heated(90_000.0, 60);
        let first = water.first_lift().unwrap();
        assert!(first.at_c > 96.0 && first.water_left > 0.3, "{first:?}");
        let largest = water.largest_bubble().unwrap();
        assert!(largest.at_c > 99.9 && largest.growth >= GROWTH_BOILING, "{largest:?}");
    }

    #[test]
    fn the_rate_falls_with_the_water_below_the_critical_share() {
        let rate = |share| flux(20_000.0, AIR, share, 60.0).0;
        assert!((rate(0.9) / rate(0.3) - 1.0).abs() < 1e-12);
        assert!((rate(0.3) / rate(0.1) - 3.0).abs() < 1e-9);
    }

    #[test]
    fn open_pores_let_steam_out() {
        let rate = |over: f64, share| flux(ATMOSPHERE_PA + over, AIR, share, 100.0).0;
        // Two thirds of the pores are open at a tenth of the water, none at half of it.
        let steam = rate(1000.0, 0.1) - rate(0.0, 0.1);
        assert!((steam - STEAM_KG_M2_S_PA * 1000.0 * 2.0 / 3.0).abs() < 1e-9, "{steam}");
        assert!((rate(1000.0, 0.5) - rate(0.0, 0.5)).abs() < 1e-12);
    }

    #[test]
    fn the_hottest_layer_decides_about_boiling() {
        let boils = |hottest_c: f64| {
            let mut water = wet();
            let weather = DryingConditions { hottest_c, ..at(90.0, ATMOSPHERE_PA, 0.0) };
            water.step(1.0, &weather);
            water.first_lift().is_some()
        };
        // Bubbles grow tenfold at 96 °C.
        let lifts_c = lift_temperature_c(ATMOSPHERE_PA);
        assert!((95.5..96.5).contains(&lifts_c), "{lifts_c}");
        assert!(!boils(lifts_c - 1e-6) && boils(lifts_c + 1e-6));
    }

    /// Heats a coat by `flux_w_m2` until its surface dries, and returns its maximum temperature.
    fn steady(mut water: Water, body_j_k: f64, flux_w_m2: f64) -> f64 {
        let (mut t, mut hottest, mut seconds) = (20.0, 0.0_f64, 0.0);
        while water.share_left() > CRITICAL_SHARE {
            water.step(1.0, &at(t, ATMOSPHERE_PA, seconds));
            t += (flux_w_m2 * 5.0e-4 - water.heat_taken_w())
                / (body_j_k + water.left * 5.0e-4 * WATER_J_KG_K);
            assert!(t > hottest - 1.5, "{t} after {hottest}");
            (hottest, seconds) = (hottest.max(t), seconds + 1.0);
        }
        hottest
    }

    #[test]
    fn vapour_and_temperature_do_not_oscillate() {
        // 30 kW/m² would warm this coat by 9 K a second; its vapour holds it below boiling.
        assert!((95.0..100.0).contains(&steady(wet(), 0.9, 30_000.0)));
        // The same holds for a thin coat that 25 kW/m² would warm by 30 K per second.
        let thin = Water::new(3.0e-5, 5.0e-4, 0.25);
        assert!((90.0..100.0).contains(&steady(thin, 0.25, 25_000.0)));
    }

    #[test]
    fn pumping_lifts_a_wet_coat_at_a_low_temperature() {
        let mut water = wet();
        water.step(1.0, &at(45.0, 101_325.0, 1.0));
        assert_eq!(water.first_lift(), None);
        water.step(1.0, &at(45.0, 5000.0, 2.0));
        assert_eq!(water.first_lift().map(|bubble| bubble.at_s), Some(2.0));
    }

    #[test]
    fn open_pores_and_ice_hold_no_bubbles() {
        let pumped = |share: f64, t_c: f64| {
            let mut water = wet();
            water.left *= share;
            water.step(1.0, &at(t_c, 3000.0, 1.0));
            water.first_lift().is_some()
        };
        assert!(pumped(1.1 * OPEN_SHARE, 45.0) && pumped(1.0, 1.0));
        assert!(!pumped(0.9 * OPEN_SHARE, 45.0) && !pumped(1.0, -1.0));
    }

    #[test]
    fn vapour_in_the_chamber_slows_drying_and_nothing_condenses() {
        let rate =
            |vapour_share| flux(20_000.0, ChamberGasMix { vapour_share, ..AIR }, 1.0, 60.0).0;
        assert!(rate(0.1) < rate(0.01) && rate(0.19) < 0.1 * rate(0.01));
        assert!(rate(0.2).abs() < 1e-12 && rate(1.0).abs() < 1e-12);
    }

    #[test]
    fn water_only_decreases_and_never_gets_negative() {
        let (mut water, mut before) = (wet(), f64::INFINITY);
        for s in 0..2000 {
            let t = 20.0 + 0.2 * f64::from(s);
            water.step(1.0, &at(t, ATMOSPHERE_PA, f64::from(s)));
            assert!(water.left <= before && water.left >= 0.0);
            before = water.left;
        }
        assert!(water.share_left() < 1e-9 && water.vapour_kg_s() < 1e-15);
    }

    #[test]
    fn a_piece_that_was_dry_from_the_start_has_no_drying_time() {
        let mut water = Water::new(0.0, 1e-4, 1.0);
        water.step(1.0, &at(200.0, ATMOSPHERE_PA, 0.0));
        assert!(!water.was_wet());
        assert_eq!((water.dry_at_s(), water.first_lift()), (None, None));
    }
}
