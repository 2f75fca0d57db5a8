//! Arguments of `campaign`.

use std::path::PathBuf;

use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use clap::{Args as ClapArgs, ValueHint};
use saggar_studies::campaign::{CampaignKind, Shard};

use super::values::seed;
use crate::commands::SEED;

/// Options of a campaign.
#[derive(Debug, ClapArgs)]
pub struct CampaignArgs {
    /// The campaign
    #[arg(value_name = "KIND", value_parser = kind())]
    pub kind: CampaignKind,
    /// Fire only one part of the cases: 2/8 is the second of eight
    #[arg(long, value_name = "K/N", value_parser = shard)]
    pub shard: Option<Shard>,
    /// Fire about one case in this many, drawn by the seed
    #[arg(long, value_name = "NUMBER", value_parser = at_least_one)]
    pub every: Option<usize>,
    /// Number of cases of healthy and seeds, of days of decade
    #[arg(long, value_name = "NUMBER", value_parser = at_least_one)]
    pub cases: Option<usize>,
    /// Seed of the noise, and of everything that is drawn
    #[arg(long, value_name = "NUMBER", default_value_t = SEED, value_parser = seed)]
    #[arg(allow_hyphen_values = true)]
    pub seed: u64,
    /// Fire one case alone and tell how it went
    #[arg(long, value_name = "ID", conflicts_with_all = ["shard", "every", "cases", "table"])]
    pub case: Option<String>,
    /// Page in which the table of this campaign is replaced
    #[arg(long, value_name = "PAGE", value_hint = ValueHint::FilePath)]
    pub table: Option<PathBuf>,
}

fn kind() -> impl TypedValueParser<Value = CampaignKind> {
    let of = |name: String| CampaignKind::ALL.into_iter().find(|kind| kind.name() == name);
    let each = |kind: CampaignKind| PossibleValue::new(kind.name()).help(kind.about());
    PossibleValuesParser::new(CampaignKind::ALL.map(each))
        .try_map(move |name| of(name).ok_or("there is no such campaign"))
}

/// A part of the cases, counted from 1 on the command line.
fn shard(typed: &str) -> Result<Shard, String> {
    let wrong = || "give a part and the number of parts, such as 2/8".to_owned();
    let (part, of) = typed.split_once('/').ok_or_else(wrong)?;
    let part: usize = part.parse().map_err(|_| wrong())?;
    let of: usize = of.parse().map_err(|_| wrong())?;
    if (1..=of).contains(&part) { Ok(Shard { index: part - 1, of }) } else { Err(wrong()) }
}

fn at_least_one(typed: &str) -> Result<usize, String> {
    let number = typed.parse().ok().filter(|number| *number >= 1);
    number.ok_or_else(|| "give a whole number from 1 on".to_owned())
}
