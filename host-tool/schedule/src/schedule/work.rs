//! Converts the work of a schedule to the data of the simulation.

use saggar_plant::piece::coat_height_m;
use saggar_plant::spec::{
    BodySpec, CoatSpec, GlassSpec, ROUGHNESS_MICROMETRE, UncertainValue, WorkSpec,
};
use saggar_verdict::rounding;

use crate::document::{KeyDiagnostics, Section as _};
use crate::keys::schedule::{
    COAT_SD_PERCENT, Coat, POWDER_GRAM, UNEVENNESS_PERCENT, WALL_SD_PERCENT, WATER_GRAM, Work,
};

/// Temperature at which the viscosity of a glass is checked (°C), the highest of these furnaces.
const HOT_C: f64 = 1200.0;

/// Lowest plausible viscosity at that temperature (log10 of Pa s). Value from memory.
const THINNEST_LOG10_PA_S: f64 = -2.0;

/// Density of water at 20 °C (kg/m³); IAPWS.
const WATER_KG_M3: f64 = 998.2;

/// Share of its volume that powder fills when it is poured and shaken: 64 % for equal spheres (random close
/// packing; Scott, Nature 188 (1960) 908, from memory). With less water than the rest it is no slurry.
const PACKED_SHARE: f64 = 0.64;

/// Notes keys of the work that contradict each other.
pub(super) fn check(work: &Work, notes: KeyDiagnostics<'_>) {
    let infiltrated = work.infiltrated == Some(true);
    if notes.locations.has("work.roughness_micrometre") && !infiltrated {
        notes.at_key(
            "work.roughness_micrometre",
            "roughness applies only to work that was infiltrated before",
            "add `infiltrated = true`, or remove the roughness",
        );
    }
    if infiltrated && !notes.locations.has("work.coat") {
        notes.at_key(
            "work.infiltrated",
            "the work was infiltrated before, but the glass is not given",
            "add [work.coat] with the glass and the thickness of the skin that is left",
        );
    }
    let [tie, radius] = ["radius_viscosity_correlation", "pore_radius_nanometre"]
        .map(|key| format!("work.body_values.{key}"));
    if notes.locations.has(&tie) && !notes.locations.has(&radius) {
        notes.at_key(
            &tie,
            "the errors of radius and viscosity are tied only by a fit of your own, and the radius is \
             the library's",
            "give `pore_radius_nanometre`, fitted with this glass, as well; or remove the correlation",
        );
    }
    if let Some((coat, glass)) = work.coat.as_ref().and_then(|coat| Some((coat, glass(coat)?)))
    {
        check_viscosity(&glass, notes);
        check_recipe(coat, glass.density_kg_m3, infiltrated, notes);
    }
    match &work.coat {
        Some(skin) if infiltrated => check_roughness(work, skin, notes),
        Some(coat) => check_rim(work, coat, notes),
        None => {}
    }
}

/// A skin of glass is at least as thick as its roughness is deep.
fn check_roughness(work: &Work, skin: &Coat, notes: KeyDiagnostics<'_>) {
    let Some(thick_mm) = skin.thickness_millimetre else { return };
    let rough_um = work.roughness_micrometre.unwrap_or(ROUGHNESS_MICROMETRE);
    let thick_um = 1e3 * thick_mm;
    if rough_um <= thick_um {
        return;
    }
    let key = "work.roughness_micrometre";
    let place = if notes.locations.has(key) { key } else { "work.coat.thickness_millimetre" };
    notes.at_value(
        place,
        format!(
            "the roughness is {rough_um} µm, and the skin of glass only {thick_um:.0} µm thick: blasting \
             has gone through it"
        ),
        "state the mean thickness of the skin in millimetres, and a roughness in micrometres that is \
         no deeper",
    );
}

/// A coat on porous work begins below the upper edge of the wall.
fn check_rim(work: &Work, coat: &Coat, notes: KeyDiagnostics<'_>) {
    let (Some(area_mm2), Some(rim_mm)) =
        (work.area_square_millimetre, coat.with_defaults().bare_rim_millimetre)
    else {
        return;
    };
    let high_mm = coat_height_m(area_mm2 * 1e-6) * 1e3;
    if rim_mm < high_mm {
        return;
    }
    let key = "work.coat.bare_rim_millimetre";
    let place = if notes.locations.has(key) { key } else { "work.area_square_millimetre" };
    notes.at_value(
        place,
        format!(
            "the bare rim is {rim_mm} mm, and a wall of {area_mm2} mm² is taken as {high_mm:.1} mm high: \
             no coat would be left"
        ),
        format!(
            "state the `bare_rim_millimetre` that the coat leaves at the margin, less than {} mm",
            rounding::down(high_mm, 1)
        ),
    );
}

/// A recipe is powder and water, is for a slurry, and has enough water to flow.
fn check_recipe(coat: &Coat, glass_kg_m3: f64, infiltrated: bool, notes: KeyDiagnostics<'_>) {
    let [powder_key, water_key] = ["work.coat.powder_gram", "work.coat.water_gram"];
    let (powder, water) = (notes.locations.has(powder_key), notes.locations.has(water_key));
    match (powder, water) {
        (false, false) if infiltrated => return,
        _ if infiltrated => {
            return notes.at_key(
                if powder { powder_key } else { water_key },
                "infiltrated work has a skin of plain glass, and a recipe is for a slurry",
                "remove `powder_gram` and `water_gram`",
            );
        }
        (true, false) => {
            return notes.at_key(
                powder_key,
                "the recipe has powder but no water",
                "add `water_gram`, the water on this powder",
            );
        }
        (false, true) => {
            return notes.at_key(
                water_key,
                "the recipe has water but no powder",
                "add `powder_gram`, the powder that this water is for",
            );
        }
        _ => {}
    }
    // The default recipe is too dry only for a powder of low density.
    let place =
        if water { water_key } else { "work.coat.glass_values.kilogram_per_cubic_metre" };
    let powder = coat.powder_gram.unwrap_or(POWDER_GRAM);
    let water = coat.water_gram.unwrap_or(WATER_GRAM);
    let share = glass_share(water / powder, glass_kg_m3);
    if share > PACKED_SHARE {
        let enough = powder * (1.0 / PACKED_SHARE - 1.0) * WATER_KG_M3 / glass_kg_m3;
        let percent = 100.0 * share;
        notes.at_value(
            place,
            format!(
                "the powder would be {percent:.0} % of the volume, and packed grains already fill \
                 {:.0} %: the water does not even fill the gaps between them",
                100.0 * PACKED_SHARE
            ),
            format!(
                "a slurry needs at least {} g of water on {powder} g of powder",
                rounding::up(enough, 2)
            ),
        );
    }
}

/// Three constants, each in its range, can together still give a viscosity below that of any glass.
fn check_viscosity(glass: &GlassSpec, notes: KeyDiagnostics<'_>) {
    let log10_pa_s = glass.vft_a + glass.vft_b_k / (HOT_C - glass.vft_t0_c);
    if log10_pa_s < THINNEST_LOG10_PA_S {
        let keys = ["viscosity_a", "viscosity_b_kelvin", "viscosity_t0_celsius"];
        let path = keys.map(|key| format!("work.coat.glass_values.{key}"));
        notes.at_value(
            path.iter().find(|path| notes.locations.has(path)).unwrap_or(&path[0]),
            format!(
                "this gives the glass a viscosity of 10^{log10_pa_s:.1} Pa s at {HOT_C:.0} °C, \
                 below that of any molten glass"
            ),
            "log10 of the viscosity is a + b / (T - t0), the viscosity in Pa s, the \
             temperatures in °C",
        );
    }
}

impl Work {
    /// The work for the simulation; `None` if a required value is missing.
    pub fn spec(&self) -> Option<WorkSpec> {
        let keys = self.with_defaults();
        let infiltrated = keys.infiltrated?;
        let coat = match &keys.coat {
            Some(coat) => Some(coat_spec(coat, infiltrated)?),
            None => None,
        };
        let (wall, tolerance) = (keys.wall_millimetre?, keys.wall_tolerance_millimetre);
        Some(WorkSpec {
            count: keys.count?,
            purpose: keys.purpose.map(|purpose| purpose.0),
            wall_m: spread(wall, tolerance, WALL_SD_PERCENT),
            wall_within_m: spread(wall, keys.wall_unevenness_millimetre, UNEVENNESS_PERCENT)
                .sd(),
            area_m2: keys.area_square_millimetre? * 1e-6,
            body: body(&keys, infiltrated)?,
            coat,
            lubricant_share: keys.lubricant_percent? * 0.01,
            moisture_share: keys.moisture_percent? * 0.01,
            infiltrated,
            roughness_m: if infiltrated { keys.roughness_micrometre? * 1e-6 } else { 0.0 },
        })
    }
}

/// A thickness in metres. The tolerance is one standard deviation (mm); without one, `percent` of the
/// thickness.
fn spread(millimetre: f64, tolerance: Option<f64>, percent: f64) -> UncertainValue {
    let metre = millimetre * 1e-3;
    match tolerance {
        Some(tolerance) => UncertainValue::absolute(metre, tolerance * 1e-3),
        None => UncertainValue::relative(metre, percent / 100.0),
    }
}

fn coat_spec(keys: &Coat, infiltrated: bool) -> Option<CoatSpec> {
    let keys = &keys.with_defaults();
    let glass = glass(keys)?;
    // Infiltrated work has a skin of plain glass left on it, without water.
    let (glass_share, water_share) = if infiltrated {
        (1.0, 0.0)
    } else {
        let powder = keys.powder_gram.unwrap_or(POWDER_GRAM);
        let water = keys.water_gram.unwrap_or(WATER_GRAM) / powder;
        (glass_share(water, glass.density_kg_m3), water)
    };
    let (thickness, tolerance) =
        (keys.thickness_millimetre?, keys.thickness_tolerance_millimetre);
    Some(CoatSpec {
        thickness_m: spread(thickness, tolerance, COAT_SD_PERCENT),
        bare_rim_m: keys.bare_rim_millimetre? * 1e-3,
        glass_share,
        water_share,
        glass,
    })
}

/// Volume of glass over volume of a slurry without air, from the mass of water over the mass of powder.
fn glass_share(water_share: f64, glass_kg_m3: f64) -> f64 {
    1.0 / (1.0 + water_share * glass_kg_m3 / WATER_KG_M3)
}

/// Replaces the value of a field if the file gives one.
fn override_field(number: Option<f64>, factor: f64, field: &mut f64) {
    if let Some(number) = number {
        *field = number * factor;
    }
}

/// The body, with the values that the file overrides.
fn body(keys: &Work, infiltrated: bool) -> Option<BodySpec> {
    let name = keys.body?.0;
    let mut body = match infiltrated {
        true => BodySpec::named(&format!("{name}-infiltrated"))?,
        false => BodySpec::named(name)?,
    };
    let Some(keys) = &keys.body_values else { return Some(body) };
    override_field(keys.solid_kilogram_per_cubic_metre, 1.0, &mut body.solid_kg_m3);
    override_field(keys.porosity_percent, 0.01, &mut body.porosity);
    override_field(keys.pore_radius_nanometre, 1e-9, &mut body.pore_radius_m.value);
    let mut share = body.pore_radius_m.relative_sd();
    override_field(keys.pore_radius_tolerance_percent, 0.01, &mut share);
    body.pore_radius_m = UncertainValue::relative(body.pore_radius_m.value, share);
    override_field(keys.fitted_at_celsius, 1.0, &mut body.fitted_at_c);
    let correlation = &mut body.radius_viscosity_correlation;
    override_field(keys.radius_viscosity_correlation, 1.0, correlation);
    override_field(keys.tortuosity, 1.0, &mut body.tortuosity);
    override_field(keys.joule_per_kilogram_kelvin, 1.0, &mut body.heat_capacity_j_kg_k);
    override_field(keys.watt_per_metre_kelvin, 1.0, &mut body.k_w_m_k);
    override_field(keys.emissivity, 1.0, &mut body.emissivity);
    override_field(keys.young_gigapascal, 1e9, &mut body.young_pa);
    override_field(keys.poisson, 1.0, &mut body.poisson);
    override_field(keys.expansion_per_million_kelvin, 1e-6, &mut body.expansion_per_k);
    override_field(keys.strength_megapascal, 1e6, &mut body.strength_pa);
    Some(body)
}

/// The glass, with the values that the file overrides.
fn glass(keys: &Coat) -> Option<GlassSpec> {
    let mut glass = GlassSpec::named(keys.glass?.0)?;
    let Some(keys) = &keys.glass_values else { return Some(glass) };
    override_field(keys.viscosity_a, 1.0, &mut glass.vft_a);
    override_field(keys.viscosity_b_kelvin, 1.0, &mut glass.vft_b_k);
    override_field(keys.viscosity_t0_celsius, 1.0, &mut glass.vft_t0_c);
    override_field(keys.viscosity_decades_tolerance, 1.0, &mut glass.log10_sd);
    override_field(keys.activation_error_percent, 0.01, &mut glass.activation_error);
    override_field(keys.transition_celsius, 1.0, &mut glass.transition_c);
    let slowest = &mut glass.slowest_approach_k_min;
    override_field(keys.slowest_approach_kelvin_per_minute, 1.0, slowest);
    override_field(keys.expansion_per_million_kelvin, 1e-6, &mut glass.expansion_per_k);
    override_field(keys.young_gigapascal, 1e9, &mut glass.young_pa);
    override_field(keys.poisson, 1.0, &mut glass.poisson);
    override_field(keys.strength_megapascal, 1e6, &mut glass.strength_pa);
    override_field(keys.millinewton_per_metre, 1e-3, &mut glass.surface_tension_n_m);
    override_field(keys.contact_angle_degree, 1.0, &mut glass.contact_angle_deg);
    override_field(keys.kilogram_per_cubic_metre, 1.0, &mut glass.density_kg_m3);
    Some(glass)
}
