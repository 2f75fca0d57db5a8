//! The work that a schedule fires: `[work]` and what is under it.

use saggar_plant::spec::{BodySpec, COAT_MAX_MM, CoatSpec, GlassSpec, Spread, WorkSpec};

use crate::document::Table;

/// Spread of a wall whose tolerance is not given, relative. Common practice, no source.
const WALL_SD: f64 = 0.10;

/// Spread of a brushed coat whose tolerance is not given, relative. Common practice, no source.
const COAT_SD: f64 = 0.15;

/// Bodies that a schedule names; each has an infiltrated form in the library.
const BODIES: [&str; 3] = ["alumina", "spinel", "zirconia-toughened"];

/// Roughness that blasting leaves when the file does not say (µm). Value from memory.
const ROUGHNESS_MICROMETRE: f64 = 8.0;

/// Volume of glass over volume of a slurry coat when the file does not say (%). To calibrate.
const GLASS_SHARE_PERCENT: f64 = 55.0;

/// Mass of water over mass of glass in a slurry when the file does not say (%). To calibrate.
const WATER_PERCENT: f64 = 30.0;

/// Where the viscosity of a glass is looked at (°C): as hot as these furnaces get.
const HOT_C: f64 = 1200.0;

/// No glass melt is thinner there (log10 of Pa s). Value from memory.
const THINNEST_LOG10_PA_S: f64 = -2.0;

pub(super) fn read(table: Table<'_>) -> Option<WorkSpec> {
    let infiltrated = table.flag_or("infiltrated", false);
    let body = body(&table, infiltrated);
    let count = table.whole_or("count", 1..=20, 1);
    let wall = table.number("wall_millimetre", 0.1..=5.0);
    let wall = spread(&table, "wall_tolerance_millimetre", wall, WALL_SD);
    let area = table.number("area_square_millimetre", 1.0..=10_000.0);
    // The pin is the only support that the simulation knows, so there is nothing to keep.
    let _ = table.choice_if("support", &[("pin", ())]);
    let moisture = table.number_or("moisture_percent", 0.0..=30.0, 0.0);
    let lubricant = table.number_or("lubricant_percent", 0.0..=20.0, 0.0);
    let roughness = table.number_if("roughness_micrometre", 0.0..=500.0);
    if table.has("roughness_micrometre") && !infiltrated {
        table.note_at(
            &table.key_span("roughness_micrometre"),
            "roughness counts only for work that was infiltrated before",
            "add `infiltrated = true`, or take the roughness away",
        );
    }
    let coat = table.table_if("coat").and_then(|coat| read_coat(coat, infiltrated));
    if infiltrated && !table.has("coat") {
        table.note_at(
            &table.key_span("infiltrated"),
            "the work was infiltrated before, but nothing says with which glass",
            "add [work.coat] with the glass and the thickness of the skin that is left",
        );
    }
    table.finish();
    Some(WorkSpec {
        count,
        wall_m: wall?,
        area_m2: area? * 1e-6,
        body: body?,
        coat,
        lubricant_share: lubricant * 0.01,
        moisture_share: moisture * 0.01,
        infiltrated,
        roughness_m: if infiltrated {
            roughness.unwrap_or(ROUGHNESS_MICROMETRE) * 1e-6
        } else {
            0.0
        },
    })
}

/// A thickness (m) of so many millimetres. Its tolerance is one standard deviation in millimetres,
/// or this share of it where the file gives none.
fn spread(
    table: &Table<'_>,
    key: &'static str,
    millimetre: Option<f64>,
    share: f64,
) -> Option<Spread> {
    let tolerance = table.number_if(key, 0.0..=millimetre.unwrap_or(f64::INFINITY).min(5.0));
    let metre = millimetre? * 1e-3;
    Some(match tolerance {
        Some(tolerance) => Spread::absolute(metre, tolerance * 1e-3),
        None => Spread::relative(metre, share),
    })
}

fn body(table: &Table<'_>, infiltrated: bool) -> Option<BodySpec> {
    let words = BODIES.map(|word| (word, word));
    let word = table.choice("body", &words);
    let values = table.table_if("body_values");
    let name = if infiltrated { format!("{}-infiltrated", word?) } else { word?.to_owned() };
    let mut body = BodySpec::named(&name)?;
    if let Some(values) = values {
        override_body(&values, &mut body);
        values.finish();
    }
    Some(body)
}

/// A shop's own figures for its body.
fn override_body(values: &Table<'_>, body: &mut BodySpec) {
    let set = |key: &'static str, allowed, factor: f64, field: &mut f64| {
        if let Some(number) = values.number_if(key, allowed) {
            *field = number * factor;
        }
    };
    set("solid_kilogram_per_cubic_metre", 1000.0..=10_000.0, 1.0, &mut body.solid_kg_m3);
    set("porosity_percent", 1.0..=70.0, 0.01, &mut body.porosity);
    set("pore_radius_nanometre", 1.0..=20_000.0, 1e-9, &mut body.pore_radius_m.value);
    let mut share = body.pore_radius_m.relative_sd();
    set("pore_radius_tolerance_percent", 0.0..=100.0, 0.01, &mut share);
    body.pore_radius_m = Spread::relative(body.pore_radius_m.value, share);
    set("tortuosity", 1.0..=10.0, 1.0, &mut body.tortuosity);
    set("joule_per_kilogram_kelvin", 200.0..=3000.0, 1.0, &mut body.heat_capacity_j_kg_k);
    set("watt_per_metre_kelvin", 0.05..=50.0, 1.0, &mut body.k_w_m_k);
    set("emissivity", 0.05..=1.0, 1.0, &mut body.emissivity);
    set("young_gigapascal", 0.1..=600.0, 1e9, &mut body.young_pa);
    set("poisson", 0.0..=0.49, 1.0, &mut body.poisson);
    set("expansion_per_million_kelvin", 0.1..=30.0, 1e-6, &mut body.expansion_per_k);
    set("strength_megapascal", 0.1..=2000.0, 1e6, &mut body.strength_pa);
}

fn read_coat(table: Table<'_>, infiltrated: bool) -> Option<CoatSpec> {
    // What is left on infiltrated work is a skin of plain glass.
    let (share, water) =
        if infiltrated { (100.0, 0.0) } else { (GLASS_SHARE_PERCENT, WATER_PERCENT) };
    let glass = glass(&table);
    let thickness = table.number("thickness_millimetre", 0.001..=COAT_MAX_MM);
    let thickness = spread(&table, "thickness_tolerance_millimetre", thickness, COAT_SD);
    let glass_share = table.number_or("glass_share_percent", 5.0..=100.0, share) * 0.01;
    let water_share = table.number_or("water_percent", 0.0..=200.0, water) * 0.01;
    table.finish();
    Some(CoatSpec { thickness_m: thickness?, glass_share, water_share, glass: glass? })
}

fn glass(table: &Table<'_>) -> Option<GlassSpec> {
    let words: Vec<_> = GlassSpec::names().iter().map(|name| (*name, *name)).collect();
    let word = table.choice("glass", &words);
    let values = table.table_if("glass_values");
    let mut glass = GlassSpec::named(word?)?;
    if let Some(values) = values {
        override_glass(&values, &mut glass);
        refuse_water(&values, &glass);
        values.finish();
    }
    Some(glass)
}

/// Three constants that are each in range can still make a melt thinner than any glass.
fn refuse_water(values: &Table<'_>, glass: &GlassSpec) {
    let log10_pa_s = glass.vft_a + glass.vft_b_k / (HOT_C - glass.vft_t0_c);
    if log10_pa_s < THINNEST_LOG10_PA_S {
        let keys = ["viscosity_a", "viscosity_b_kelvin", "viscosity_t0_celsius"];
        values.note(
            keys.into_iter().find(|key| values.has(key)).unwrap_or(keys[0]),
            format!(
                "this makes the glass as thin as 10^{log10_pa_s:.1} Pa s at {HOT_C:.0} °C, \
                 thinner than any molten glass"
            ),
            "log10 of the viscosity is a + b / (T - t0), the viscosity in Pa s, the \
             temperatures in °C",
        );
    }
}

/// A shop's own figures for its glass.
fn override_glass(values: &Table<'_>, glass: &mut GlassSpec) {
    let set = |key: &'static str, allowed, factor: f64, field: &mut f64| {
        if let Some(number) = values.number_if(key, allowed) {
            *field = number * factor;
        }
    };
    set("viscosity_a", -10.0..=5.0, 1.0, &mut glass.vft_a);
    set("viscosity_b_kelvin", 100.0..=20_000.0, 1.0, &mut glass.vft_b_k);
    set("viscosity_t0_celsius", -200.0..=800.0, 1.0, &mut glass.vft_t0_c);
    set("viscosity_decades_tolerance", 0.0..=2.0, 1.0, &mut glass.log10_sd);
    set("millinewton_per_metre", 50.0..=1000.0, 1e-3, &mut glass.surface_tension_n_m);
    set("contact_angle_degree", 0.0..=89.0, 1.0, &mut glass.contact_angle_deg);
    set("kilogram_per_cubic_metre", 1000.0..=8000.0, 1.0, &mut glass.density_kg_m3);
}
