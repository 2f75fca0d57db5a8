//! The campaigns by name.

use super::cuts::Cuts;
use super::doubles::{self, Doubles};
use super::error::CampaignError;
use super::run::Campaign;
use super::schedules::{CampaignSchedule, SCHEDULES};
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
}

impl CampaignKind {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Singles, Self::Doubles, Self::Cuts];

    /// Its name on a command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Singles => "singles",
            Self::Doubles => "doubles",
            Self::Cuts => "cuts",
        }
    }

    /// What it does, in a line.
    pub const fn about(self) -> &'static str {
        match self {
            Self::Singles => "every fault at every moment of every firing",
            Self::Doubles => "two faults, one of them latent before the start",
            Self::Cuts => "the power fails in every tick, and in every minute for longer",
        }
    }

    /// Whether each row of its table is a mode of failure, so that they give a diagnostic coverage.
    pub const fn rows_are_modes(self) -> bool {
        match self {
            Self::Singles => true,
            Self::Doubles | Self::Cuts => false,
        }
    }

    /// An id of one of its cases, as an example.
    const fn example(self) -> &'static str {
        match self {
            Self::Singles => "infiltrate-alumina/control-drift=60/7",
            Self::Doubles => "infiltrate-alumina/shut-stuck+closure-opened/5",
            Self::Cuts => "infiltrate-alumina/tick=12345",
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
        self.prepare_on(&self.firings(), seed, cases)
    }

    /// The case with this id, and its campaign.
    ///
    /// # Errors
    /// There is no such case, or as [`Self::prepare`].
    pub fn case(
        self,
        id: &str,
        seed: u64,
    ) -> Result<(Box<dyn Campaign>, usize), CampaignError> {
        let none = || CampaignError::NoCase(id.to_owned(), self.example().to_owned());
        let firing = id.split('/').next().unwrap_or_default();
        let mut firings = self.firings();
        firings.retain(|schedule| schedule.name == firing);
        if firings.is_empty() {
            return Err(none());
        }
        let campaign = self.prepare_on(&firings, seed, None)?;
        let case = campaign.find(id).ok_or_else(none)?;
        Ok((campaign, case))
    }

    /// The firings that it is about.
    fn firings(self) -> Vec<&'static CampaignSchedule> {
        let named: &[&str] = match self {
            Self::Singles => return SCHEDULES.iter().collect(),
            Self::Doubles => &doubles::FIRINGS,
            Self::Cuts => &["infiltrate-alumina"],
        };
        named.iter().filter_map(|name| CampaignSchedule::named(name)).collect()
    }

    fn prepare_on(
        self,
        schedules: &[&'static CampaignSchedule],
        seed: u64,
        cases: Option<usize>,
    ) -> Result<Box<dyn Campaign>, CampaignError> {
        if cases.is_some() {
            return Err(CampaignError::Fixed(self.name()));
        }
        Ok(match self {
            Self::Singles => Box::new(Singles::new(schedules, seed)?),
            Self::Doubles => Box::new(Doubles::new(schedules, seed)?),
            Self::Cuts => Box::new(Cuts::new(schedules[0], seed)?),
        })
    }
}
