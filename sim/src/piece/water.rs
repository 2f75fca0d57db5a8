//! Drying: the free water of the coat and of the pores, how fast it goes, and whether it boils.
//!
//! A saturated coat that boils is lifted off the body, so the piece must dry below the boiling
//! point at the pressure of the chamber. While the surface is wet, a gas film limits the rate
//! (Stefan flow: the rate grows with the logarithm of what the film still holds back). Below
//! [`CRITICAL_SHARE`] the surface dries and the rate falls with the water that is left; the
//! pores open and steam may also flow out through them. Vapour in the chamber is that of room
//! air, thinned with the pressure; vapour that the piece itself gave off is not counted.

/// Critical temperature of water (K), IAPWS.
const CRITICAL_K: f64 = 647.096;
/// Critical pressure of water (Pa), IAPWS.
const CRITICAL_PA: f64 = 22.064e6;
/// Coefficients of the saturation line: Wagner and Pruss, J. Phys. Chem. Ref. Data 22 (1993)
/// 783, the IAPWS supplementary release on saturation properties.
const LINE: [f64; 6] =
    [-7.859_517_83, 1.844_082_59, -11.786_649_7, 22.680_741_1, -15.961_871_9, 1.801_225_02];
/// Gas constant of water vapour (J/(kg K)): 8.314463 / 0.018015.
const VAPOUR_J_KG_K: f64 = 461.52;
/// Specific heat of liquid water (J/(kg K)), value from memory.
const WATER_J_KG_K: f64 = 4186.0;

/// Mass transfer of the gas film (kg/(m² s) for a unit logarithm). To calibrate; the start
/// value is 10 W/(m² K) of free convection over air's specific heat, times the ratio of molar
/// masses.
const FILM_KG_M2_S: f64 = 6.0e-3;
/// The film never holds back less than this share of the pressure: it bounds the logarithm.
const FILM_FLOOR: f64 = 0.01;
/// Vapour pressure of the room's air (Pa): half saturated at 20 °C.
const ROOM_VAPOUR_PA: f64 = 1170.0;
/// Water left, as a share, below which the surface is no longer wet. To calibrate.
const CRITICAL_SHARE: f64 = 0.3;
/// Steam through open pores (kg/(m² s Pa)). To calibrate; the start value is Darcy flow through
/// 0.6 mm of 5 µm powder, Kozeny-Carman permeability 7e-14 m².
const STEAM_KG_M2_S_PA: f64 = 5.0e-6;
/// How far the vapour pressure may stand above the chamber's before the coat lifts (Pa). To
/// calibrate.
pub const LIFT_PA: f64 = 2000.0;
/// Water left, as a share of what there was, at which the piece counts as dry.
pub const DRY_SHARE: f64 = 0.01;
/// Pressure of the room (Pa).
const ROOM_PA: f64 = 101_325.0;

/// Pressure of saturated water vapour (Pa) at `t_c` (°C). Below 0.01 °C the value there, above
/// the critical point the critical pressure.
pub fn saturation_pa(t_c: f64) -> f64 {
    let t = t_c.max(0.01) + 273.15;
    let x = 1.0 - t / CRITICAL_K;
    if x <= 0.0 {
        return CRITICAL_PA;
    }
    let root = x.sqrt();
    let [a, b, c, d, e, f] = LINE;
    let (x2, x3) = (x * x, x * x * x);
    let whole = a * x + c * x3 + e * x2 * x2;
    let halves = root * (b * x + d * x3 + f * x3 * x3 * x);
    CRITICAL_PA * libm::exp((whole + halves) * CRITICAL_K / t)
}

/// Heat of evaporation (J/kg): a line through the values at 25 and 100 °C (2441.68 and
/// 2256.40 kJ/kg, IAPWS-95), 0.1 % low at 60 °C.
pub fn evaporation_j_kg(t_c: f64) -> f64 {
    (2.441_68e6 - 2470.4 * (t_c - 25.0)).max(1.5e6)
}

/// That the coat boiled: when, and how hard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Boil {
    /// When it began (s).
    pub at_s: f64,
    /// The hottest layer then (°C).
    pub at_c: f64,
    /// Vapour pressure above the chamber's then (Pa).
    pub over_pa: f64,
    /// Water left then, as a share of what there was.
    pub water_left: f64,
}

/// What the piece meets in one step, as far as its water goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Weather {
    pub(super) mean_c: f64,
    pub(super) hottest_c: f64,
    pub(super) pressure_pa: f64,
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
    /// What leaves now (kg/(m² s)).
    rate: f64,
    /// Temperature at which it leaves (°C).
    rate_c: f64,
    /// Mean temperature at the step before (°C).
    last_c: Option<f64>,
    dry_at_s: Option<f64>,
    boil: Option<Boil>,
}

impl Water {
    /// `kg` of water in pieces that dry over `area_m2` and whose dry bodies hold
    /// `body_j_k` of heat a kelvin.
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
            boil: None,
        }
    }

    /// Water left as a share of what there was; 0 for a piece that began dry.
    pub fn share(&self) -> f64 {
        if self.initial > 0.0 { self.left / self.initial } else { 0.0 }
    }

    /// Whether there was water at the start.
    pub fn began_wet(&self) -> bool {
        self.initial > 0.0
    }

    /// When less than [`DRY_SHARE`] was left (s).
    pub fn dry_at_s(&self) -> Option<f64> {
        self.dry_at_s
    }

    /// That it boiled while it was wet.
    pub fn boil(&self) -> Option<Boil> {
        self.boil
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
        self.vapour_kg_s() * VAPOUR_J_KG_K * (self.rate_c + 273.15)
    }

    /// One step of `dt_s`.
    pub(super) fn step(&mut self, dt_s: f64, w: &Weather) {
        if self.left <= 0.0 {
            self.rate = 0.0;
            return;
        }
        let pressure = w.pressure_pa.max(1.0);
        let share = self.share();
        let vapour = saturation_pa(w.mean_c);
        if self.boil.is_none() && share > DRY_SHARE {
            let over = hottest_vapour(vapour, w, pressure + LIFT_PA) - pressure;
            if over > LIFT_PA {
                let boil =
                    Boil { at_s: w.at_s, at_c: w.hottest_c, over_pa: over, water_left: share };
                self.boil = Some(boil);
            }
        }
        let (rate, slope) = flux(vapour, pressure, share, w.mean_c);
        let latent = evaporation_j_kg(w.mean_c);
        let heat_capacity = self.body_j_m2_k + self.left * WATER_J_KG_K;
        // Linearly implicit. Heat warms the piece within the step, which hastens the vapour, and
        // vapour cools it, which slows the vapour; without both, rate and temperature would swing
        // about each other near the boiling point. What the heat alone would add is taken from
        // the step before.
        let seen = self.last_c.map_or(0.0, |last_c| w.mean_c - last_c);
        let heated = (seen + self.rate * latent * dt_s / heat_capacity).max(0.0);
        let rate = (rate + slope * heated) / (1.0 + slope * latent * dt_s / heat_capacity);
        self.last_c = Some(w.mean_c);
        let gone = (rate * dt_s).min(self.left);
        self.rate = if dt_s > 0.0 { gone / dt_s } else { 0.0 };
        self.rate_c = w.mean_c;
        self.left -= gone;
        if self.dry_at_s.is_none() && self.share() < DRY_SHARE {
            self.dry_at_s = Some(w.at_s);
        }
    }
}

/// Vapour pressure at the hottest layer, or a bound of it if that stays below `limit`: layers
/// differ by little, so the second evaluation is seldom needed.
fn hottest_vapour(vapour: f64, w: &Weather, limit: f64) -> f64 {
    // Vapour pressure grows by 7.3 % a kelvin at 0 °C, and by less above.
    let growth = (w.hottest_c - w.mean_c) / 13.0;
    // exp(x) <= 1 + 2 x for x from 0 to 1.
    let bound = vapour * (1.0 + 2.0 * growth);
    if growth < 1.0 && bound <= limit { bound } else { saturation_pa(w.hottest_c) }
}

/// Rate of drying (kg/(m² s)) and its slope over temperature, at a share of water left.
fn flux(vapour: f64, pressure: f64, share: f64, t_c: f64) -> (f64, f64) {
    let kelvin = t_c + 273.15;
    // Clausius and Clapeyron.
    let steepness = vapour * evaporation_j_kg(t_c) / (VAPOUR_J_KG_K * kelvin * kelvin);
    let wet = (share / CRITICAL_SHARE).min(1.0);
    let far = pressure * (1.0 - ROOM_VAPOUR_PA / ROOM_PA);
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
    use super::*;

    fn wet() -> Water {
        // 5 cm² of 0.5 mm body under a 0.6 mm coat.
        Water::new(1.45e-4, 5.0e-4, 0.9)
    }

    fn at(t_c: f64, pressure_pa: f64, at_s: f64) -> Weather {
        Weather { mean_c: t_c, hottest_c: t_c, pressure_pa, at_s }
    }

    /// A piece under a constant heat flux, cooled by its own vapour as the chamber would do it.
    fn heated(flux_w_m2: f64, seconds: u32) -> (Water, f64) {
        let (mut water, mut t) = (wet(), 20.0);
        for s in 0..seconds {
            water.step(1.0, &at(t, ROOM_PA, f64::from(s)));
            let heat = flux_w_m2 * 5.0e-4 - water.heat_taken_w();
            t += heat / (0.9 + water.left * 5.0e-4 * WATER_J_KG_K);
        }
        (water, t)
    }

    #[test]
    fn gentle_heat_dries_in_minutes_without_boiling() {
        let (water, _) = heated(3000.0, 600);
        assert_eq!(water.boil(), None);
        let dry = water.dry_at_s().unwrap();
        assert!((180.0..600.0).contains(&dry), "{dry}");
        // A second before it, more than the share was left.
        assert!(heated(3000.0, dry as u32).0.share() >= DRY_SHARE);
        assert!(heated(3000.0, dry as u32 + 1).0.share() < DRY_SHARE);
    }

    #[test]
    fn fierce_heat_boils_the_coat() {
        let (water, _) = heated(90_000.0, 60);
        let boil = water.boil().unwrap();
        assert!(boil.at_c > 100.0 && boil.water_left > 0.3, "{boil:?}");
    }

    #[test]
    fn the_rate_falls_with_the_water_below_the_critical_share() {
        let rate = |share| flux(20_000.0, ROOM_PA, share, 60.0).0;
        assert!((rate(0.9) / rate(0.3) - 1.0).abs() < 1e-12);
        assert!((rate(0.3) / rate(0.1) - 3.0).abs() < 1e-9);
    }

    #[test]
    fn open_pores_let_steam_out() {
        let rate = |over: f64, share| flux(ROOM_PA + over, ROOM_PA, share, 100.0).0;
        // Two thirds of the pores are open at a tenth of the water, none at half of it.
        let steam = rate(1000.0, 0.1) - rate(0.0, 0.1);
        assert!((steam - STEAM_KG_M2_S_PA * 1000.0 * 2.0 / 3.0).abs() < 1e-9, "{steam}");
        assert!((rate(1000.0, 0.5) - rate(0.0, 0.5)).abs() < 1e-12);
    }

    #[test]
    fn the_hottest_layer_decides_about_boiling() {
        let boils = |hottest_c: f64| {
            let mut water = wet();
            let weather = Weather { mean_c: 97.0, hottest_c, pressure_pa: ROOM_PA, at_s: 0.0 };
            water.step(1.0, &weather);
            water.boil().is_some()
        };
        // 99.5 °C is below the boiling point, 101 °C is 3.8 kPa above it.
        assert!(!boils(99.5) && boils(101.0));
    }

    /// Heats a coat by `flux_w_m2` until its surface dries, and returns its hottest moment.
    fn steady(mut water: Water, body_j_k: f64, flux_w_m2: f64) -> f64 {
        let (mut t, mut hottest, mut seconds) = (20.0, 0.0_f64, 0.0);
        while water.share() > CRITICAL_SHARE {
            water.step(1.0, &at(t, ROOM_PA, seconds));
            t += (flux_w_m2 * 5.0e-4 - water.heat_taken_w())
                / (body_j_k + water.left * 5.0e-4 * WATER_J_KG_K);
            assert!(t > hottest - 1.5, "{t} after {hottest}");
            (hottest, seconds) = (hottest.max(t), seconds + 1.0);
        }
        assert_eq!(water.boil(), None);
        hottest
    }

    #[test]
    fn vapour_and_temperature_do_not_swing_about_each_other() {
        // 30 kW/m² would warm this coat by 9 K a second; its vapour holds it below boiling.
        assert!((95.0..100.0).contains(&steady(wet(), 0.9, 30_000.0)));
        // So it does where 25 kW/m² would warm a thin one by 30 K a second.
        let thin = Water::new(3.0e-5, 5.0e-4, 0.25);
        assert!((90.0..100.0).contains(&steady(thin, 0.25, 25_000.0)));
    }

    #[test]
    fn pumping_before_dry_boils_at_body_heat() {
        let mut water = wet();
        water.step(1.0, &at(45.0, 101_325.0, 1.0));
        assert_eq!(water.boil(), None);
        water.step(1.0, &at(45.0, 5000.0, 2.0));
        assert_eq!(water.boil().map(|b| b.at_s), Some(2.0));
    }

    #[test]
    fn water_only_leaves_and_never_runs_below_nothing() {
        let (mut water, mut before) = (wet(), f64::INFINITY);
        for s in 0..2000 {
            let t = 20.0 + 0.2 * f64::from(s);
            water.step(1.0, &at(t, ROOM_PA, f64::from(s)));
            assert!(water.left <= before && water.left >= 0.0);
            before = water.left;
        }
        assert!(water.share() < 1e-9 && water.vapour_kg_s() < 1e-15);
    }

    #[test]
    fn a_piece_that_began_dry_has_no_moment_of_drying() {
        let mut water = Water::new(0.0, 1e-4, 1.0);
        water.step(1.0, &at(200.0, ROOM_PA, 0.0));
        assert!(!water.began_wet());
        assert_eq!((water.dry_at_s(), water.boil()), (None, None));
    }
}
