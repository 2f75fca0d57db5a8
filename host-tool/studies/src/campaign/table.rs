//! The table of a campaign in a page, between two marks.

use saggar_plant::faults::FaultKind;

use super::hardware;
use super::kind::CampaignKind;
use super::run::{CampaignResult, Sample};
use super::summary::{CampaignSummary, Coverage, SummaryRow};

/// The mark at the end of a table.
const END: &str = "<!-- end of campaign -->";

/// Why a table cannot be put into a page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    /// A mark is missing.
    #[error("it has no line `{}` with a line `{END}` after it, to put the table between", mark(*.0))]
    NoMarks(CampaignKind),
    /// There are two places for it.
    #[error("it has the line `{}` more than once", mark(*.0))]
    TwoMarks(CampaignKind),
}

/// The mark before the table of a campaign.
fn mark(kind: CampaignKind) -> String {
    format!("<!-- campaign: {} -->", kind.name())
}

/// The page with what is between the marks of this campaign replaced.
///
/// # Errors
/// The marks are not there, or not once.
pub fn with_table(page: &str, kind: CampaignKind, table: &str) -> Result<String, TableError> {
    let begin = format!("{}\n", mark(kind));
    let none = TableError::NoMarks(kind);
    let (before, rest) = page.split_once(&begin).ok_or(none)?;
    if rest.contains(&begin) {
        return Err(TableError::TwoMarks(kind));
    }
    let end = rest.find(END).ok_or(none)?;
    let (old, after) = rest.split_at(end);
    // The end of another table is not that of this one.
    if old.contains("<!-- campaign: ") {
        return Err(none);
    }
    Ok(format!("{before}{begin}\n{table}\n{after}"))
}

/// The table of a campaign in Markdown, with its counts before it.
pub fn markdown(
    kind: CampaignKind,
    sample: &Sample,
    result: &CampaignResult,
    summary: &CampaignSummary,
) -> String {
    let mut text = format!("{}\n\n", counts(kind, sample, result, summary));
    text += "| | variants | firings | completed | tripped | refused | other | how they ended | slowest reaction, of its bound | most above what was asked | findings |\n";
    text += "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n";
    for row in summary.rows.iter().chain([&summary.total]) {
        text += &format!("{}\n", cells(row));
    }
    if kind.rows_are_modes() {
        text += &format!("\n{}\n", coverage_text(&summary.coverage()));
    }
    text
}

/// What was run, in a sentence or two.
fn counts(
    kind: CampaignKind,
    sample: &Sample,
    result: &CampaignResult,
    summary: &CampaignSummary,
) -> String {
    let of = match result.reports.len() == result.cases {
        true => "all".to_owned(),
        false => format!("a sample of the {}", result.cases),
    };
    let minutes = result.took.as_secs_f64() / 60.0;
    format!(
        "`saggar campaign {}`: {} cases, {of}; seed {}; {minutes:.1} minutes; {} with something wrong.",
        kind.name(),
        result.reports.len(),
        sample.seed,
        summary.total.findings + result.conclusions.len(),
    )
}

/// A row.
fn cells(row: &SummaryRow) -> String {
    let ends: Vec<_> = row
        .ends
        .iter()
        .map(|(end, count)| match end.strip_prefix("tripped: ") {
            Some(cause) => format!("{cause} {count}"),
            None => format!("{end} {count}"),
        })
        .collect();
    let slowest = row.slowest_s.map_or(String::new(), |(exposed_s, bound_s)| {
        format!("{exposed_s:.1} s of {bound_s:.1} s")
    });
    let SummaryRow { firings, completed, tripped, refused, other, findings, .. } = row;
    let above = match row.above_asked_k.is_finite() {
        true => format!("{:.1} K", row.above_asked_k),
        false => String::new(),
    };
    format!(
        "| {} | {} | {firings} | {completed} | {tripped} | {refused} | {other} | {} | {slowest} | {above} | {findings} |",
        row.group,
        row.variants.len(),
        ends.join(", "),
    )
}

/// The diagnostic coverage in a sentence, and the hardware that must see the rest.
fn coverage_text(coverage: &Coverage) -> String {
    let Coverage { dangerous, detected, missed, gaps } = coverage;
    let measure = |mode: &String| {
        let measure = FaultKind::from_name(mode).and_then(hardware::measure_for);
        format!("- {mode}: {}", measure.unwrap_or("no hardware is named for it"))
    };
    let gaps = match gaps {
        0 => String::new(),
        gaps => format!(" {gaps} firings are of the known gap (see below)."),
    };
    let rest: Vec<_> = missed.iter().map(measure).collect();
    let rest = match rest.is_empty() {
        true => String::new(),
        false => {
            format!(" The others, and the hardware that must see them:\n\n{}", rest.join("\n"))
        }
    };
    format!(
        "Diagnostic coverage: software detects {detected} of {dangerous} dangerous modes, {:.1} %.{gaps}{rest}",
        coverage.percent()
    )
}

#[cfg(test)]
mod tests {
    use saggar_core::interlock::Cause;

    use super::*;
    use crate::campaign::report::CaseEnd;
    use crate::campaign::summary::tests::report;

    const PAGE: &str =
        "# Page\n\n<!-- campaign: singles -->\nold\n<!-- end of campaign -->\nafter\n";

    #[test]
    fn only_what_is_between_the_marks_is_replaced() {
        let once = with_table(PAGE, CampaignKind::Singles, "new\n").expect("marks");
        assert_eq!(
            once,
            "# Page\n\n<!-- campaign: singles -->\n\nnew\n\n<!-- end of campaign -->\nafter\n"
        );
        assert_eq!(with_table(&once, CampaignKind::Singles, "new\n"), Ok(once.clone()));
    }

    #[test]
    fn a_page_without_its_marks_is_refused() {
        let kind = CampaignKind::Singles;
        let none = Err(TableError::NoMarks(kind));
        assert_eq!(with_table("# Page\n", kind, "new"), none);
        assert_eq!(with_table("<!-- campaign: singles -->\nold\n", kind, "new"), none);
        let other =
            "<!-- campaign: singles -->\n<!-- campaign: cuts -->\n<!-- end of campaign -->\n";
        assert_eq!(with_table(other, kind, "new"), none);
        let twice = PAGE.repeat(2);
        assert_eq!(with_table(&twice, kind, "new"), Err(TableError::TwoMarks(kind)));
    }

    #[test]
    fn a_mode_that_software_misses_names_its_hardware() {
        let missed = ["control-drift", "vent-shut"].map(str::to_owned).to_vec();
        let text = coverage_text(&Coverage { dangerous: 4, detected: 2, missed, gaps: 0 });
        assert_eq!(
            text,
            "Diagnostic coverage: software detects 2 of 4 dangerous modes, 50.0 %. The others, and the \
             hardware that must see them:\n\n- control-drift: the cut-out, which has a sensor of its \
             own\n- vent-shut: no hardware is named for it"
        );
    }

    #[test]
    fn a_row_says_how_its_firings_ended() {
        let tripped = CaseEnd::Tripped(Cause::SensorOpen);
        let reports = [
            report("drift", "drift", tripped, &[]),
            report("drift", "drift=60", CaseEnd::Completed, &["I3"]),
        ];
        let summary = CampaignSummary::of(&reports);
        assert_eq!(
            cells(&summary.rows[0]),
            "| drift | 2 | 2 | 1 | 1 | 0 | 0 | completed 1, sensor open 1 |  | 1.0 K | 1 |"
        );
    }
}
