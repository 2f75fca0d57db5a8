//! Errors inside a schedule: a test for each, with line, column and cure.

use super::bench::{Bench, GOOD};

/// `name: text in the valid schedule => its replacement; location, message, cure`.
macro_rules! refused {
    ($($name:ident: $from:expr => $to:expr; $place:expr, $message:expr, $cure:expr;)+) => {$(
        #[test]
        fn $name() {
            let place = concat!("job.toml:", $place);
            Bench::changed($from, $to).refuses(place, $message, $cure);
        }
    )+};
}

refused! {
    a_misspelt_key:
        "to_celsius = 300" => "to_celcius = 300";
        "14:10", "unknown key `to_celcius` in `stage.ramp`",
        "did you mean `to_celsius`? allowed here: `to_celsius`, `kelvin_per_minute`, `minutes`";
    an_unknown_key_without_a_near_one:
        "name = \"infiltrate\"" => "name = \"infiltrate\"\nxyzzy = 1";
        "25:1", "unknown key `xyzzy` in `stage`", "allowed here: `name`, `ramp`";
    a_missing_key:
        "wall_millimetre = 0.5\n" => "";
        "4:1", "there is no `wall_millimetre` in `work`", "a number from 0.1 to 5";
    a_key_given_twice:
        "wall_millimetre = 0.5" => "wall_millimetre = 0.5\nwall_millimetre = 0.6";
        "7:1", "`wall_millimetre` is given twice", "remove one";
    not_a_number:
        "to_celsius = 300" => "to_celsius = nan";
        "14:23", "`to_celsius` is nan", "write a plain number";
    an_infinite_number:
        "minutes = 30" => "minutes = inf";
        "23:20", "`minutes` is inf", "write a plain number";
    a_negative_time:
        "minutes = 30" => "minutes = -30";
        "23:20", "`minutes` is -30, which is too small", "allowed: 0.01 to 2880";
    a_number_of_too_many_digits:
        "minutes = 30" => "minutes = 99999999999999999999999";
        "23:20", "too many digits", "write a plain number";
    text_for_a_number:
        "minutes = 30" => "minutes = \"30\"";
        "23:20", "must be a number, and \"30\" is text", "take the quotation marks away: 30";
    a_ramp_that_ends_below_the_room:
        "to_celsius = 300" => "to_celsius = 21";
        "14:23", "Dunlin never gets to 21 °C: its room has 23 °C", "write more than 23";
    a_cool_stage_that_ends_at_the_room:
        "below_celsius = 450" => "below_celsius = 23";
        "27:26", "Dunlin never gets to 23 °C: its room has 23 °C", "write more than 23";
    a_unit_in_the_value:
        "minutes = 30" => "minutes = \"30 min\"";
        "23:20", "must be a number", "its unit is in the key";
    a_decimal_comma:
        "to_celsius = 300" => "to_celsius = 300,5";
        "14:23", "`300,5` has a decimal comma", "write it with a point: 300.5";
    a_decimal_comma_in_quotes:
        "wall_millimetre = 0.5" => "wall_millimetre = \"0,5\"";
        "6:19", "decimal comma: \"0,5\"", "without quotation marks: 0.5";
    a_number_for_text:
        "name = \"infiltrate\"" => "name = 7";
        "24:8", "`name` must be text, and this is a number", "quotation marks";
    a_wrong_word:
        "\"alumina\"" => "\"alumnia\"";
        "5:8", "`body` is \"alumnia\"", "did you mean \"alumina\"?";
    an_unknown_glass:
        "\"lanthanum-glass\"" => "\"window\"";
        "10:9", "`glass` is \"window\"", "allowed: \"lanthanum-glass\"";
    text_that_does_not_end:
        "name = \"infiltrate\"" => "name = \"infiltrate";
        "24:18", "this is not TOML", "between two straight quotation marks";
    a_control_character_in_a_name:
        "name = \"Coping\"" => "name = \"Cop\\u001b[31ming\"";
        "1:8", "hidden character, U+001B", "visible characters and plain spaces only";
    a_raw_control_character:
        "name = \"Coping\"" => "name = \"Cop\x1b[31ming\"";
        "1:12", "this is not TOML", "invisible character";
    a_mark_of_the_reading_direction_in_a_name:
        "name = \"Coping\"" => "name = \"Cop\u{202e}ing\"";
        "1:8", "hidden character, U+202E", "direction marks";
    an_invisible_letter_in_a_name:
        "name = \"Coping\"" => "name = \"Cop\u{3164}ing\"";
        "1:8", "hidden character, U+3164", "invisible letters or blanks";
    a_no_break_space_in_a_name:
        "name = \"Coping\"" => "name = \"Cop\u{a0}ing\"";
        "1:8", "hidden character, U+00A0", "plain spaces";
    an_unseen_mark_in_the_name_of_a_stage:
        "name = \"infiltrate\"" => "name = \"infil\u{fe0f}trate\"";
        "24:8", "hidden character, U+FE0F", "visible characters and plain spaces only";
    a_name_of_33_bytes:
        "name = \"Coping\"" => "name = \"Coping, Coping, Coping and Copi\u{fc}\"";
        "1:8", "`name` is 33 bytes long", "at most 32 bytes";
    a_blank_name:
        "name = \"Coping\"" => "name = \"  \"";
        "1:8", "`name` is blank", "at least one letter";
    a_stage_that_does_two_things:
        "cool = {" => "soak = { minutes = 1, band_kelvin = 5 }\ncool = {";
        "28:1", "this one has `soak` and `cool`", "[[stage]] of its own";
    a_stage_that_does_nothing:
        "cool = { below_celsius = 450 }" => "";
        "26:1", "this stage does nothing", "ramp, soak, vacuum, cool, opening, hold";
    a_ramp_with_rate_and_time:
        "kelvin_per_minute = 10" => "kelvin_per_minute = 10, minutes = 5";
        "14:52", "this one has both", "keep `kelvin_per_minute` or `minutes`";
    a_ramp_with_neither:
        ", kelvin_per_minute = 10" => "";
        "14:8", "has neither a rate nor a time", "`minutes = 30`";
    a_ramp_to_the_present_setpoint:
        "to_celsius = 300, kelvin_per_minute = 10" => "to_celsius = 25, minutes = 10";
        "14:37", "the setpoint is 25 °C already", "use a soak";
    a_ramp_by_minutes_from_an_unknown_temperature:
        "ramp = { to_celsius = 300, kelvin_per_minute = 10 }" =>
            "opening = { position = \"shut\", minutes = 1 }";
        "20:39", "temperature from which this ramp starts", "give `kelvin_per_minute` instead";
    a_vacuum_until_an_unknown_stage:
        "until_end_of = \"infiltrate\"" => "until_end_of = \"infiltrat\"";
        "17:88", "no later stage is named \"infiltrat\"", "did you mean \"infiltrate\"?";
    a_vacuum_that_never_begins:
        "from_celsius = 600" => "from_celsius = 1150";
        "17:27", "the pump would never start", "reach 1120 °C at most";
    two_stages_of_one_name:
        "cool = { below_celsius = 450 }" =>
            "opening = { position = \"shut\", minutes = 1 }\nname = \"infiltrate\"";
        "28:8", "stage 4 has the name \"infiltrate\", too", "its own name";
    a_pressure_below_the_pumps:
        "to_hectopascal = 50" => "to_hectopascal = 1";
        "17:49", "1 hPa is outside the pressures that Dunlin can reach", "allowed: ";
    too_hot_for_the_furnace:
        "to_celsius = 1120" => "to_celsius = 1250";
        "20:23", "1250 °C is above the ", "lower it to ";
    too_fast_for_the_furnace:
        "kelvin_per_minute = 10" => "kelvin_per_minute = 500";
        "14:48", "500 K/min is faster than the ", "lower the rate to ";
    too_fast_by_its_time:
        "minutes = 20" => "minutes = 2";
        "20:39", "410 K/min is faster than the ", "more minutes";
    a_soak_before_any_ramp:
        "ramp = { to_celsius = 300, kelvin_per_minute = 10 }" =>
            "soak = { minutes = 10, band_kelvin = 5 }";
        "14:1", "this soak comes before any ramp", "put a ramp before it";
    heat_in_an_open_chamber:
        "cool = { below_celsius = 450 }" =>
            "opening = { position = \"open\", minutes = 1 }\n\n[[stage]]\n\
             ramp = { to_celsius = 900, kelvin_per_minute = 10 }";
        "30:1", "this ramp would heat an open chamber", "shut it first";
    longer_than_the_furnace_allows:
        "minutes = 30" => "minutes = 2880";
        "14:1", "the firing takes ", "split the schedule in two";
    a_question_without_a_hold:
        "name = \"infiltrate\"" => "question = \"Done?\"\nname = \"infiltrate\"";
        "24:12", "only a hold has a question", "remove the question";
    a_tie_of_errors_without_a_fit:
        "body = \"alumina\"" => "body = \"alumina\"\nbody_values.radius_viscosity_correlation = 0.8";
        "6:13", "tied only by a fit of your own", "give `pore_radius_nanometre`";
    roughness_without_infiltrated:
        "body = \"alumina\"" => "body = \"alumina\"\nroughness_micrometre = 8";
        "6:1", "infiltrated before", "add `infiltrated = true`";
    a_recipe_without_its_water:
        "thickness_millimetre = 0.38" => "thickness_millimetre = 0.38\npowder_gram = 12";
        "12:1", "the recipe has powder but no water", "add `water_gram`";
    a_recipe_without_its_powder:
        "thickness_millimetre = 0.38" => "thickness_millimetre = 0.38\nwater_gram = 4";
        "12:1", "the recipe has water but no powder", "add `powder_gram`";
    a_slurry_too_dry_to_flow:
        "thickness_millimetre = 0.38" =>
            "thickness_millimetre = 0.38\npowder_gram = 10\nwater_gram = 1.5";
        "13:14", "the powder would be 67 % of the volume", "at least 1.75 g of water on 10 g of powder";
    a_powder_too_light_for_the_usual_recipe:
        "thickness_millimetre = 0.38" =>
            "thickness_millimetre = 0.38\nglass_values = { kilogram_per_cubic_metre = 1500 }";
        "12:45", "the powder would be 69 % of the volume", "at least 3.75 g of water on 10 g of powder";
    a_rim_as_high_as_the_wall:
        "thickness_millimetre = 0.38" => "thickness_millimetre = 0.38\nbare_rim_millimetre = 8";
        "12:23", "the bare rim is 8 mm, and a wall of 220 mm² is taken as 7.4 mm high", "less than 7.4 mm";
    a_wall_lower_than_the_usual_rim:
        "area_square_millimetre = 220" => "area_square_millimetre = 10";
        "7:26", "the bare rim is 2 mm, and a wall of 10 mm² is taken as 1.6 mm high", "less than 1.5 mm";
    a_roughness_deeper_than_the_skin:
        "220\n\n[work.coat]" =>
            "220\ninfiltrated = true\nroughness_micrometre = 400\n\n[work.coat]";
        "9:24", "the roughness is 400 µm, and the skin of glass only 380 µm thick", "no deeper";
    a_skin_thinner_than_the_usual_roughness:
        "220\n\n[work.coat]\nglass = \"lanthanum-glass\"\nthickness_millimetre = 0.38" =>
            "220\ninfiltrated = true\n\n[work.coat]\nglass = \"lanthanum-glass\"\nthickness_millimetre = 0.005";
        "12:24", "the roughness is 8 µm, and the skin of glass only 5 µm thick", "no deeper";
    a_recipe_for_infiltrated_work:
        "220\n\n[work.coat]" =>
            "220\ninfiltrated = true\n\n[work.coat]\npowder_gram = 10\nwater_gram = 3";
        "11:1", "infiltrated work has a skin of plain glass", "remove `powder_gram` and `water_gram`";
    a_share_of_glass_as_it_was_once_stated:
        "thickness_millimetre = 0.38" => "thickness_millimetre = 0.38\nglass_share_percent = 55";
        "12:1", "unknown key `glass_share_percent`", "`powder_gram = 10` and `water_gram = 3`";
    a_share_of_water_as_it_was_once_stated:
        "thickness_millimetre = 0.38" => "thickness_millimetre = 0.38\nwater_percent = 30";
        "12:1", "unknown key `water_percent`", "`powder_gram = 10` and `water_gram = 3`";
    a_melt_back_of_porous_work:
        "body = \"alumina\"" => "body = \"alumina\"\npurpose = \"melt-back\"";
        "6:11", "only work that was infiltrated before", "add `infiltrated = true`";
    a_cleaning_fire_with_a_coat:
        "body = \"alumina\"" => "body = \"alumina\"\npurpose = \"clean\"";
        "6:11", "a cleaning fire has no coat", "say `purpose = \"infiltrate\"`";
    an_infiltration_of_infiltrated_work:
        "body = \"alumina\"" => "body = \"alumina\"\npurpose = \"infiltrate\"\ninfiltrated = true";
        "6:11", "its pores are full of glass", "say `purpose = \"melt-back\"`";
    a_cleaning_fire_of_infiltrated_work:
        "body = \"alumina\"" => "body = \"alumina\"\npurpose = \"clean\"\ninfiltrated = true";
        "6:11", "would melt its glass", "say `purpose = \"melt-back\"`";
    a_purpose_that_is_none:
        "body = \"alumina\"" => "body = \"alumina\"\npurpose = \"glaze\"";
        "6:11", "purpose", "melt-back";
    a_section_of_one_bracket:
        "[work.coat]" => "[[work.coat]]";
        "9:1", "`work.coat` must be a section, and this is a list", "[work.coat]";
    a_windows_path_in_quotation_marks:
        "\"furnace.toml\"" => "\"C:\\Users\\me\\oven.toml\"";
        "2:16", "TOML reads a backslash", "in a path write / instead of \\";
    a_windows_path_with_an_escape_cut_short:
        "\"furnace.toml\"" => "\"C:\\x\"";
        "2:16", "TOML reads a backslash", "or put it between ' '";
    a_windows_path_with_an_unknown_escape:
        "\"furnace.toml\"" => "\"C:\\oven.toml\"";
        "2:15", "TOML reads a backslash", "or put it between ' '";
    a_windows_path_with_a_known_escape:
        "\"furnace.toml\"" => "\"C:\\temp\\new.toml\"";
        "2:11", "hidden character, U+0009", "so write / instead of \\";
    a_furnace_that_is_not_there:
        "\"furnace.toml\"" => "\"furnac.toml\"";
        "2:11", "furnace profile furnac.toml: there is no such file", "schedule's own folder";
    no_furnace_at_all:
        "furnace = \"furnace.toml\"\n" => "";
        "1:1", "the schedule names no furnace", "--furnace";
}

#[test]
fn sixty_five_stages() {
    let (head, _) = GOOD.split_once("[[stage]]").unwrap();
    let stages = |count: usize| -> String {
        let stage =
            |i| format!("[[stage]]\nramp = {{ to_celsius = {}, minutes = 5 }}\n", 100 + i);
        (0..count).map(stage).collect()
    };
    let bench = Bench::with(format!("{head}{}", stages(65)));
    bench.refuses("job.toml:142:1", "this is step 65 of 65", "split the schedule in two");
    bench.write("job.toml", format!("{head}{}", stages(64)));
    assert_eq!(bench.run(&["check", "job.toml"]).code, 0);
}

#[test]
fn all_errors_are_reported_at_once_and_in_order() {
    let text = GOOD
        .replace("body = \"alumina\"", "body = \"alumnia\"")
        .replace("to_celsius = 300", "to_celcius = 300")
        .replace("to_celsius = 1120", "to_celsius = 1250")
        .replace("band_kelvin = 5", "band_kelvin = \"5\"")
        .replace("below_celsius = 450", "below_celsius = -450");
    let result = Bench::with(text).run(&["check", "job.toml"]);
    let places: Vec<&str> = result
        .err
        .lines()
        .filter_map(|line| line.strip_prefix("job.toml:"))
        .filter_map(|rest| rest.split_once(": ").map(|(place, _)| place))
        .collect();
    assert_eq!(places, ["5:8", "14:10", "20:23", "23:38", "27:26"], "{}", result.err);
    assert!(result.err.ends_with("5 errors in 1 file\n"), "{}", result.err);
}

#[test]
fn a_vacuum_covers_an_opening() {
    let text = GOOD.replace("until_end_of = \"infiltrate\"", "until_end_of = \"air\"");
    Bench::with(format!("{text}name = \"air\"\n")).refuses(
        "job.toml:30:1",
        "cannot be opened or shut under vacuum",
        "end the vacuum of stage 2",
    );
}

#[test]
fn two_vacuums_overlap() {
    let vacuum = "vacuum = { from_celsius = 700, to_hectopascal = 50, within_minutes = 3, \
                  until_end_of = \"infiltrate\" }\n\n[[stage]]\nsoak = {";
    Bench::changed("soak = {", vacuum).refuses(
        "job.toml:23:1",
        "begins before that of stage 2 has ended",
        "or remove this one",
    );
}

#[test]
fn a_vacuum_is_last() {
    let text = format!(
        "{GOOD}\n[[stage]]\nvacuum = {{ from_celsius = 600, to_hectopascal = 50, \
         within_minutes = 3, until_end_of = \"infiltrate\" }}\n"
    );
    Bench::with(text).refuses("job.toml:33:1", "no stage follows this vacuum", "move it up");
}

#[test]
fn a_furnace_without_a_pump() {
    let bench = Bench::with(GOOD);
    let furnace = super::bench::good_furnace();
    let (head, rest) = furnace.split_once("[vacuum]").unwrap();
    let (_, tail) = rest.split_once("[mains]").unwrap();
    bench.write("furnace.toml", format!("{head}[mains]{tail}"));
    bench.refuses("job.toml:17:1", "Dunlin has no pump", "remove the vacuum stage");
}
