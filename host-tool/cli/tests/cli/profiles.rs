//! Errors inside a furnace profile.

use super::bench::{Bench, GOOD, good_furnace};

/// Asserts that the valid profile with one change is refused at the change.
#[track_caller]
fn refused(from: &str, to: &str, at: &str, message: &str, cure: &str) {
    let good = good_furnace();
    assert!(good.contains(from), "the good profile has no {from}");
    let text = good.replacen(from, to, 1);
    let offset = text.find(at).unwrap_or_else(|| panic!("{at} is not in the changed profile"));
    let line = text[..offset].matches('\n').count() + 1;
    let column = offset - text[..offset].rfind('\n').map_or(0, |newline| newline + 1) + 1;
    let bench = Bench::with(GOOD);
    bench.write("furnace.toml", text);
    bench.refuses(&format!("furnace.toml:{line}:{column}"), message, cure);
}

#[test]
fn a_power_out_of_range() {
    refused(
        "rated_watt = 1200",
        "rated_watt = 1.2",
        "1.2\n",
        "too small",
        "allowed: 50 to 20000",
    );
}

#[test]
fn a_misspelt_section() {
    refused("[pin]", "[pins]", "pins", "unknown key `pins` at the top", "did you mean `pin`?");
}

#[test]
fn a_control_sensor_that_cannot_be_read_when_cold() {
    refused(
        "type = \"S\"",
        "type = \"B\"",
        "\"B\"",
        "cannot be read below 250 °C",
        "S, R, K or N",
    );
}

#[test]
fn a_sensor_that_ends_too_early() {
    let hot = "furnace_max_celsius = 1290";
    let good = good_furnace().replace("rated_celsius = 1260", "rated_celsius = 1400");
    let at =
        good.lines().find(|line| line.starts_with("furnace_max_celsius")).unwrap().to_owned();
    let text = good.replace(&at, hot);
    let bench = Bench::with(GOOD);
    bench.write("furnace.toml", text);
    let result = bench.run(&["check", "job.toml"]);
    assert_eq!(result.code, 2);
    assert!(result.err.contains("a type N ends at 1300 °C"), "{}", result.err);
}

#[test]
fn insulation_that_would_not_bear_the_limit() {
    refused(
        "rated_celsius = 1260",
        "rated_celsius = 1100",
        "1220\n",
        "above the 1100 °C that the insulation is rated for",
        "correct `rated_celsius`",
    );
}

#[test]
fn a_programme_hotter_than_the_furnace() {
    refused(
        "programme_max_celsius = 1180",
        "programme_max_celsius = 1210",
        "1210",
        "above `furnace_max_celsius`, 1220 °C",
        "allowed: ",
    );
}

#[test]
fn points_out_of_order() {
    refused(
        "at_celsius = 600",
        "at_celsius = 60",
        "60\nprop",
        "does not follow",
        "coolest to the hottest",
    );
}

#[test]
fn a_heater_too_weak_to_hold() {
    let weak = good_furnace().replacen("rated_watt = 1200", "rated_watt = 600", 1);
    let bench = Bench::with(GOOD);
    bench.write("furnace.toml", weak.replacen("hold_watt = 390", "hold_watt = 700", 1));
    bench.refuses("furnace.toml:29:14", "600 W is less than the 700 W", "correct `hold_watt`");
}

#[test]
fn a_heat_capacity_that_the_masses_contradict() {
    refused(
        "joule_per_kelvin = 480\n",
        "joule_per_kelvin = 2400\n",
        "2400\n",
        "by their masses the element takes 84 J/K, the muffle 288, the table 120, and the insulation \
         at most 562",
        "allowed: 124 to 2036",
    );
}

#[test]
fn a_holding_power_that_the_insulation_contradicts() {
    refused(
        "hold_watt = 55\n",
        "hold_watt = 550\n",
        "550\n",
        "its insulation conducts about ",
        "correct it here, or [insulation]",
    );
}

#[test]
fn a_table_that_does_not_fit_into_the_muffle() {
    refused(
        "\nradius_millimetre = 36",
        "\nradius_millimetre = 60",
        "60\nem",
        "a table of 60 mm does not fit into a muffle of 40 mm",
        "give the radius of what stands inside",
    );
}

#[test]
fn gains_of_another_unit() {
    refused(
        "proportional_percent_per_kelvin = 1.0\n",
        "proportional_percent_per_kelvin = 100\n",
        "100\nintegral",
        "makes the furnace swing: full power raises the reading by 1.67 K/s",
        "allowed: 36 or less",
    );
    refused(
        "integral_percent_per_kelvin_second = 0.01\n",
        "integral_percent_per_kelvin_second = 1.5\n",
        "1.5\n",
        "the integral would outrun the sensor",
        "allowed: 0.199 or less",
    );
}

#[test]
fn an_element_of_another_unit() {
    refused(
        "element_gram = 120",
        "element_gram = 1.2",
        "1.2\n",
        "heats itself by 1428.6 K/s",
        "correct the mass of the element",
    );
    refused(
        "area_square_centimetre = 140",
        "area_square_centimetre = 1.4",
        "1.4\n",
        "°C even in a cold furnace",
        "correct the area",
    );
}

#[test]
fn a_ramp_that_no_heater_of_this_size_follows() {
    refused(
        "ramp_max_kelvin_per_minute = 80",
        "ramp_max_kelvin_per_minute = 450",
        "450\n",
        "and the heater has 1200 W",
        "at most 3 times",
    );
}

#[test]
fn a_pump_on_a_door() {
    refused(
        "closure = \"lift\"",
        "closure = \"door\"",
        "\"door\"",
        "not supported",
        "[vacuum]",
    );
}

#[test]
fn a_pressure_that_the_pump_never_reaches() {
    refused(
        "lowest_hectopascal = 30",
        "lowest_hectopascal = 10",
        "10  ",
        "only reaches 15 hPa",
        "about one and a half times",
    );
}

#[test]
fn half_a_hertz_off() {
    refused("hertz = 50", "hertz = 55", "55\n", "`hertz` is 55", "50 or 60");
}

#[test]
fn a_computed_limit_is_a_round_number() {
    refused(
        "slew_max_kelvin_per_second = 15",
        "slew_max_kelvin_per_second = 2.25",
        "2.25",
        "the ramp could look like a sensor fault",
        "allowed: 2.7 or more, twice the fastest ramp",
    );
}
