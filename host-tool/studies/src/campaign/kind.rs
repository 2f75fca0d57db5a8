//! The campaigns by name.

use super::cuts::{self, Cuts};
use super::decade::{self, Decade};
use super::doubles::{self, Doubles};
use super::drawn::DrawnFirings;
use super::error::CampaignError;
use super::healthy::{self, Healthy};
use super::run::Campaign;
use super::schedules::{CampaignSchedule, SCHEDULES};
use super::seeds::{self, Seeds};
use super::singles::Singles;

/// A campaign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CampaignKind {
    /// Every fault at every moment of every firing.
    Singles,
    /// Two faults, one of them latent before the start.
    Doubles,
    /// The power fails in every tick of a firing, and in every minute for longer.
    Cuts,
    /// Firings without a fault, none of which may trip.
    Healthy,
    /// Whatever a seed draws: faults, cuts, operators, furnaces.
    Seeds,
    /// Ten years in one run of one controller.
    Decade,
}

impl CampaignKind {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::Singles, Self::Doubles, Self::Cuts, Self::Healthy, Self::Seeds, Self::Decade];

    /// Its name on a command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Singles => "singles",
            Self::Doubles => "doubles",
            Self::Cuts => "cuts",
            Self::Healthy => "healthy",
            Self::Seeds => "seeds",
            Self::Decade => "decade",
        }
    }

    /// What it does, in a line.
    pub const fn about(self) -> &'static str {
        match self {
            Self::Singles => "every fault at every moment of every firing",
            Self::Doubles => "two faults, one of them latent before the start",
            Self::Cuts => "the power fails in every tick, and in every minute for longer",
            Self::Healthy => "firings without a fault, none of which may trip",
            Self::Seeds => {
                "up to three faults of any kind, and power cuts, as a seed draws them"
            }
            Self::Decade => "ten years in one run of one controller",
        }
    }

    /// Whether each row of its table is a mode of failure, so that they give a diagnostic coverage.
    pub const fn rows_are_modes(self) -> bool {
        match self {
            Self::Singles => true,
            Self::Doubles | Self::Cuts | Self::Healthy | Self::Seeds | Self::Decade => false,
        }
    }

    /// An id of one of its cases, as an example.
    const fn example(self) -> &'static str {
        match self {
            Self::Singles => "infiltrate-alumina/control-drift=60/7",
            Self::Doubles => "infiltrate-alumina/shut-stuck+closure-opened/5",
            Self::Cuts => "infiltrate-alumina/tick=12345",
            Self::Healthy | Self::Seeds => "seed=10000042",
            Self::Decade => "firings=30",
        }
    }

    /// Makes it ready: with the noise or the draws of this seed, and this many cases if their number is not
    /// fixed.
    ///
    /// # Errors
    /// A firing that should be healthy is not, or the number of cases is fixed.
    pub fn prepare(
        self,
        seed: u64,
        cases: Option<usize>,
    ) -> Result<Box<dyn Campaign>, CampaignError> {
        let drawn = |usual: usize| DrawnFirings::new(seed, cases.unwrap_or(usual));
        match self {
            Self::Healthy => Ok(Box::new(Healthy(drawn(healthy::CASES)?))),
            Self::Seeds => Ok(Box::new(Seeds(drawn(seeds::CASES)?))),
            Self::Decade => Ok(Box::new(Decade::new(seed, cases.unwrap_or(decade::FIRINGS))?)),
            Self::Singles | Self::Doubles | Self::Cuts if cases.is_some() => {
                Err(CampaignError::Fixed(self.name()))
            }
            Self::Singles => Ok(Box::new(Singles::new(&all(), seed)?)),
            Self::Doubles => Ok(Box::new(Doubles::new(&named(&doubles::FIRINGS), seed)?)),
            Self::Cuts => Ok(Box::new(Cuts::new(&cuts::FIRING, seed)?)),
        }
    }

    /// The case with this id, and its campaign, of which only the firing of that case is made ready.
    ///
    /// # Errors
    /// There is no such case, or as [`Self::prepare`].
    pub fn case(
        self,
        id: &str,
        seed: u64,
    ) -> Result<(Box<dyn Campaign>, usize), CampaignError> {
        let none = || CampaignError::NoCase(id.to_owned(), self.example().to_owned());
        let of_case = |mut schedules: Vec<&'static CampaignSchedule>| {
            let firing = id.split('/').next().unwrap_or_default();
            schedules.retain(|schedule| schedule.name == firing);
            if schedules.is_empty() { Err(none()) } else { Ok(schedules) }
        };
        let campaign: Box<dyn Campaign> = match self {
            Self::Singles => Box::new(Singles::new(&of_case(all())?, seed)?),
            Self::Doubles => Box::new(Doubles::new(&of_case(named(&doubles::FIRINGS))?, seed)?),
            Self::Cuts => Box::new(Cuts::new(&cuts::FIRING, seed)?),
            Self::Healthy => Box::new(Healthy(DrawnFirings::all()?)),
            Self::Seeds => Box::new(Seeds(DrawnFirings::all()?)),
            Self::Decade => {
                let firings = id.strip_prefix("firings=").and_then(|count| count.parse().ok());
                Box::new(Decade::new(seed, firings.ok_or_else(none)?)?)
            }
        };
        let case = campaign.find(id).ok_or_else(none)?;
        Ok((campaign, case))
    }
}

/// All firings.
fn all() -> Vec<&'static CampaignSchedule> {
    SCHEDULES.iter().collect()
}

/// The firings with these names.
fn named(names: &[&str]) -> Vec<&'static CampaignSchedule> {
    names.iter().filter_map(|name| CampaignSchedule::named(name)).collect()
}
