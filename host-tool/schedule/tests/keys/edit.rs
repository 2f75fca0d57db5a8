//! Setting keys in the text of a file. Everything else stays as it is, byte for byte.

use std::fs;

use saggar_schedule::document::{KeyPath, PlainValue, parse_typed};
use saggar_schedule::keys::FileKind;

use super::{examples, source};

fn set(file: FileKind, text: &str, changes: &[(&str, &str)]) -> Result<String, Vec<String>> {
    let change = |(path, value): &(&str, &str)| {
        let path: KeyPath = path.parse().unwrap();
        let written = parse_typed(path.key(file.keys()), value);
        (path, written)
    };
    let changes: Vec<(KeyPath, PlainValue)> = changes.iter().map(change).collect();
    match file.set(&source(text), &changes) {
        Ok(source) => Ok(source.text().to_owned()),
        Err(diagnostics) => Err(diagnostics.into_iter().map(|one| one.message).collect()),
    }
}

const SHORT: &str = "# mine\nname = \"A\"  # its name\n\n[work]\nbody = 'spinel'\n\
    wall_millimetre = 0.50 # thin\narea_square_millimetre=220\n\n# hot\n[[stage]]\n\
    ramp = { to_celsius = 1_000,  minutes = 9 } # up\n\n[[stage]]\n\
    soak = { minutes = 1, band_kelvin = 5}\n# end\n";

#[track_caller]
fn assert_sets(path: &str, value: &str, from: &str, to: &str) {
    assert!(SHORT.contains(from));
    for (text, from, to) in [
        (SHORT.to_owned(), from.to_owned(), to.to_owned()),
        (SHORT.replace('\n', "\r\n"), from.replace('\n', "\r\n"), to.replace('\n', "\r\n")),
        (format!("\u{feff}{SHORT}"), from.to_owned(), to.to_owned()),
        (SHORT.trim_end().to_owned(), from.to_owned(), to.to_owned()),
    ] {
        let wanted = text.replacen(&from, &to, 1);
        assert_eq!(set(FileKind::Schedule, &text, &[(path, value)]), Ok(wanted));
    }
}

#[test]
fn setting_a_key_changes_only_its_value() {
    assert_sets("name", "B 2", "\"A\"", "\"B 2\"");
    assert_sets("work.body", "alumina", "'spinel'", "\"alumina\"");
    assert_sets("work.wall_millimetre", "0.7", "0.50", "0.7");
    assert_sets("work.area_square_millimetre", "100", "=220", "=100");
    assert_sets("stage[1].ramp.to_celsius", "900", "1_000", "900");
    assert_sets("stage[2].soak.band_kelvin", "2.5", "= 5}", "= 2.5}");
}

#[test]
fn a_missing_key_is_added_at_the_end_of_its_section() {
    let area = "area_square_millimetre=220\n";
    assert_sets("work.count", "3", area, &format!("{area}count = 3\n"));
    assert_sets("work.infiltrated", "false", area, &format!("{area}infiltrated = false\n"));
    let values = "\n[work.body_values]\nporosity_percent = 30\n";
    assert_sets("work.body_values.porosity_percent", "30", area, &format!("{area}{values}"));
    assert_sets("stage[2].soak.patience_minutes", "4", "= 5}", "= 5, patience_minutes = 4}");
    assert_sets("stage[1].name", "up", "# up\n", "# up\nname = \"up\"\n");
}

#[test]
fn several_keys_are_set_together_or_not_at_all() {
    let both = [("work.count", "2"), ("stage[2].soak.minutes", "7")];
    let text = set(FileKind::Schedule, SHORT, &both).unwrap();
    assert!(text.contains("count = 2\n") && text.contains("{ minutes = 7,"), "{text}");
    let bad = [("work.count", "2"), ("stage[2].soak.minutes", "-7")];
    assert_eq!(
        set(FileKind::Schedule, SHORT, &bad),
        Err(vec!["`minutes` is -7, which is too small".to_owned()])
    );
}

#[test]
fn invalid_values_and_paths_give_the_messages_of_the_reader() {
    for (path, value, message) in [
        ("work.count", "1.5", "`count` is 1.5, not a whole number"),
        ("work.count", "many", "`count` must be a number, and \"many\" is text"),
        ("work.wall", "1", "unknown key `wall` in `work`"),
        ("work.body", "clay", "`body` is \"clay\", which is not one of the known words"),
        (
            "work.wall_tolerance_millimetre",
            "0.6",
            "`wall_tolerance_millimetre` is 0.6, which is too large",
        ),
        ("name", " ", "`name` is blank"),
        ("stage[3].name", "x", "there is no `stage` 3"),
        ("stage.name", "x", "there is no section `stage` to set a key in"),
        ("work", "1", "`work` is a section"),
        ("work.coat", "1", "`work.coat` is a section"),
        ("stage[1]", "5", "`stage[1]` is a section"),
        ("stage[1].ramp[1].minutes", "5", "`ramp` is not a list"),
        ("work[1].count", "5", "`work` is not a list"),
        ("name[1]", "x", "`name` is not a list"),
        ("work.count", "\"3\"", "`count` must be a number, and \"3\" is text"),
        ("name.first", "1", "there is no section `name` to set a key in"),
    ] {
        assert_eq!(
            set(FileKind::Schedule, SHORT, &[(path, value)]),
            Err(vec![message.to_owned()]),
            "{path}"
        );
    }
    for path in ["", "a..b", "stage[0].name", "stage[1", "stage[x].name", "a b", "é", "[1]"] {
        assert!(path.parse::<KeyPath>().is_err(), "{path}");
    }
}

#[test]
fn errors_elsewhere_in_the_file_do_not_prevent_a_change() {
    let text = SHORT.replace("0.50", "50");
    let set_text = |changes: &[_]| set(FileKind::Schedule, &text, changes);
    assert!(set_text(&[("work.count", "2")]).unwrap().contains("wall_millimetre = 50 # thin"));
    assert!(set_text(&[("work.wall_millimetre", "0.6")]).unwrap().contains("= 0.6 # thin"));
    assert!(set(FileKind::Schedule, "name = ", &[("name", "x")]).is_err());
}

#[test]
fn a_bad_value_is_refused_even_if_the_old_one_was_bad() {
    let text = SHORT.replace("minutes = 9 ", "minutes = 1e6 ") + "[work.coat]\nbogus = 1\n";
    let set_text = |path: &str, value: &str| set(FileKind::Schedule, &text, &[(path, value)]);
    let too_large = || Err(vec!["`minutes` is 1000000, which is too large".to_owned()]);
    assert_eq!(set_text("stage[2].soak.minutes", "1e6"), too_large());
    assert_eq!(set_text("stage[1].ramp.minutes", "1e6"), too_large());
    let unknown = || Err(vec!["unknown key `bogus` in `work.coat`".to_owned()]);
    assert_eq!(set_text("work.coat.bogus", "2"), unknown());
    assert!(set_text("stage[2].soak.minutes", "2").is_ok());
    // Lowering one key can make another one invalid, which counts as an error of the change.
    let text = SHORT.replace("0.50", "0.50\nwall_tolerance_millimetre = 0.4");
    let messages =
        set(FileKind::Schedule, &text, &[("work.wall_millimetre", "0.3")]).unwrap_err();
    assert_eq!(messages, ["`wall_tolerance_millimetre` is 0.4, which is too large"]);
}

#[test]
fn setting_a_key_twice_is_refused() {
    for again in ["work.count", "stage[02].soak.minutes"] {
        let plain = again.replace('0', "");
        let messages = set(FileKind::Schedule, SHORT, &[(&plain, "9"), (again, "5")]);
        assert_eq!(messages, Err(vec![format!("`{plain}` is given twice")]));
    }
}

#[test]
fn an_entry_of_an_unknown_list_cannot_be_set_to_a_value() {
    let text = format!("{SHORT}[[bogus]]\nkey = 1\n");
    let messages = set(FileKind::Schedule, &text, &[("bogus[1]", "5")]);
    assert_eq!(messages, Err(vec!["`bogus[1]` is a section".to_owned()]));
}

#[test]
fn the_kind_of_a_file_is_that_of_most_of_its_keys() {
    for example in examples("furnaces") {
        let text = fs::read_to_string(&example).unwrap();
        let without = text.replace("[chamber]", "[chambre]");
        assert_eq!(FileKind::of(&without), FileKind::Profile);
        assert_eq!(FileKind::of(&format!("{text}[[stage]]\n")), FileKind::Profile);
    }
    assert_eq!(FileKind::of(&SHORT.replace("[[stage]]", "[[stages]]")), FileKind::Schedule);
    assert_eq!(FileKind::of(""), FileKind::Schedule);
}

#[test]
fn a_file_with_mixed_line_ends_is_not_changed() {
    let text = SHORT.replacen('\n', "\r\n", 1);
    let messages = set(FileKind::Schedule, &text, &[("work.count", "2")]).unwrap_err();
    assert_eq!(messages, ["the file mixes two kinds of line ends"]);
}

#[test]
fn setting_a_key_changes_one_line_of_every_example() {
    for (folder, file, path, line) in [
        ("schedules", FileKind::Schedule, "work.wall_millimetre", "wall_millimetre = 0.625"),
        ("furnaces", FileKind::Profile, "limits.firing_max_hour", "firing_max_hour = 0.625"),
        ("furnaces", FileKind::Profile, "gains[2].at_celsius", "at_celsius = 0.625"),
    ] {
        for example in examples(folder) {
            let text = fs::read_to_string(&example).unwrap();
            let after = set(file, &text, &[(path, "0.625")]).unwrap();
            let pairs: Vec<_> =
                text.lines().zip(after.lines()).filter(|(a, b)| a != b).collect();
            assert_eq!(pairs.len(), 1, "{pairs:?}");
            assert!(pairs[0].1.starts_with(line), "{pairs:?}");
            assert_eq!(text.lines().count(), after.lines().count());
        }
    }
}
