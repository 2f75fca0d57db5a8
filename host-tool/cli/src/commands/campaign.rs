//! `campaign`: many firings with something wrong, and what must hold in all of them.

use std::path::{Path, PathBuf};

use saggar_files::atomic_file::AtomicFile;
use saggar_files::{Diagnostic, FilesError, SourceText};
use saggar_studies::campaign::{
    CampaignKind, CampaignResult, CampaignSummary, CaseReport, Sample, markdown, run,
    with_table,
};

use crate::error::CliError;

/// What to run.
#[derive(Debug)]
pub struct CampaignOptions<'a> {
    /// The campaign.
    pub kind: CampaignKind,
    /// Which of its cases.
    pub sample: Sample,
    /// Number of cases, if it is not fixed.
    pub cases: Option<usize>,
    /// Page for the table.
    pub table: Option<&'a Path>,
}

/// A campaign that was run.
#[derive(Debug)]
pub struct CampaignRun {
    /// The campaign.
    pub kind: CampaignKind,
    /// Which of its cases.
    pub sample: Sample,
    /// What it found.
    pub result: CampaignResult,
    /// The same, row by row.
    pub summary: CampaignSummary,
    /// The page whose table was replaced.
    pub table: Option<PathBuf>,
}

/// Runs a campaign and replaces its table in the page. `go_on` is called after each case with the number of
/// finished ones and of all; if it says no, the campaign ends early and the page stays.
///
/// # Errors
/// The page has no place for the table, or cannot be written, which is checked before anything is fired;
/// or the campaign cannot run.
pub fn campaign(
    options: &CampaignOptions<'_>,
    go_on: &(dyn Fn(usize, usize) -> bool + Sync),
) -> Result<CampaignRun, CliError> {
    let CampaignOptions { kind, sample, cases, table } = *options;
    if let Some(page) = table {
        // Dropping what is written here leaves the page as it is.
        drop(replacement(page, kind, "")?);
    }
    let campaign = kind.prepare(sample.seed, cases)?;
    let result = run(campaign.as_ref(), &sample, go_on);
    let summary = CampaignSummary::of(&result.reports);
    let table = table.filter(|_| !result.is_cut_short());
    if let Some(page) = table {
        let new = markdown(kind, &sample, &result, &summary);
        let (file, before) = replacement(page, kind, &new)?;
        file.commit_if_unchanged(before.text().as_bytes())?;
    }
    Ok(CampaignRun { kind, sample, result, summary, table: table.map(Path::to_path_buf) })
}

/// The page with this table in it, written but not put in its place, and the page as it is.
fn replacement(
    page: &Path,
    kind: CampaignKind,
    table: &str,
) -> Result<(AtomicFile, SourceText), FilesError> {
    let before = SourceText::read(page, |_| None)?;
    let after = with_table(before.text(), kind, table).map_err(|why| {
        let help = "give a page with both lines, such as docs/campaign.md";
        Diagnostic::for_file(page, why.to_string(), help)
    })?;
    Ok((AtomicFile::create_replacement(page, after.as_bytes())?, before))
}

/// Fires one case of a campaign.
///
/// # Errors
/// There is no such case, or the campaign cannot run.
pub fn campaign_case(kind: CampaignKind, id: &str, seed: u64) -> Result<CaseReport, CliError> {
    let (campaign, case) = kind.case(id, seed)?;
    Ok(campaign.fire(case))
}
