//! The library of bodies and glasses that a schedule may name. Every value is a starting point for a
//! shop's own calibration; a schedule can override each of them.
//!
//! Known and fitted values:
//!
//! * Densities and heat capacities of the solids are handbook values. Moduli, strengths and
//!   conductivities of presintered bodies are rough values from memory: they depend on the necks
//!   between grains, and vary by a factor of two between kilns.
//! * No viscosity of an infiltration glass at its firing temperature was found in print. The
//!   lanthanum glass is constructed: a high-temperature limit of -2.9 (common for silicate
//!   glasses), 10^12 Pa s at a published glass transition of 635 °C (Liao, Meng, Chao and He, Chin.
//!   J. Dent. Res. 6 (2003) 35; the same figures in West China J. Stomatol. 2002, 7-9), and an
//!   assumed 10^1.5 Pa s at 1100 °C. Its two variants assume 10^1 and 10^2. Assumption, to
//!   calibrate.
//! * The pore radius is effective. It is chosen so that, with that glass, a 0.5 mm wall fills
//!   in 17 min at 1120 °C (alumina), 33 min at 1090 °C (spinel) and 18 min at 1140 °C
//!   (zirconia-toughened), which is our assumption of shop practice. Published
//!   trials are slower or do not state the thickness: depth grows with the square root of time at
//!   1100 °C over 2 h in alumina (Lee et al., J. Korean Ceram. Soc. 39 (2002) 145, citation from
//!   memory) and at 1080 °C over 2 h in spinel (Lee et al., J. Korean Cryst. Growth Cryst. Technol.
//!   12 (2002) 31), and others took 6 h (Wang, Liao, Chao and Liang, Dent. Mater. 23 (2007) 1108,
//!   doi 10.1016/j.dental.2006.06.041; volume and page from memory). Washburn's law with the radius of the pores between 3 µm grains
//!   would be four times faster than the fit; Patro et al., J. Am. Ceram. Soc. 90 (2007) 3040,
//!   found orders of magnitude. Hence the spread of 30 %, and the advice to fit the radius to a cut
//!   and dyed test piece.

use crate::heat_curve::HeatCurve;
use crate::spec::{BodySpec, CoatSpec, GlassSpec, UncertainValue, WorkSpec};

/// Relative spread of a fitted pore radius. To calibrate.
const RADIUS_SD: f64 = 0.30;
/// Tortuosity of a bed of grains: value from memory, 1.4 to 1.6; only radius over its square
/// counts.
const TORTUOSITY: f64 = 1.5;

/// Each has an infiltrated form, `-infiltrated`.
const BODIES: [&str; 3] = ["alumina", "spinel", "zirconia-toughened"];

const GLASSES: [&str; 3] =
    ["lanthanum-glass", "lanthanum-glass-fluid", "lanthanum-glass-stiff"];

impl BodySpec {
    /// A body of the library.
    pub fn named(name: &str) -> Option<Self> {
        match name {
            "alumina" => Some(alumina()),
            "spinel" => Some(spinel()),
            "zirconia-toughened" => Some(zirconia_toughened()),
            "alumina-infiltrated" => Some(infiltrated(alumina(), 450.0e6, 260.0e9, 7.3e-6)),
            "spinel-infiltrated" => Some(infiltrated(spinel(), 317.0e6, 185.0e9, 7.7e-6)),
            "zirconia-toughened-infiltrated" => {
                Some(infiltrated(zirconia_toughened(), 476.0e6, 240.0e9, 7.8e-6))
            }
            _ => None,
        }
    }

    /// The names that [`BodySpec::named`] knows, each with `-infiltrated` behind it as well.
    pub fn names() -> &'static [&'static str] {
        &BODIES
    }
}

impl GlassSpec {
    /// A glass of the library.
    pub fn named(name: &str) -> Option<Self> {
        let (b, t0) = match name {
            "lanthanum-glass" => (2903.3714, 440.1429),
            "lanthanum-glass-fluid" => (2456.4682, 470.1364),
            "lanthanum-glass-stiff" => (3394.9650, 407.1500),
            _ => return None,
        };
        Some(lanthanum(name, b, t0))
    }

    /// The names that [`GlassSpec::named`] knows.
    pub fn names() -> &'static [&'static str] {
        &GLASSES
    }
}

impl WorkSpec {
    /// One coping of alumina with a wet coat of lanthanum glass, for examples and tests: a wall of 0.5 mm
    /// under 0.6 mm of coat, with one per cent of water in the body.
    pub fn coated_coping() -> Self {
        Self {
            count: 1,
            purpose: None,
            wall_within_m: 0.0,
            wall_m: UncertainValue::relative(0.5e-3, 0.1),
            area_m2: 2.0e-4,
            body: alumina(),
            coat: Some(CoatSpec {
                thickness_m: UncertainValue::relative(0.6e-3, 0.15),
                bare_rim_m: 2.0e-3,
                glass_share: 0.5,
                water_share: 0.3,
                glass: lanthanum("lanthanum-glass", 2903.3714, 440.1429),
            }),
            lubricant_share: 0.0,
            moisture_share: 0.01,
            infiltrated: false,
            roughness_m: 0.0,
        }
    }
}

/// Presintered alumina. Porosity: about 27 % and 28 to 38 % in published trials. Density:
/// Munro, J. Am. Ceram. Soc. 80 (1997) 1919 (NIST SRD 150), 3984 kg/m³ at 20 °C. Heat capacity:
/// NIST WebBook Shomate equation, 1225 J/(kg K) at 1000 K. Expansion: mean to 1000 °C, value from memory.
/// Emissivity 0.42 to 0.26 over 500 to 827 °C in handbook tables. Conductivity, modulus and
/// strength: values from memory, to calibrate.
fn alumina() -> BodySpec {
    BodySpec {
        name: "alumina".into(),
        solid_kg_m3: 3984.0,
        porosity: 0.28,
        pore_radius_m: UncertainValue::relative(1.0e-7, RADIUS_SD),
        fitted_at_c: 1120.0,
        radius_viscosity_correlation: 0.0,
        tortuosity: TORTUOSITY,
        heat_capacity_j_kg_k: 1225.0,
        heat_curve: HeatCurve::ALUMINA,
        k_w_m_k: 2.5,
        emissivity: 0.4,
        young_pa: 30.0e9,
        poisson: 0.2,
        expansion_per_k: 8.1e-6,
        strength_pa: 20.0e6,
    }
}

/// Presintered spinel. Density and expansion: values from memory. Heat capacity: NIST WebBook
/// Shomate equation at 1000 K. The rest as for alumina, lower; to calibrate.
fn spinel() -> BodySpec {
    BodySpec {
        name: "spinel".into(),
        solid_kg_m3: 3580.0,
        pore_radius_m: UncertainValue::relative(8.0e-8, RADIUS_SD),
        fitted_at_c: 1090.0,
        heat_capacity_j_kg_k: 1256.0,
        heat_curve: HeatCurve::SPINEL,
        k_w_m_k: 2.0,
        young_pa: 25.0e9,
        expansion_per_k: 8.5e-6,
        strength_pa: 15.0e6,
        ..alumina()
    }
}

/// Presintered alumina with a third of zirconia by volume (value from memory). Density and heat
/// capacity: mixed from 3984 and 6100 kg/m³ and from 1225 and 615 J/(kg K) at 1000 K. The rest
/// to calibrate.
fn zirconia_toughened() -> BodySpec {
    BodySpec {
        name: "zirconia-toughened".into(),
        solid_kg_m3: 4680.0,
        pore_radius_m: UncertainValue::relative(7.0e-8, RADIUS_SD),
        fitted_at_c: 1140.0,
        heat_capacity_j_kg_k: 960.0,
        // 2033 of 4680 kg/m³ are zirconia.
        heat_curve: HeatCurve::ALUMINA.mixed(HeatCurve::ZIRCONIA, 0.434),
        k_w_m_k: 1.8,
        expansion_per_k: 8.6e-6,
        strength_pa: 25.0e6,
        ..alumina()
    }
}

/// The body once the pores are full of lanthanum glass: density by mixing; strength of spinel
/// 317 MPa as published (Lee et al. 2002, above), the others from memory within published
/// ranges (453 MPa for vacuum-infiltrated alumina, Lee and Kim, J. Korean Ceram. Soc. 40 (2003)
/// 301); moduli, expansion and conductivity from memory.
fn infiltrated(raw: BodySpec, strength_pa: f64, young_pa: f64, expansion: f64) -> BodySpec {
    let solid = raw.solid_kg_m3 * (1.0 - raw.porosity) + GLASS_KG_M3 * raw.porosity;
    BodySpec {
        name: format!("{}-infiltrated", raw.name),
        solid_kg_m3: solid,
        porosity: 0.0,
        k_w_m_k: 4.0,
        young_pa,
        poisson: 0.25,
        expansion_per_k: expansion,
        strength_pa,
        ..raw
    }
}

/// Density of a lanthanum aluminosilicate glass, 3.214 g/cm³: Liao et al. 2003, above.
const GLASS_KG_M3: f64 = 3214.0;

/// Relative error limit of the activation energy. The constructed glass has 235 kJ/mol at 1115 °C; a
/// published trial with a mixture of a calcium aluminosilicate and a magnesium borosilicate found
/// 621 kJ/mol for the infiltration as a whole, at 1200 to 1250 °C (Lin and Chang, Key Eng. Mater. 313
/// (2006) 129): the
/// logarithm of their ratio.
const ACTIVATION_ERROR: f64 = 0.97;

/// Slowest approach (K/min). In a published trial 3 K/min infiltrated incompletely, and a preheated
/// furnace completely ("Effect of heat treatment schedules and glass powder particle size on glass
/// infiltration in porous alumina preforms", only the abstract was found); the bound between is ours.
const SLOWEST_APPROACH_K_MIN: f64 = 10.0;

/// A lanthanum glass with its two free viscosity constants. Surface tension: 0.30 to 0.35 N/m
/// is usual for silicate melts (Kucuk, Clare and Jones, Glass Technol. 40 (1999) 149, have no
/// term for lanthanum oxide). Contact angle: 10 to 40°, value from memory. The spread of
/// viscosity is that from batch to batch, since the fit of the radius takes up the rest; to
/// calibrate.
fn lanthanum(name: &str, vft_b_k: f64, vft_t0_c: f64) -> GlassSpec {
    GlassSpec {
        name: name.into(),
        vft_a: -2.9,
        vft_b_k,
        vft_t0_c,
        log10_sd: 0.10,
        activation_error: ACTIVATION_ERROR,
        transition_c: 635.0,
        slowest_approach_k_min: SLOWEST_APPROACH_K_MIN,
        surface_tension_n_m: 0.30,
        contact_angle_deg: 30.0,
        density_kg_m3: GLASS_KG_M3,
        expansion_per_k: 6.997e-6,
        young_pa: 85.0e9,
        poisson: 0.25,
        strength_pa: 96.27e6,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::piece::conductance;

    #[test]
    fn only_the_listed_names_are_known() {
        for name in BodySpec::names() {
            for name in [(*name).to_string(), format!("{name}-infiltrated")] {
                assert_eq!(BodySpec::named(&name).map(|b| b.name), Some(name));
            }
        }
        for name in GlassSpec::names() {
            assert_eq!(GlassSpec::named(name).map(|g| g.name), Some((*name).to_string()));
        }
        assert_eq!(BodySpec::named("clay"), None);
        assert_eq!(GlassSpec::named(""), None);
    }

    #[test]
    fn the_fitted_radii_reproduce_the_times_of_the_fit() {
        let glass = GlassSpec::named("lanthanum-glass").unwrap();
        let minutes = |body: &str, t_c: f64| {
            let k = conductance(&BodySpec::named(body).unwrap(), &glass);
            0.5e-3f64.powi(2) / (k * glass.fluidity(t_c)) / 60.0
        };
        for (body, t_c, expected) in [
            ("alumina", 1120.0, 17.0),
            ("spinel", 1090.0, 33.0),
            ("zirconia-toughened", 1140.0, 18.0),
        ] {
            let found = minutes(body, t_c);
            assert!((found - expected).abs() < 0.7, "{body} {found}");
        }
    }
}
