//! Limits that `check` computes and prints: written into the file unchanged, they pass.

use super::bench::{Bench, GOOD, good_furnace};

/// The good profile with one value changed.
#[track_caller]
fn profile(changes: &[(&str, String)]) -> String {
    let mut text = String::new();
    let mut left: Vec<&str> = changes.iter().map(|(key, _)| *key).collect();
    for line in good_furnace().lines() {
        let key = line.split(" = ").next().unwrap_or_default();
        match changes.iter().find(|(changed, _)| *changed == key) {
            Some((_, value)) => {
                text += &format!("{key} = {value}\n");
                left.retain(|missing| *missing != key);
            }
            None => text += &format!("{line}\n"),
        }
    }
    assert!(left.is_empty(), "the good profile has no {left:?}");
    text
}

/// The output of `check` for this schedule and furnace, as one line.
fn check(schedule: &str, furnace: &str) -> String {
    let bench = Bench::with(schedule);
    bench.write("furnace.toml", furnace);
    bench.run(&["check", "job.toml"]).err.replace("\n    ", " ")
}

/// The number between two phrases in the output of `check`.
#[track_caller]
fn number<'a>(result: &'a str, before: &str, after: &str) -> &'a str {
    let rest = result.split_once(before).map(|(_, rest)| rest);
    let number = rest.and_then(|rest| rest.split_once(after)).map(|(number, _)| number);
    number.unwrap_or_else(|| panic!("no \"{before}…{after}\" in: {result}"))
}

#[test]
fn a_volume_as_large_as_allowed() {
    for tenths in 400..440 {
        let height = format!("{:.1}", f64::from(tenths) / 5.0);
        let of = |volume: &str| {
            let changes = [
                ("volume_litre", volume.to_owned()),
                ("muffle_height_millimetre", height.clone()),
            ];
            check(GOOD, &profile(&changes))
        };
        let result = of("9");
        let again = of(number(&result, "allowed: ", " or less"));
        assert_eq!(again, "", "{height} mm: {result}");
    }
    let tiny = [
        ("muffle_radius_millimetre", "10".to_owned()),
        ("muffle_height_millimetre", "20".to_owned()),
    ];
    let result = check(GOOD, &profile(&tiny));
    assert!(result.contains("correct the radius and the height of the muffle"), "{result}");
}

#[test]
fn a_programme_as_hot_as_allowed() {
    for tenths in 0..30 {
        let (furnace, over) =
            (1220.0 + f64::from(tenths) / 7.0, 25.0 + f64::from(tenths) / 11.0);
        let of = |programme: &str| {
            let changes = [
                ("furnace_max_celsius", format!("{furnace:.2}")),
                ("overshoot_max_kelvin", format!("{over:.2}")),
                ("programme_max_celsius", programme.to_owned()),
            ];
            check(GOOD, &profile(&changes))
        };
        let result = of("1218");
        assert_eq!(of(number(&result, "allowed: ", " or less")), "", "{result}");
    }
}

#[test]
fn a_slew_as_slow_as_allowed() {
    for tenths in 800..840 {
        let ramp = format!("{:.1}", f64::from(tenths) / 10.0);
        let of = |slew: &str| {
            let changes = [
                ("ramp_max_kelvin_per_minute", ramp.clone()),
                ("slew_max_kelvin_per_second", slew.to_owned()),
            ];
            check(GOOD, &profile(&changes))
        };
        let result = of("1");
        assert_eq!(of(number(&result, "allowed: ", " or more")), "", "{result}");
    }
}

/// A ramp to one temperature, and a vacuum that begins at another.
fn vacuum(from: &str, to: &str) -> String {
    GOOD.replace("from_celsius = 600", &format!("from_celsius = {from}"))
        .replace("to_celsius = 1120", &format!("to_celsius = {to}"))
}

#[test]
fn a_vacuum_that_begins_where_its_stages_get_to() {
    let good = good_furnace();
    for to in ["900.06", "900.006", "1000.5", "1079.999"] {
        let result = check(&vacuum("1100", to), &good);
        let reached = number(
            &result,
            "lower `from_celsius`: the stages under this vacuum reach ",
            " °C at most",
        );
        assert_eq!(check(&vacuum(reached, to), &good), "", "{result}");
    }
}

#[test]
fn a_setpoint_and_a_rate_as_high_as_allowed() {
    for (hottest, fastest) in [("1180", "80"), ("1150.06", "62.37"), ("1149.999", "50.001")] {
        let furnace = profile(&[
            ("programme_max_celsius", hottest.to_owned()),
            ("ramp_max_kelvin_per_minute", fastest.to_owned()),
        ]);
        let job = |to: &str, rate: &str| {
            let ramp = format!("to_celsius = {to}, kelvin_per_minute = {rate}");
            GOOD.replace("to_celsius = 1120, minutes = 20", &ramp)
        };
        let result = check(&job("1180.05", "80.04"), &furnace);
        let to = number(&result, "lower it to ", ", or choose");
        let rate = number(&result, "lower the rate to ", ", or give");
        assert_eq!(check(&job(to, rate), &furnace), "", "{result}");
        assert!(result.contains("1180.05 °C is above the 11"), "{result}");
        assert!(result.contains("80.04 K/min is faster than the "), "{result}");
    }
}

#[test]
fn a_firing_as_long_as_allowed() {
    // It lasts at least 1 h 20 min.
    for hour in ["1.3", "0.33", "1.0167"] {
        let furnace = profile(&[("firing_max_hour", hour.to_owned())]);
        let result = check(GOOD, &furnace);
        let minutes = number(&result, "Dunlin allows ", "\n");
        let whole = (hour.parse::<f64>().unwrap() * 60.0).floor();
        let (hours, rest) = ((whole / 60.0).floor(), whole % 60.0);
        let text = match (hours < 1.0, rest < 1.0) {
            (true, _) => format!("{whole} min"),
            (false, true) => format!("{hours} h"),
            (false, false) => format!("{hours} h {rest} min"),
        };
        assert!(minutes.starts_with(&text), "{text}: {result}");
    }
}
