//! Facts about the work, and the date, in words.

use saggar_plant::spec::{CoatSpec, UncertainValue, WorkSpec};

/// Facts about the work: body, wall, area, moisture, coat. Each fact is a label and a value.
pub fn work_facts(work: &WorkSpec) -> Vec<(String, String)> {
    let each = if work.count > 1 { " each" } else { "" };
    let area_mm2 = trimmed(work.area_m2 * 1e6, 1);
    let mut facts = vec![
        (
            "Work",
            format!("{} × {}, {area_mm2} mm² on one side{each}", work.count, work.body.name),
        ),
        ("Wall", thickness(&work.wall_m)),
        (
            "Moisture",
            format!("{} of the body's mass", percent_with_tenths(work.moisture_share)),
        ),
    ];
    if work.lubricant_share > 0.0 {
        let share = percent_with_tenths(work.lubricant_share);
        facts.push(("Lubricant", format!("{share} of the body's mass")));
    }
    if let Some(coat) = &work.coat {
        let kind = if work.infiltrated { "Skin of glass" } else { "Coat, wet" };
        facts.push((kind, format!("{}, {}", thickness(&coat.thickness_m), coat.glass.name)));
        if !work.infiltrated {
            facts.push(("Slurry", recipe(coat)));
            facts.push(("Bare rim", format!("{} mm", trimmed(coat.bare_rim_m * 1e3, 2))));
        }
    }
    if work.infiltrated {
        facts.push(("Roughness before", format!("{} µm", trimmed(work.roughness_m * 1e6, 1))));
    }
    facts.into_iter().map(|(label, value)| (label.to_owned(), value)).collect()
}

/// Powder of the recipe in words (g). Only its ratio to the water counts.
const RECIPE_POWDER_G: f64 = 10.0;

/// "10 g of powder : 3 g of water, glass 51 % of the volume".
fn recipe(coat: &CoatSpec) -> String {
    let water_g = trimmed(RECIPE_POWDER_G * coat.water_share, 2);
    let glass = 100.0 * coat.glass_share;
    format!(
        "{RECIPE_POWDER_G} g of powder : {water_g} g of water, glass {glass:.0} % of the volume"
    )
}

/// "0.50 mm ± 0.05 mm (one standard deviation)".
fn thickness(metres: &UncertainValue) -> String {
    let (value, sd) = (metres.value * 1e3, metres.value * metres.relative_sd() * 1e3);
    format!("{value:.2} mm ± {} mm (one standard deviation)", trimmed(sd, 3))
}

fn percent_with_tenths(share: f64) -> String {
    format!("{} %", trimmed(share * 100.0, 1))
}

/// A number with at most `decimals` decimals and no trailing zeros.
fn trimmed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The last second of the year 9999.
const UNIX_S_MAX: u64 = 253_402_300_799;

/// Seconds since 1970 as date and time of day: "2026-11-30 16:12 UTC".
pub fn utc_timestamp(unix_s: u64) -> String {
    let unix_s = unix_s.min(UNIX_S_MAX);
    let (days, second) = (unix_s / 86_400, unix_s % 86_400);
    let (mut year, mut day) = (1970_u64, days);
    loop {
        let length = if is_leap(year) { 366 } else { 365 };
        if day < length {
            break;
        }
        (year, day) = (year + 1, day - length);
    }
    let february = if is_leap(year) { 29 } else { 28 };
    let mut month = 1;
    for length in [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30] {
        if day < length {
            break;
        }
        (month, day) = (month + 1, day - length);
    }
    let (hour, minute) = (second / 3600, second / 60 % 60);
    format!("{year}-{month:02}-{:02} {hour:02}:{minute:02} UTC", day + 1)
}

const fn is_leap(year: u64) -> bool {
    year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400))
}

#[cfg(test)]
mod tests {
    use saggar_plant::spec::GlassSpec;

    use super::*;

    #[test]
    fn the_slurry_is_told_as_it_is_weighed() {
        let coat = CoatSpec {
            thickness_m: UncertainValue::relative(0.5e-3, 0.15),
            bare_rim_m: 2.0e-3,
            glass_share: 0.5087,
            water_share: 0.3,
            glass: GlassSpec::named("lanthanum-glass").unwrap(),
        };
        let expected = "10 g of powder : 3 g of water, glass 51 % of the volume";
        assert_eq!(recipe(&coat), expected);
    }

    #[test]
    fn timestamps_follow_the_gregorian_calendar() {
        assert_eq!(utc_timestamp(0), "1970-01-01 00:00 UTC");
        // The last second of a leap day, and the first of the day after.
        assert_eq!(utc_timestamp(951_868_799), "2000-02-29 23:59 UTC");
        assert_eq!(utc_timestamp(951_868_800), "2000-03-01 00:00 UTC");
        assert_eq!(utc_timestamp(1_767_225_599), "2025-12-31 23:59 UTC");
        assert_eq!(utc_timestamp(4_107_542_400), "2100-03-01 00:00 UTC");
        assert_eq!(utc_timestamp(u64::MAX), "9999-12-31 23:59 UTC");
    }
}
