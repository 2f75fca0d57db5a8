//! Messages about invalid options and odd files, and output for several files.

use serde_json::Value;

use super::bench::{Bench, GOOD, docs, good_furnace};

#[test]
fn an_error_about_an_option_lists_the_valid_values() {
    let bench = Bench::with(GOOD);
    for (arguments, why) in [
        (["--seed", "abc"], "give a whole number from 0 to 18446744073709551615"),
        (["--seed", "-1"], "give a whole number from 0 to"),
        (["--operator", "1e99"], "give 0 to 86400 seconds"),
        (["--operator", "soon"], "give a number, such as 45 or 2.5"),
        (["--mains", "-90"], "give 70 to 120 percent"),
        (["--mains", "90,5"], "write 90.5 with a decimal point"),
        (
            ["--fault", "control-open@"],
            "a number is missing after `@`: such as control-open@45",
        ),
        (["--fault", "control-open"], "give a fault and a minute"),
        (["--fault", "control-opn@5"], "did you mean `control-open`?"),
        (["--fault", "fire@5"], "there is no fault `fire`; `saggar keys faults` lists them"),
    ] {
        let result = bench.run(&[&["rehearse", "job.toml"][..], &arguments].concat());
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
        assert!(result.err.replace("\n  ", " ").contains(why), "{}", result.err);
    }
}

#[test]
fn errors_fit_a_narrow_screen() {
    let bench = Bench::with(GOOD);
    for arguments in [
        &["new", "infiltrate-alumna"][..],
        &["rehearse", "job.toml", "--fault", "fire@5"],
        &["compile", "job.toml", "-o", "job.toml"],
    ] {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_saggar"));
        command.args(arguments).current_dir(bench.path(".")).env("COLUMNS", "40");
        let err = String::from_utf8(command.output().unwrap().stderr).unwrap();
        assert!(err.lines().count() > 1, "{err}");
        for line in err.lines() {
            assert!(line.chars().count() <= 40, "{line}: {err}");
        }
    }
}

#[test]
fn a_usage_error_is_json_with_json() {
    let bench = Bench::with(GOOD);
    for (arguments, why) in [
        (&["rehearse", "job.toml", "--json", "--seed", "abc"][..], "give a whole number"),
        (&["chekc", "--json"], "chekc"),
        (&["rehearse", "--json"], "<SCHEDULE>"),
        (&["--json"], "no command is given"),
    ] {
        let result = bench.run(arguments);
        assert_eq!((result.code, result.err.as_str()), (2, ""), "{result:#?}");
        let json: Value = serde_json::from_str(&result.out).unwrap();
        assert_eq!(json["ok"], false);
        let error = json["error"].as_str().unwrap();
        assert!(error.contains(why) && !error.contains("Usage"), "{error}");
    }
    let result = bench.run(&["check", "--json", "--help"]);
    assert!(
        result.code == 0 && result.out.contains("Examples:"),
        "help is no error: {result:?}"
    );
}

#[test]
fn help_fits_a_narrow_screen() {
    for command in [
        "new",
        "man",
        "completions",
        "keys",
        "set",
        "check",
        "rehearse",
        "compile",
        "show",
        "replay",
        "trips",
        "device key new",
        "device settings",
        "device info",
        "device upload",
        "device watch",
        "device log",
        "device stop",
        "device messages",
    ] {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_saggar"))
            .args(command.split(' '))
            .arg("--help")
            .env("COLUMNS", "50")
            .output()
            .unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        let (_, examples) = text.split_once("\nExamples:\n").unwrap();
        for line in examples.lines() {
            assert!(line.len() <= 48, "{line}");
            let indented = line.is_empty() || line.ends_with(':') || line.starts_with("  ");
            assert!(indented, "torn: {line}");
        }
    }
}

/// The page on commands and the help list the same exit codes.
#[test]
fn help_and_page_list_the_same_exit_codes() {
    let help = Bench::with(GOOD).run(&["--help"]).out;
    let page = std::fs::read_to_string(docs().join("commands.md")).unwrap();
    let codes = |text: &str, title: &str, before: &str| -> Vec<String> {
        let (_, list) = text.split_once(title).unwrap();
        let lines = list.lines().skip(1).take_while(|line| !line.is_empty());
        let code = |line: &str| {
            let digit = line.strip_prefix(before)?.chars().next()?;
            digit.is_ascii_digit().then(|| digit.to_string())
        };
        lines.filter_map(code).collect()
    };
    let of_help = codes(&help, "Exit codes:", "  ");
    assert_eq!(of_help, ["0", "1", "2", "3"]);
    assert_eq!(codes(&page, "Exit codes:\n", "| "), of_help);
}

#[test]
fn one_bracket_instead_of_two_is_reported_once() {
    let result = Bench::with(GOOD.replace("[[stage]]", "[stage]")).run(&["check", "job.toml"]);
    assert_eq!(result.code, 2);
    assert!(result.err.contains("[stage] is here a second time"), "{}", result.err);
    assert!(result.err.contains("write [[stage]] with two brackets"), "{}", result.err);
    assert!(result.err.ends_with("\n1 error in 1 file\n"), "{}", result.err);
}

#[test]
fn a_misspelt_section_is_one_diagnostic() {
    Bench::changed("[work]", "[wrok]").refuses(
        "job.toml:4:2",
        "unknown key `wrok` at the top",
        "did you mean `work`?",
    );
}

#[test]
fn a_compiled_programme_is_refused_as_a_schedule() {
    let bench = Bench::with(GOOD);
    assert_eq!(bench.run(&["compile", "job.toml", "-o", "job.programme"]).code, 0);
    let bytes = std::fs::read(bench.path("job.programme")).unwrap();
    bench.write("job.toml", bytes);
    bench.refuses("job.toml", "this is a compiled programme", "`saggar show` reads programmes");
}

#[test]
fn only_optional_keys_may_be_left_out() {
    let help = |bench: Bench| {
        let result = bench.run(&["check", "job.toml"]);
        result.err.lines().nth(1).unwrap().trim().to_owned()
    };
    let required = help(Bench::changed("name = \"Coping\"", "name = \" \""));
    assert_eq!(required, "help: write at least one letter");
    let optional = help(Bench::changed("name = \"infiltrate\"", "name = \" \""));
    assert_eq!(optional, "help: write at least one letter, or leave the key out");
}

#[cfg(unix)]
#[test]
fn a_link_to_itself() {
    let bench = Bench::with(GOOD);
    std::fs::remove_file(bench.path("job.toml")).unwrap();
    std::os::unix::fs::symlink("job.toml", bench.path("job.toml")).unwrap();
    bench.refuses("job.toml", "this link leads back to itself", "should lead to");
}

#[test]
fn work_that_does_not_fit_on_the_table() {
    let area = "area_square_millimetre = 220";
    Bench::changed(area, "area_square_millimetre = 220\ncount = 20").refuses(
        "job.toml:8:9",
        "20 pieces of 220 mm² take 4400 mm², and the table of Dunlin has 4071 mm²",
        "fire at most 18 at once",
    );
    Bench::changed(area, "area_square_millimetre = 5000").refuses(
        "job.toml:7:26",
        "the piece takes 5000 mm², and the table of Dunlin has 4071 mm²",
        "correct `area_square_millimetre`",
    );
    let five = "area_square_millimetre = 220\ncount = 18";
    assert_eq!(Bench::changed(area, five).run(&["check", "job.toml"]).code, 0);
}

#[test]
fn material_figures_out_of_range() {
    Bench::changed("[work.coat]", "[work.body_values]\nporosity_percent = 0\n\n[work.coat]")
        .refuses("job.toml:10:20", "`porosity_percent` is 0", "allowed: 1 to 70");
    Bench::changed(
        "thickness_millimetre = 0.38",
        "thickness_millimetre = 0.38\n\n[work.coat.glass_values]\nviscosity_a = -10",
    )
    .refuses("job.toml:14:15", "below that of any molten glass", "a + b / (T - t0)");
}

#[test]
fn compile_never_writes_over_the_furnace_or_to_nowhere() {
    let bench = Bench::with(GOOD);
    for (to, why) in [
        ("furnace.toml", "it is the furnace profile"),
        ("./furnace.toml", "it is the furnace profile"),
        ("-", "- is no file: name one"),
    ] {
        let result = bench.run(&["compile", "job.toml", "--force", "-o", to]);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
        assert!(result.err.contains(why), "{}", result.err);
    }
    assert_eq!(std::fs::read_to_string(bench.path("furnace.toml")).unwrap(), good_furnace());
    bench.write("other.toml", good_furnace());
    let furnace = ["compile", "job.toml", "--force", "--furnace", "other.toml", "-o"];
    assert_eq!(bench.run(&[&furnace[..], &["other.toml"]].concat()).code, 2);
}

#[test]
fn show_with_a_digest_refuses_any_other_programme() {
    let bench = Bench::with(GOOD);
    let compile = ["compile", "job.toml", "-o", "job.programme", "--json"];
    let compiled: Value = serde_json::from_str(&bench.run(&compile).out).unwrap();
    let digest = compiled["programme"]["digest"].as_str().unwrap();
    for right in [digest, &digest[..8], &digest[..9].to_uppercase()] {
        assert_eq!(bench.run(&["show", "job.programme", "--digest", right]).code, 0);
    }
    let result = bench.run(&["show", "job.programme", "--digest", "0123456789"]);
    assert_eq!((result.code, result.out.as_str()), (2, ""));
    let why = format!("its digest is {}, not 0123456789", &digest[..10]);
    assert!(result.err.contains(&why) && result.err.contains("altered"), "{}", result.err);
    for odd in ["a896", "a89609ax"] {
        let result = bench.run(&["show", "job.programme", "--digest", odd]);
        assert!(result.code == 2 && result.err.contains("first 8 or more"), "{}", result.err);
    }
}

#[test]
fn several_files_keep_their_order_with_a_line_between() {
    let bench = Bench::with(GOOD);
    bench.write("also.toml", GOOD.replace("Coping", "Another"));
    let result = bench.run(&["check", "job.toml", "also.toml"]);
    assert!(result.out.starts_with("job.toml: good\n"), "{}", result.out);
    assert!(result.out.contains("from 600 °C\n\nalso.toml: good\n"), "{}", result.out);
    bench.write("bad.toml", "name = 3\n");
    bench.write("worse.toml", "nmae = 3\n");
    let result = bench.run(&["check", "worse.toml", "job.toml", "bad.toml"]);
    assert!(result.err.starts_with("worse.toml:"), "{}", result.err);
    assert!(result.err.contains("\n\nbad.toml:1:1"), "{}", result.err);
    assert!(result.err.ends_with(" in 2 files\n"), "{}", result.err);
}

#[test]
fn the_folder_for_own_files_is_ignored_by_git() {
    // The documents tell users to keep their own files there; they must not get into the source.
    let ignored = std::fs::read_to_string(docs().join("../.gitignore")).unwrap();
    assert!(ignored.lines().any(|line| line == "/mine"), "{ignored}");
}
