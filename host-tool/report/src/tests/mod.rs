//! Tests of the page, the chart and the files of a report.

mod axes;
mod files;
mod looks;

use saggar_bench::trace::{Measurements, Row, Trace};
use saggar_plant::plant::ModelState;
use saggar_verdict::format::Scale;
use saggar_verdict::{Doubt, Finding, Outcome, StageLabel, Subject, Unknown, Verdict, Wording};

use super::fixture::{kept, report, trace, tripped};
use super::{Report, ReportKind};

/// Most bytes of a page.
const PAGE_MAX: usize = 1_000_000;

/// The text of an element of a page, from its opening to its closing tag.
fn element<'p>(page: &'p str, open: &str, close: &str) -> &'p str {
    let from = page.find(open).expect("opens") + open.len();
    let to = page.get(from..).and_then(|rest| rest.find(close)).expect("closes");
    page.get(from..from + to).expect("between")
}

fn model(page: &str) -> serde_json::Value {
    let data = element(page, "<script type=\"application/json\" id=\"model\">", "</script>");
    serde_json::from_str(data).expect("data are JSON")
}

/// The drawing inside a page, and the chart as a file, must be well formed.
fn well_formed(report: &Report<'_>) -> (String, String) {
    let (page, svg) = (report.html().expect("page"), report.svg());
    roxmltree::Document::parse(&svg).expect("well formed");
    #[cfg(feature = "png")]
    resvg::usvg::Tree::from_str(&svg, &resvg::usvg::Options::default()).expect("a drawing");
    for text in [&page, &svg] {
        assert!(
            !text.contains("NaN") && !text.contains("inf,"),
            "a value that is not a number"
        );
        assert!(!text.contains("\"inf\"") && !text.contains("\"-inf\""));
    }
    assert!(page.len() < PAGE_MAX, "{} bytes", page.len());
    (page, svg)
}

#[test]
fn the_page_of_a_firing_is_small_and_loads_nothing() {
    let trace = trace();
    let (page, svg) = well_formed(&report(&trace, true));
    assert!(page.len() < 300_000, "{} bytes", page.len());
    for scheme in
        ["http://", "https://", "//fonts", "@import", "url(", " src=", "<link", "<base"]
    {
        assert!(!page.contains(scheme), "the page refers to {scheme}");
    }
    let addresses: Vec<_> = svg.match_indices("http").collect();
    assert_eq!(addresses.len(), 1, "only the SVG namespace is allowed: {addresses:?}");
    assert!(
        !page.contains("eval(") && !page.contains("innerHTML") && !page.contains("style=\"")
    );
}

#[test]
fn the_page_of_a_long_noisy_firing_stays_below_a_megabyte() {
    let mut trace = Trace::default();
    for second in 0..100_000_u32 {
        let noise = |salt: f64| (f64::from(second) * salt).sin();
        trace.rows.push(Row {
            at_s: f64::from(second),
            measured: Measurements {
                setpoint_c: (second % 7 != 0).then_some(1000.0 + 100.0 * noise(1.7)),
                sensor_c: (second % 3 != 0).then_some(1000.0 + 100.0 * noise(12.9898)),
                limit_c: (second % 5 != 0).then_some(1000.0 + 100.0 * noise(3.1)),
                duty: 0.5 + 0.5 * noise(4.1),
                ..Measurements::default()
            },
            modelled: Some(ModelState {
                piece_c: 900.0 + 300.0 * noise(78.233),
                muffle_c: 900.0 + 300.0 * noise(7.233),
                element_c: 900.0 + 300.0 * noise(3.77),
                pressure_pa: 1e4 * (2.0 + noise(5.3)),
                depth_m: 1e-3 * (1.0 + noise(2.9)),
                water_left: 0.5 + 0.5 * noise(9.1),
                lubricant_left: 0.5 + 0.5 * noise(8.3),
                opening: 0.5 + 0.5 * noise(6.1),
                ..ModelState::default()
            }),
        });
    }
    let (page, _) = well_formed(&report(&trace, true));
    assert!(page.contains("are thinned from the 100000 rows"));
    let model = super::model::model(&report(&trace, true));
    let piece =
        model.panels[0].curves.iter().find(|curve| curve.name == "piece").expect("a curve");
    let values = || piece.runs[0].iter().map(|point| point.1);
    let (low, high) = (values().fold(f64::MAX, f64::min), values().fold(f64::MIN, f64::max));
    assert!(low < 600.1 && high > 1199.9, "the peaks are gone: {low} to {high}");
    let crossings =
        piece.runs[0].windows(2).filter(|pair| (pair[0].1 < 900.0) != (pair[1].1 < 900.0));
    assert!(crossings.count() > 1000, "the noise is gone");
}

#[test]
fn thinned_curves_stay_within_the_deviation_that_the_page_states() {
    let trace = trace();
    let model = super::model::model(&report(&trace, true));
    let sensor =
        model.panels[0].curves.iter().find(|curve| curve.name == "sensor").expect("a curve");
    assert!(
        sensor.points_dropped > 0,
        "the curve was not thinned, so this test would test nothing"
    );
    let points = sensor.runs.first().expect("one run");
    for sample in &trace.rows {
        let next = points.iter().position(|(at_s, _)| *at_s >= sample.at_s).expect("a point");
        let (from, to) = (points[next.saturating_sub(1)], points[next]);
        let share = if to.0 > from.0 { (sample.at_s - from.0) / (to.0 - from.0) } else { 0.0 };
        let read = from.1 + share * (to.1 - from.1);
        let off = (read - sample.measured.sensor_c.expect("a reading")).abs();
        assert!(off <= sensor.deviation_max + 0.006, "{off} K off at {} s", sample.at_s);
    }
}

/// The report's verdict, with its infiltration not known.
fn undecided(mut report: Report<'_>) -> Report<'_> {
    let mut verdict = report.verdict.clone();
    for finding in &mut verdict.findings {
        if matches!(finding.subject, Subject::Infiltration { .. }) {
            let (modelled, reasons) = (finding.outcome, vec![Unknown::StillFlowing]);
            finding.outcome = Outcome::NotKnown;
            finding.doubt = Some(Doubt { modelled, reasons });
        }
    }
    report.verdict = kept(verdict);
    report
}

#[test]
fn a_verdict_that_is_not_known_has_a_look_of_its_own() {
    let trace = trace();
    let mut unknown = undecided(report(&trace, true));
    unknown.obstacles = vec!["the verdict is NOT KNOWN"];
    let (page, svg) = well_formed(&unknown);
    assert!(page.contains("<title>Not known · "), "{page:.400}");
    let head = element(&page, "<div class=\"verdict unknown\">", "</div>");
    assert!(head.contains("<strong>? Not known</strong> <span>1 of 3 checks could not be"));
    assert!(!head.contains("Confidence") && !head.contains("97 %"), "{head}");
    assert!(head.contains("<dd>not cleared: the verdict is NOT KNOWN</dd>"), "{head}");
    assert!(svg.contains("? NOT KNOWN: Infiltrate four copings"), "{svg:.900}");
    assert!(svg.contains("class=\"heading unknown\""));
    assert!(svg.contains("? through in the model at ") && !svg.contains("✓"), "{svg:.900}");
    // It stands unfolded, before what passed.
    let at = |text: &str| page.find(text).expect("text of the page");
    let finding = at("<span class=\"word\">? Not known</span>");
    assert!(finding < at("<details class=\"pass\">"));
    assert!(page.contains("The model, which leaves this out, says: yes,"));
    // After a failure it comes second.
    let both = undecided(report(&trace, false)).html().expect("page");
    let at = |text: &str| both.find(text).expect("text of the page");
    assert!(both.contains("<title>Fail · "));
    assert!(at("<li class=\"fail\">") < at("<li class=\"unknown\">"));
}

#[test]
fn the_reason_to_let_it_go_on_is_shown() {
    let trace = trace();
    let mut cleared = undecided(report(&trace, true));
    cleared.reason = Some("a <trial> on scrap");
    let page = cleared.html().expect("page");
    assert!(
        page.contains("<dd>cleared although the verdict is not known (clearance.json)</dd>")
    );
    assert!(page.contains("<dt>Cleared because</dt><dd>a &lt;trial&gt; on scrap</dd>"));
    let json: serde_json::Value =
        serde_json::from_str(&cleared.json().expect("json")).expect("json");
    assert_eq!(
        (&json["result"], &json["reason"]),
        (&"not-known".into(), &"a <trial> on scrap".into())
    );
    let outcomes: Vec<_> = json["findings"].as_array().expect("a list").iter().collect();
    let of = |word: &str| outcomes.iter().filter(|found| found["modelled"] == word).count();
    assert_eq!((of("pass"), of("fail"), outcomes.len()), (1, 0, 5));
    assert_eq!((&json["passed"], &json["basis"]), (&false.into(), &"simulation".into()));
    let passed = report(&trace, true);
    assert!(!passed.html().expect("page").contains("Cleared because"));
    assert!(passed.json().expect("json").contains("\"reason\": null"));
}

#[test]
fn a_record_says_that_it_is_one() {
    let trace = trace();
    let record = Report { kind: ReportKind::Recording, ..report(&trace, true) };
    let page = record.html().expect("page");
    assert!(page.contains("Record of a firing") && !page.contains("Rehearsal report"));
    assert!(
        page.contains("<dt>Basis</dt><dd>the sensors&#39; readings are recorded;")
            || page.contains("<dt>Basis</dt><dd>the sensors' readings are recorded;")
    );
    assert!(!page.contains("<dt>Upload</dt>") && !page.contains("This is a simulation."));
    assert!(record.json().expect("json").contains("\"basis\": \"recording\""));
}

#[test]
fn failures_are_shown_in_full_and_other_findings_are_folded() {
    let trace = trace();
    let passed = report(&trace, true).html().expect("page");
    assert!(passed.contains("<strong>✓ Pass</strong>") && !passed.contains("✗"));
    assert!(passed.contains("3 checks passed:"));
    assert!(passed.contains(
        "<dd>97 % that the front gets through every piece, given this glass and this fit</dd>"
    ));
    assert!(passed.contains("<dt>Narrowest margin</dt><dd>35 %, Infiltrated through</dd>"));
    let failed = report(&trace, false).html().expect("page");
    assert!(failed.contains("<strong>✗ Fail</strong> <span>1 of 4 checks failed"));
    assert!(
        failed.contains("<dt>Worst check</dt><dd>Thermal stress misses its limit by 9 %</dd>")
    );
    assert!(passed.contains("<dt>Upload</dt><dd>cleared (clearance.json)</dd>"));
    let uncleared = Report {
        obstacles: vec!["a fault was injected", "--mains was not 100 %"],
        ..report(&trace, true)
    };
    let page = uncleared.html().expect("page");
    assert!(
        page.contains("<dd>not cleared: a fault was injected; --mains was not 100 %</dd>"),
        "a pass that clears nothing says so"
    );
    let position = |text: &str| failed.find(text).expect("text of the page");
    let fold = position("<details");
    assert!(position("Thermal stress:</b>") < fold);
    assert!(fold < position("the programme ran to its end"));
    assert!(position("the programme ran to its end") < position("1.37\u{a0}kWh."));
    assert!(position("1.37\u{a0}kWh.") < position("<svg class=\"chart\""));
    for sentence in
        ["This is a simulation.", "Nothing here is certified", "cut-out in hardware"]
    {
        assert!(failed.contains(sentence));
    }
}

#[test]
fn hostile_names_are_shown_as_text_and_never_run() {
    let hostile =
        "</script><script>alert(1)</script><img src=x onerror=alert(2)>\" ' & \u{0} \u{202e}";
    let trace = trace();
    let mut report = report(&trace, false);
    (report.title, report.schedule_name, report.furnace_name) = (hostile, hostile, hostile);
    report.digests.programme = hostile.into();
    report.conditions = Some(hostile.into());
    report.faults.push(crate::FaultMark { at_s: 100.0, name: hostile.into() });
    report.facts.push((hostile.into(), hostile.into()));
    for band in &mut report.stages {
        (band.name, band.kind, band.what) = (hostile.into(), hostile.into(), hostile.into());
    }
    let stage = StageLabel { number: 1, name: Some(hostile.into()), label: hostile.into() };
    report.terms.stages = kept(vec![stage]);
    let mut verdict = report.verdict.clone();
    let last = verdict.findings.last().expect("a finding").clone();
    let overshoot = Finding { subject: Subject::Overshoot, step: Some(0), ..last };
    assert!(
        overshoot.sentence(report.terms).contains("<img"),
        "the sentence must contain the name"
    );
    verdict.findings.push(overshoot);
    report.verdict = kept(verdict);
    let (page, svg) = well_formed(&report);
    for text in [&page, &svg] {
        assert!(!text.contains("<img") && !text.contains("<script>alert"));
        assert!(!text.contains('\u{0}') && !text.contains('\u{202e}'));
    }
    // One element for the data and one for the script of the chart.
    assert_eq!(page.matches("</script>").count(), 2);
    let shown = model(&page);
    assert!(shown["bands"][0]["name"].as_str().expect("a name").starts_with("</script>"));
    let json: serde_json::Value =
        serde_json::from_str(&report.json().expect("JSON")).expect("reads");
    assert_eq!(json["stages"][0]["name"], hostile);
    assert_eq!(json["findings"][6]["stage"]["name"], hostile);
}

#[test]
fn an_empty_tiny_or_nonsensical_trace_still_gives_a_page() {
    let empty = Trace::default();
    let mut bare = report(&empty, false);
    (bare.stages, bare.facts, bare.terms) = (Vec::new(), Vec::new(), Wording::default());
    bare.verdict = kept(Verdict { findings: Vec::new() });
    let (page, _) = well_formed(&bare);
    assert!(page.contains("the trace is empty") && page.contains("nothing was checked"));
    #[cfg(feature = "png")]
    bare.png().expect("pixels of an empty chart");

    let one = Trace {
        rows: vec![Row {
            modelled: Some(ModelState { piece_c: 21.5, ..ModelState::default() }),
            ..Row::default()
        }],
        ..Trace::default()
    };
    let (page, _) = well_formed(&report(&one, true));
    assert_eq!(model(&page)["panels"][0]["curves"][0]["runs"][0], "0 21.5");

    let mut broken = trace();
    let values = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -1.0, 1e300];
    for (index, sample) in broken.rows.iter_mut().enumerate().skip(100) {
        let value = values[index % values.len()];
        let (measured, modelled) = (&mut sample.measured, sample.modelled.as_mut());
        let modelled = modelled.expect("of a rehearsal");
        (measured.sensor_c, measured.setpoint_c) = (Some(value), None);
        (modelled.pressure_pa, modelled.piece_c, measured.duty) = (value, value, value);
        (modelled.depth_m, modelled.muffle_c) = (value, value);
        if index % 11 == 0 {
            sample.at_s = value;
        }
    }
    let broken_report = report(&broken, false);
    let (page, _) = well_formed(&broken_report);
    model(&page);
    #[cfg(feature = "png")]
    broken_report.png().expect("pixels of nonsense");
    broken_report.json().expect("JSON of nonsense");
}

#[test]
fn the_page_names_furnace_conditions_date_tool_and_digests() {
    let trace = trace();
    let report = report(&trace, true);
    let page = report.html().expect("page");
    let title = element(&page, "<title>", "</title>");
    let wanted = "Pass · Infiltrate four copings, 0.6 mm wall on Small vacuum furnace, 1.2 kW, with \
                  mains at 90 %";
    assert_eq!(title, wanted);
    let digests = &report.digests;
    let version = concat!("saggar ", env!("CARGO_PKG_VERSION"));
    for fact in [
        "2026-11-25 09:00 UTC",
        version,
        &digests.programme,
        &digests.schedule,
        &digests.profile,
    ] {
        assert!(page.contains(fact), "{fact}");
    }
    assert_eq!(page, report.html().expect("page"), "equal reports must have equal bytes");
}

#[test]
fn the_depth_panel_shows_the_wall_and_where_the_glass_came_through_or_stopped() {
    let trace = trace();
    let mut report = report(&trace, true);
    let mut verdict = report.verdict.clone();
    let front = |verdict: &mut Verdict, depth: f64| {
        for finding in &mut verdict.findings {
            if let Subject::Infiltration { depth_m, .. } = &mut finding.subject {
                *depth_m = depth;
            }
        }
    };
    let svg = report.svg();
    assert!(svg.contains(">needed: the wall, 0.60 mm<") && svg.contains(">✓ through at 1:19<"));
    front(&mut verdict, 0.3e-3);
    report.verdict = kept(verdict);
    let svg = report.svg();
    assert!(svg.contains(">✗ stopped at 0.30 mm<") && !svg.contains("through at"));
    let still: Trace = Trace {
        rows: trace
            .rows
            .iter()
            .map(|row| {
                let modelled =
                    row.modelled.map(|modelled| ModelState { depth_m: 0.0, ..modelled });
                Row { modelled, ..*row }
            })
            .collect(),
        ..Trace::default()
    };
    report.trace = &still;
    assert!(
        report.svg().contains("needed: the wall"),
        "the panel must be there even if no glass flowed"
    );
}

#[test]
fn the_channels_panel_shows_the_trip_threshold_and_faults_are_marked() {
    let mut trace = trace();
    for row in &mut trace.rows {
        row.measured.limit_c = row.measured.sensor_c.map(|c| c + row.at_s / 100.0);
    }
    let mut report = report(&trace, true);
    report.faults.push(crate::FaultMark { at_s: 1200.0, name: "control-drift".into() });
    let (page, svg) = well_formed(&report);
    assert!(svg.contains(">channels disagree beyond 60 K<"));
    assert!(svg.contains("class=\"mark fault\"") && svg.contains(">▼ fault: control-drift<"));
    assert!(page.contains("A fault of the simulation struck: control-drift."));
    let model = model(&page);
    let panels = model["panels"].as_array().expect("panels");
    let panel = panels.iter().find(|panel| panel["title"] == "Control and channels, K");
    assert_eq!(panel.expect("the panel")["curves"][1]["name"], "sensor − limit channel");
}

#[test]
fn a_trip_is_marked_and_missing_readings_leave_a_gap() {
    let trace = tripped();
    let (page, svg) = well_formed(&report(&trace, false));
    assert!(
        svg.contains(">✗ trip: heater without effect<"),
        "the mark must have the name alone"
    );
    let unnamed = "<title>5 Ramp: ramp to 1120 °C at 26 K/min</title>";
    assert!(svg.contains(unnamed), "a stage without a name is labelled by its kind");
    assert!(page.contains("An interlock tripped: heater without effect."));
    let model = model(&page);
    assert_eq!(model["marks"][1]["at_s"], 4000.3);
    let sensor = &model["panels"][0]["curves"][1];
    assert_eq!(
        (sensor["name"].as_str(), sensor["runs"].as_array().map(Vec::len)),
        (Some("sensor"), Some(2))
    );
    let setpoint = model["panels"][0]["curves"][0]["runs"][0].as_str().expect("text");
    assert!(setpoint.ends_with("4000 1120"), "the setpoint ends with the trip: {setpoint}");
}

#[test]
fn fahrenheit_converts_the_chart_and_not_the_files_for_programs() {
    let trace = trace();
    let mut report = report(&trace, true);
    let celsius_json = report.json().expect("JSON");
    assert!(report.svg().contains("Temperature, °C"));
    report.terms.scale = Scale::Fahrenheit;
    let (page, svg) = well_formed(&report);
    assert!(svg.contains("Temperature, °F") && !svg.contains("Temperature, °C"));
    let curve = &model(&page)["panels"][0]["curves"][0];
    assert_eq!(curve["unit"], "°F");
    let hottest = curve["runs"][0].as_str().expect("text").split(' ').skip(1).step_by(2);
    let hottest =
        hottest.map(|value| value.parse::<f64>().expect("number")).fold(0.0, f64::max);
    assert!((hottest - 2048.0).abs() < 0.5, "1120 °C is 2048 °F, not {hottest}");
    assert!(page.contains(" °F (temperature)") && !page.contains(" °C (temperature)"));
    // Only the sentences use the chosen scale; numbers stay in °C.
    let numbers = |json: &str| {
        let lines = json.lines().filter(|line| !line.contains("\"sentence\""));
        lines.map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(numbers(&report.json().expect("JSON")), numbers(&celsius_json));
    assert!((Scale::Fahrenheit.difference_value(10.0) - 18.0).abs() < 1e-9);
}
