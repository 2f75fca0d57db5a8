//! The verdict for programs. Temperatures are in °C whatever scale the page has, times in
//! seconds since the start; a number that is missing or not finite is `null`.

use saggar_verdict::{Finding, Wording};
use serde::ser::SerializeStruct as _;
use serde::{Serialize, Serializer};

use saggar_files::escape_hidden_json;

use crate::Report;
use crate::ReportError;
use crate::ReportKind;
use crate::StageBand;
use crate::event_text;

/// Identifies the format.
pub const SCHEMA: &str = "saggar.verdict";

/// Version of the format. Increased when a field changes its meaning or is removed.
pub const VERSION: u32 = 3;

#[derive(Serialize)]
struct VerdictJson<'a> {
    /// Always true: the command itself succeeded. All JSON output has this field.
    ok: bool,
    schema: &'static str,
    version: u32,
    tool: ToolJson,
    passed: bool,
    /// `pass`, `fail` or `not-known`.
    result: &'static str,
    /// `simulation` for a rehearsal; `recording` for a firing that a device recorded.
    basis: &'static str,
    /// Why a person lets the programme go on although its verdict is not known; `null` without one.
    reason: Option<&'a str>,
    title: &'a str,
    schedule: &'a str,
    furnace: &'a str,
    digest: &'a str,
    /// A string, because many JSON parsers keep only 53 bits of a number.
    seed: String,
    /// Temperature at the control sensor when start was pressed.
    start_celsius: f64,
    duration_second: f64,
    energy_joule: f64,
    rows: usize,
    findings: Vec<FindingJson<'a>>,
    stages: Vec<StageJson<'a>>,
    events: Vec<EventJson>,
    facts: Vec<FactJson<'a>>,
}

#[derive(Serialize)]
struct ToolJson {
    name: &'static str,
    version: &'static str,
}

/// A finding, with its sentence in the wording of the report.
struct FindingJson<'a>(&'a Finding, Wording<'a>);

impl Serialize for FindingJson<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let Self(finding, terms) = self;
        let unit = finding.subject.unit();
        // Findings without a unit have no meaningful number.
        let number = |number: f64| unit.map(|_| number);
        let mut fields = to.serialize_struct("Finding", 10)?;
        fields.serialize_field("subject", finding.subject.title())?;
        fields.serialize_field("outcome", finding.outcome.word())?;
        let modelled = finding.doubt.as_ref().map(|doubt| doubt.modelled.word());
        fields.serialize_field("modelled", &modelled)?;
        fields.serialize_field("sentence", &finding.sentence(*terms))?;
        fields.serialize_field("at_second", &finding.at_s)?;
        let stage = finding.step.and_then(|step| terms.stage(step));
        let stage = stage.map(|stage| FindingStageJson {
            number: stage.number,
            name: stage.name.as_deref(),
        });
        fields.serialize_field("stage", &stage)?;
        fields.serialize_field("measured", &number(finding.measured))?;
        fields.serialize_field("limit", &number(finding.limit))?;
        fields.serialize_field("margin", &number(finding.margin))?;
        fields.serialize_field("unit", &unit)?;
        fields.end()
    }
}

#[derive(Serialize)]
struct FindingStageJson<'a> {
    number: usize,
    name: Option<&'a str>,
}

#[derive(Serialize)]
struct StageJson<'a> {
    number: usize,
    step: u16,
    name: &'a str,
    kind: &'a str,
    what: &'a str,
    from_second: f64,
    to_second: f64,
}

#[derive(Serialize)]
struct EventJson {
    at_second: f64,
    kind: &'static str,
    text: String,
}

#[derive(Serialize)]
struct FactJson<'a> {
    label: &'a str,
    value: &'a str,
}

/// The document as text, with a line end.
pub(super) fn text(report: &Report<'_>) -> Result<String, ReportError> {
    let events = report.trace.events.iter().map(|event| EventJson {
        at_second: event_text::at_s(event),
        kind: event_text::event_key(event.kind),
        text: event_text::event_phrase(event.kind, &report.stages),
    });
    let document = VerdictJson {
        ok: true,
        schema: SCHEMA,
        version: VERSION,
        tool: ToolJson { name: "saggar", version: env!("CARGO_PKG_VERSION") },
        passed: report.verdict.passed(),
        result: report.verdict.result().word(),
        basis: match report.kind {
            ReportKind::Rehearsal => "simulation",
            ReportKind::Recording => "recording",
        },
        reason: report.reason,
        title: report.title,
        schedule: report.schedule_name,
        furnace: report.furnace_name,
        digest: &report.digests.programme,
        seed: report.seed.to_string(),
        start_celsius: report.furnace_at_start.temperatures.control_sensor_c,
        duration_second: report.trace.duration_s(),
        energy_joule: report.trace.energy_j,
        rows: report.trace.rows.len(),
        findings: report
            .verdict
            .findings
            .iter()
            .map(|found| FindingJson(found, report.terms))
            .collect(),
        stages: report.stages.iter().map(stage).collect(),
        events: events.collect(),
        facts: report.facts.iter().map(|(label, value)| FactJson { label, value }).collect(),
    };
    let mut text = serde_json::to_string_pretty(&document)?;
    text.push('\n');
    Ok(escape_hidden_json(&text).into_owned())
}

fn stage(band: &StageBand) -> StageJson<'_> {
    StageJson {
        number: band.number,
        step: u16::from(band.step) + 1,
        name: &band.name,
        kind: &band.kind,
        what: &band.what,
        from_second: band.from_s,
        to_second: band.to_s,
    }
}
