//! `saggar keys` and `saggar set`.

use super::bench::{Bench, GOOD, docs};

#[test]
fn keys_are_listed_by_file_and_section() {
    let bench = Bench::with(GOOD);
    let all = bench.run(&["keys", "schedule"]);
    assert!(all.out.starts_with("Top of the file\n  name: "), "{}", all.out);
    assert!(all.out.contains("\nstage.hold\n  minutes: longest wait"), "{}", all.out);
    for file in ["schedule", "profile"] {
        let text = bench.run(&["keys", file]).out;
        assert!(
            !text.contains("](") && !text.contains(".md"),
            "Markdown in a terminal: {text}"
        );
    }
    let one = bench.run(&["keys", "profile", "mains", "--markdown"]);
    assert!(one.out.starts_with("| key | value |") && one.out.contains("| `hertz` |"));
    let none = bench.run(&["keys", "schedule", "stage.sok"]);
    assert_eq!(none.code, 2);
    assert!(none.err.contains("no section `stage.sok`"), "{}", none.err);
    assert!(none.err.contains("did you mean `stage.soak`?"), "{}", none.err);
}

#[test]
fn the_schema_is_the_json_of_the_keys() {
    let bench = Bench::with(GOOD);
    let schema = |args: &[&str]| -> serde_json::Value {
        serde_json::from_str(&bench.run(args).out).unwrap()
    };
    let schedule = schema(&["keys", "schedule", "--json"]);
    assert_eq!(schedule["$schema"], "https://json-schema.org/draft/2020-12/schema");
    assert_eq!(schedule["properties"]["work"]["properties"]["count"]["maximum"], 20);
    let soak = schema(&["keys", "schedule", "stage.soak", "--json"]);
    assert_eq!(soak["required"], serde_json::json!(["minutes", "band_kelvin"]));
}

#[test]
fn a_key_is_set_and_the_rest_stays() {
    let bench = Bench::with(GOOD);
    let set = ["set", "job.toml", "stage[4].soak.minutes=12.5", "work.count=2", "--json"];
    let result = bench.run(&set);
    assert_eq!(result.code, 0, "{}", result.err);
    let json: serde_json::Value = serde_json::from_str(&result.out).unwrap();
    assert_eq!(json["set"][0], "stage[4].soak.minutes = 12.5");
    let text = std::fs::read_to_string(bench.path("job.toml")).unwrap();
    let area = "area_square_millimetre = 220\n";
    let wanted = GOOD.replace("minutes = 30", "minutes = 12.5");
    assert_eq!(text, wanted.replace(area, &format!("{area}count = 2\n")));
}

#[test]
fn set_refuses_what_check_would_refuse() {
    let bench = Bench::with(GOOD);
    for (change, message, cure) in [
        ("work.count=21", "`count` is 21, which is too large", "allowed: 1 to 20"),
        ("stage[1]=5", "`stage[1]` is a section", "name a key in it, such as stage[1].KEY"),
        ("name[1]=x", "`name` is not a list", "write it without a number: name\n"),
        ("work.cuont=2", "unknown key `cuont` in `work`", "did you mean `count`?"),
        ("stage[3].ramp.to_celsius=1250", "1250 °C is above the", "lower it to"),
        ("work.area_square_millimetre=9000", "and the table of Dunlin has", "larger table"),
        ("furnace=none.toml", "furnace profile none.toml", "schedule's own folder"),
        ("stage[9].name=x", "there is no `stage` 9", "the file has 6 of them"),
    ] {
        let result = bench.run(&["set", "job.toml", change]);
        assert_eq!(result.code, 2, "{change}");
        assert!(result.err.contains(message) && result.err.contains(cure), "{}", result.err);
        assert!(result.err.ends_with("1 error in 1 file: nothing was set\n"), "{}", result.err);
        assert_eq!(std::fs::read_to_string(bench.path("job.toml")).unwrap(), GOOD);
    }
    for typed in ["work.count", "work..count=1", "=1"] {
        assert_eq!(bench.run(&["set", "job.toml", typed]).code, 2, "{typed}");
    }
}

#[test]
fn set_checks_the_whole_profile() {
    let bench = Bench::with(GOOD);
    let result = bench.run(&["set", "furnace.toml", "limits.programme_max_celsius=1210"]);
    assert_eq!(result.code, 2);
    assert!(result.err.contains("above `furnace_max_celsius`, 1220 °C"), "{}", result.err);
    assert_eq!(bench.run(&["set", "furnace.toml", "gains[1].at_celsius=40"]).code, 0);
    assert_eq!(bench.run(&["check", "job.toml"]).code, 0);
}

#[test]
fn the_tables_of_all_sections_are_markdown_from_end_to_end() {
    let bench = Bench::with(GOOD);
    for file in ["schedule", "profile"] {
        let whole = bench.run(&["keys", file, "--markdown"]).out;
        let mut lines = whole.lines();
        assert_eq!(lines.next(), Some("## Top of the file"));
        let mut before = "## Top of the file";
        for line in lines {
            let good = match before {
                "" => line.starts_with("## ") || line.starts_with("| key |"),
                head if head.starts_with("## ") => line.is_empty(),
                _ => line.is_empty() || line.starts_with("| "),
            };
            assert!(good && !line.contains("\\u"), "{before}\n{line}");
            before = line;
        }
        let heads = whole.lines().filter(|line| line.starts_with("## ")).count();
        assert_eq!(heads, whole.lines().filter(|line| line.starts_with("| key |")).count());
    }
}

#[test]
fn an_existing_key_is_suggested_too() {
    let bench = Bench::with(GOOD.replace("[work]\n", "[work]\ncount = 1\n"));
    let result = bench.run(&["set", "job.toml", "work.cuont=5"]);
    assert!(result.err.contains("did you mean `count`?"), "{}", result.err);
    let result = bench.run(&["set", "job.toml", "work.count=\"3\""]);
    assert!(result.err.contains("must be a number, and \"3\" is text"), "{}", result.err);
    let result = bench.run(&["set", "job.toml", "work.count=19", "work.count=5"]);
    assert!(result.err.contains("`work.count` is given twice"), "{}", result.err);
}

#[test]
fn set_may_fix_one_error_although_it_uncovers_another() {
    let hot = "to_celsius = 1500";
    let bad = GOOD.replace("furnace.toml", "nope.toml").replace("to_celsius = 1120", hot);
    assert!(bad.contains(hot) && bad.contains("nope.toml"));
    let bench = Bench::with(&bad);
    // Another wrong value is refused.
    assert_eq!(bench.run(&["set", "job.toml", "furnace=none.toml"]).code, 2);
    let result = bench.run(&["set", "job.toml", "furnace=furnace.toml"]);
    assert_eq!(result.code, 0, "{}", result.err);
    assert!(bench.run(&["check", "job.toml"]).err.contains("1500 °C is above"));
    let profile = std::fs::read_to_string(bench.path("furnace.toml")).unwrap();
    std::fs::write(bench.path("pf.toml"), profile.replace("[chamber]", "[chambre]")).unwrap();
    for changes in [
        ["heater.rated_watt=1e9", "heater.bogus=x"],
        ["heater.rated_watt=900", "heater.bogus=x"],
    ] {
        let result = bench.run(&["set", "pf.toml", changes[0], changes[1]]);
        assert_eq!(result.code, 2);
        assert!(result.err.contains("unknown key `bogus` in `heater`"), "{}", result.err);
    }
}

#[cfg(unix)]
#[test]
fn a_file_keeps_its_mode_and_one_that_is_read_only_is_not_replaced() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::with(GOOD);
    let path = bench.path("job.toml");
    let allow =
        |mode| std::fs::set_permissions(&path, PermissionsExt::from_mode(mode)).unwrap();
    for mode in [0o600, 0o666, 0o640] {
        allow(mode);
        assert_eq!(bench.run(&["set", "job.toml", "work.count=2"]).code, 0);
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, mode);
    }
    allow(0o444);
    let before = std::fs::read_to_string(&path).unwrap();
    let result = bench.run(&["set", "job.toml", "work.count=3"]);
    assert_eq!(result.code, 2);
    assert!(result.err.contains("it is read-only: make it writable first"), "{}", result.err);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), before);
}

#[test]
fn the_examples_in_the_help_of_set_work() {
    let read = |name: &str| std::fs::read_to_string(docs().join(name)).unwrap();
    let schedule = read("schedules/infiltrate-alumina.toml");
    let bench = Bench::with(schedule.replace("../furnaces/lift-vacuum.toml", "weak.toml"));
    std::fs::write(bench.path("weak.toml"), read("furnaces/lift-vacuum.toml")).unwrap();
    std::fs::copy(bench.path("job.toml"), bench.path("coping.toml")).unwrap();
    let help = bench.run(&["set", "--help"]).out;
    let examples = help.lines().filter_map(|line| line.trim().strip_prefix("saggar "));
    let examples: Vec<_> = examples.collect();
    assert_eq!(examples.len(), 3, "{help}");
    for example in examples {
        let result = bench.run(&example.split(' ').collect::<Vec<_>>());
        assert_eq!(result.code, 0, "{example}: {}", result.err);
    }
}
