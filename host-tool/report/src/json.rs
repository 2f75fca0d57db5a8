//! The verdict for programs. Temperatures are in °C whatever scale the page has, times in
//! seconds since the start; a number that is missing or not finite is `null`.

use serde::Serialize;

use saggar_files::json_written_out;

use super::{Failure, Outcome, Report, ReportFinding, StageBand, words};

/// What the document calls itself.
pub const SCHEMA: &str = "saggar.verdict";

/// Version of the document. It goes up when a field changes its meaning or goes away.
pub const VERSION: u32 = 1;

#[derive(Serialize)]
struct Document<'a> {
    /// As in every answer for programs: nothing was wrong with the question.
    ok: bool,
    schema: &'static str,
    version: u32,
    tool: Tool,
    passed: bool,
    title: &'a str,
    schedule: &'a str,
    furnace: &'a str,
    digest: &'a str,
    /// As text: many readers of JSON keep only 53 bits of a number.
    seed: String,
    duration_second: f64,
    energy_joule: f64,
    rows: usize,
    findings: Vec<Finding<'a>>,
    stages: Vec<Stage<'a>>,
    events: Vec<Event>,
    facts: Vec<Fact<'a>>,
}

#[derive(Serialize)]
struct Tool {
    name: &'static str,
    version: &'static str,
}

#[derive(Serialize)]
struct Finding<'a> {
    subject: &'a str,
    outcome: &'static str,
    sentence: &'a str,
    at_second: Option<f64>,
    stage: Option<FindingStage<'a>>,
    measured: Option<f64>,
    limit: Option<f64>,
    margin: Option<f64>,
    unit: Option<&'static str>,
}

#[derive(Serialize)]
struct FindingStage<'a> {
    number: usize,
    name: Option<&'a str>,
}

#[derive(Serialize)]
struct Stage<'a> {
    number: usize,
    step: u16,
    name: &'a str,
    kind: &'a str,
    what: &'a str,
    from_second: f64,
    to_second: f64,
}

#[derive(Serialize)]
struct Event {
    at_second: f64,
    kind: &'static str,
    text: String,
}

#[derive(Serialize)]
struct Fact<'a> {
    label: &'a str,
    value: &'a str,
}

/// The document as text, with a line end.
pub(super) fn text(report: &Report<'_>) -> Result<String, Failure> {
    let events = report.record.events.iter().map(|event| Event {
        at_second: words::at_s(event),
        kind: words::key(event.what),
        text: words::phrase(event.what, &report.stages),
    });
    let document = Document {
        ok: true,
        schema: SCHEMA,
        version: VERSION,
        tool: Tool { name: "saggar", version: env!("CARGO_PKG_VERSION") },
        passed: report.passed,
        title: report.title,
        schedule: report.schedule_name,
        furnace: report.furnace_name,
        digest: report.digest_hex,
        seed: report.seed.to_string(),
        duration_second: report.record.duration_s(),
        energy_joule: report.record.energy_j,
        rows: report.record.samples.len(),
        findings: report.findings.iter().map(finding).collect(),
        stages: report.stages.iter().map(stage).collect(),
        events: events.collect(),
        facts: report.facts.iter().map(|(label, value)| Fact { label, value }).collect(),
    };
    let mut text = serde_json::to_string_pretty(&document)?;
    text.push('\n');
    Ok(json_written_out(&text).into_owned())
}

fn finding(finding: &ReportFinding) -> Finding<'_> {
    let numbers = finding.numbers.as_ref();
    Finding {
        subject: &finding.subject,
        outcome: match finding.outcome {
            Outcome::Pass => "pass",
            Outcome::Fail => "fail",
            Outcome::Note => "note",
        },
        sentence: &finding.sentence,
        at_second: finding.at_s,
        stage: finding
            .stage
            .as_ref()
            .map(|stage| FindingStage { number: stage.number, name: stage.name.as_deref() }),
        measured: numbers.map(|numbers| numbers.measured),
        limit: numbers.map(|numbers| numbers.limit),
        margin: numbers.map(|numbers| numbers.margin),
        unit: numbers.map(|numbers| numbers.unit),
    }
}

fn stage(band: &StageBand) -> Stage<'_> {
    Stage {
        number: band.number,
        step: u16::from(band.step) + 1,
        name: &band.name,
        kind: &band.kind,
        what: &band.what,
        from_second: band.from_s,
        to_second: band.to_s,
    }
}
