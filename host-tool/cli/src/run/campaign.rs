//! Runs `campaign`.

use std::sync::atomic::Ordering;

use crate::args::campaign::CampaignArgs;
use crate::commands::{self, CampaignOptions};
use crate::error::{CliError, Exit};
use crate::output;
use saggar_studies::campaign::{Sample, Shard};
use saggar_terminal::DisplayOptions;
use saggar_terminal::end_asked;

pub(super) fn campaign(
    args: &CampaignArgs,
    display: &DisplayOptions,
) -> Result<Exit, CliError> {
    let CampaignArgs { kind, seed, .. } = *args;
    if let Some(id) = &args.case {
        let report = commands::campaign_case(kind, id, seed)?;
        output::campaign_case(kind, seed, &report, display)?;
        return Ok(exit(report.findings.is_empty()));
    }
    let options = CampaignOptions {
        kind,
        sample: Sample {
            shard: args.shard.unwrap_or(Shard::WHOLE),
            every: args.every.unwrap_or(1),
            seed,
        },
        cases: args.cases,
        table: args.table.as_deref(),
    };
    let ended = end_asked();
    let progress = output::CampaignProgress::new(kind.name(), display);
    let ran = commands::campaign(&options, &|done, all| {
        progress.show(done, all);
        !ended.load(Ordering::Relaxed)
    })?;
    drop(progress);
    output::campaign(&ran, display)?;
    Ok(match ran.result.is_clean() {
        true if ran.result.is_cut_short() => Exit::NotKnown,
        clean => exit(clean),
    })
}

const fn exit(is_clean: bool) -> Exit {
    if is_clean { Exit::Pass } else { Exit::Fail }
}
