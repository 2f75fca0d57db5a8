//! Verdicts that are not known: exit code, mark, and the reason that lets a programme go on.

use super::bench::{Bench, GOOD};
use super::rehearsals::{SHORT, json};

/// The text of a run on one line.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A short firing of bare work that is to be infiltrated: nothing can be said about the glass.
fn undecided() -> Bench {
    let purpose = "body = \"alumina\"\npurpose = \"infiltrate\"";
    Bench::with(SHORT.replace("body = \"alumina\"", purpose))
}

const HELP: &str = "Not cleared for upload: the verdict is NOT KNOWN. Rehearse with --reason TEXT to let it \
                    go on all the same";

#[test]
fn it_has_an_exit_code_a_mark_and_no_clearance() {
    let bench = undecided();
    let result = bench.run(&["rehearse", "job.toml"]);
    assert_eq!(result.code, 3, "{result:#?}");
    let text = words(&result.out);
    let heading = "NOT KNOWN: 1 of 6 checks could not be decided: Infiltrated through";
    assert_eq!(text.matches(heading).count(), 2, "{text}");
    let finding =
        "\nNOT KNOWN Infiltrated through: the schedule says that this fire infiltrates";
    assert!(result.out.contains(finding), "{}", result.out);
    assert!(text.ends_with(HELP), "{text}");
    assert!(!bench.path("rehearsals/job/clearance.json").exists());
    let verdict = json(&bench.run(&["rehearse", "job.toml", "--json"]));
    assert_eq!((&verdict["result"], &verdict["passed"]), (&"not-known".into(), &false.into()));
    assert_eq!((&verdict["reason"], &verdict["ok"]), (&serde_json::Value::Null, &true.into()));
    let outcomes = verdict["findings"].as_array().unwrap().iter();
    let unknown = outcomes.filter(|finding| finding["outcome"] == "not-known");
    assert_eq!(unknown.count(), 1, "{verdict}");
}

#[test]
fn a_reason_clears_it_and_is_shown_everywhere() {
    let bench = undecided();
    let reason = "a trial on a scrap coping, K. N.";
    let result = bench.run(&["rehearse", "job.toml", "--reason", reason]);
    assert_eq!(result.code, 3, "{result:#?}");
    let end = format!(
        "Cleared for upload: rehearsals/job/clearance.json Cleared although the verdict is NOT KNOWN, \
         for this reason: {reason}"
    );
    assert!(words(&result.out).ends_with(&end), "{}", result.out);
    for file in ["clearance.json", "verdict.json", "report.html"] {
        let text = std::fs::read_to_string(bench.path("rehearsals/job").join(file)).unwrap();
        assert!(text.contains(reason), "{file}");
    }
    // Another run without one takes it away.
    assert_eq!(bench.run(&["rehearse", "job.toml"]).code, 3);
    assert!(!bench.path("rehearsals/job/clearance.json").exists());
}

#[test]
fn a_reason_clears_nothing_that_fails_or_was_fired_otherwise() {
    let bench = undecided();
    let fired = |more: &[&str]| {
        let args = ["rehearse", "job.toml", "--out", "it", "--reason", "why not"];
        let result = bench.run(&[&args[..], more].concat());
        (result.code, words(&result.out), bench.path("it/clearance.json").exists())
    };
    let (code, text, cleared) = fired(&["--mains", "90"]);
    assert!(code == 3 && !cleared, "{text}");
    assert!(text.ends_with("Not cleared for upload: --mains was not 100 %"), "{text}");
    let page = std::fs::read_to_string(bench.path("it/report.html")).unwrap();
    assert!(!page.contains("why not"), "a reason that cleared nothing is not shown");
    let (code, text, cleared) = fired(&["--fault", "element-open@1"]);
    assert!(code == 1 && !cleared, "{text}");
    assert!(text.contains("--reason was not used: only a verdict that is NOT KNOWN"), "{text}");
}

#[test]
fn a_reason_for_a_verdict_that_passes_is_not_kept() {
    let bench = Bench::with(SHORT);
    let result = bench.run(&["rehearse", "job.toml", "--reason", "just in case"]);
    assert_eq!(result.code, 0, "{result:#?}");
    assert!(words(&result.out).contains("--reason was not used: "), "{}", result.out);
    let clearance =
        std::fs::read_to_string(bench.path("rehearsals/job/clearance.json")).unwrap();
    assert!(!clearance.contains("reason"), "{clearance}");
}

#[test]
fn a_reason_is_one_legible_line() {
    let bench = undecided();
    for (reason, why) in [
        ("", "the reason is empty"),
        (" ", "the reason is empty"),
        ("a\u{202e}b", "hidden characters: U+202E is one"),
        ("a\nb", "hidden characters: U+000A is one"),
        ("a\u{1b}[31mb", "invalid value 'a\\u{1b}[31mb'"),
        (&*"x".repeat(201), "at most 200 characters"),
    ] {
        let result = bench.run(&["rehearse", "job.toml", "--reason", reason]);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
        assert!(words(&result.err).contains(why), "{result:#?}");
        let quotes_raw = reason.contains(char::is_control) && result.err.contains(reason);
        assert!(!quotes_raw, "{result:#?}");
    }
    let result = bench.run(&["rehearse", "job.toml", "--no-report", "--reason", "why not"]);
    assert_eq!(result.code, 2, "{result:#?}");
}

/// The ramp that a published trial found too slow, on an infiltration that passes with a faster one.
#[test]
fn a_slow_ramp_is_not_known_and_says_what_the_model_says() {
    let ramp = "to_celsius = 1120, minutes = 20";
    let slow = GOOD.replace(ramp, "to_celsius = 1120, kelvin_per_minute = 5");
    // So even a coat stays where it is for two hours.
    let even = "thickness_millimetre = 0.34\nthickness_tolerance_millimetre = 0.02\n\
                bare_rim_millimetre = 3";
    let slow = slow.replace("thickness_millimetre = 0.38", even);
    let bench = Bench::with(slow.replace("minutes = 30", "minutes = 120"));
    let result = bench.run(&["rehearse", "job.toml", "--json"]);
    assert_eq!(result.code, 3, "{result:#?}");
    let verdict = json(&result);
    let findings = verdict["findings"].as_array().unwrap().iter();
    let unknown: Vec<_> = findings.filter(|f| f["outcome"] == "not-known").collect();
    assert_eq!(unknown.len(), 1, "{unknown:#?}");
    let sentence = unknown[0]["sentence"].as_str().unwrap();
    assert!(
        sentence.contains(" K/min on average, slower than 10 K/min, a bound of our own"),
        "{sentence}"
    );
    assert!(sentence.contains("The model, which leaves this out, says: yes, "), "{sentence}");
}
