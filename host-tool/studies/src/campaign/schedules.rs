//! The twelve firings of a campaign: every example, and firings near the limits of both example furnaces.

use std::sync::Arc;

use saggar_files::SourceText;
use saggar_schedule::firing_plan::FiringPlan;

use super::error::CampaignError;

const LIFT: &str = include_str!("../../../../docs/furnaces/lift-vacuum.toml");
const DOOR: &str = include_str!("../../../../docs/furnaces/teaching-door.toml");

/// A firing of a campaign.
#[derive(Clone, Copy, Debug)]
pub struct CampaignSchedule {
    /// Its name in the campaign.
    pub name: &'static str,
    /// The text of the schedule.
    text: &'static str,
    /// The text of the furnace profile, and its name.
    profile: (&'static str, &'static str),
    /// The folder with its file, from the top of the tree.
    folder: &'static str,
}

macro_rules! example {
    ($name:literal, $profile:ident) => {
        CampaignSchedule {
            name: $name,
            text: include_str!(concat!("../../../../docs/schedules/", $name, ".toml")),
            profile: $profile,
            folder: "docs/schedules",
        }
    };
}

macro_rules! own {
    ($name:literal, $profile:ident) => {
        CampaignSchedule {
            name: $name,
            text: include_str!(concat!("../../schedules/", $name, ".toml")),
            profile: $profile,
            folder: "host-tool/studies/schedules",
        }
    };
}

const ON_LIFT: (&str, &str) = ("lift-vacuum.toml", LIFT);
const BY_DOOR: (&str, &str) = ("teaching-door.toml", DOOR);

/// The firings of a campaign.
pub const SCHEDULES: [CampaignSchedule; 12] = [
    example!("infiltrate-alumina", ON_LIFT),
    example!("infiltrate-spinel-vacuum", ON_LIFT),
    example!("infiltrate-zirconia-toughened", ON_LIFT),
    example!("melt-back", ON_LIFT),
    example!("clean-alumina", BY_DOOR),
    own!("long-in-the-door-furnace", BY_DOOR),
    own!("clean-in-the-lift-furnace", ON_LIFT),
    own!("fast-and-hot", ON_LIFT),
    own!("low-soaks", ON_LIFT),
    own!("deep-vacuum", ON_LIFT),
    own!("opens-hot", ON_LIFT),
    own!("steps-down", ON_LIFT),
];

impl CampaignSchedule {
    /// The firing with this name.
    pub fn named(name: &str) -> Option<&'static Self> {
        SCHEDULES.iter().find(|schedule| schedule.name == name)
    }

    /// Schedule and furnace as arguments of `saggar rehearse`, from the top of the tree.
    pub(super) fn rehearse_arguments(&self) -> String {
        let Self { name, profile: (furnace, _), folder, .. } = self;
        format!("{folder}/{name}.toml --furnace docs/furnaces/{furnace}")
    }

    /// The schedule, its work and its furnace.
    ///
    /// # Errors
    /// They do not compile.
    pub fn plan(&self) -> Result<FiringPlan, CampaignError> {
        let source = |name: &str, text: &str| Arc::new(SourceText::new(name, text));
        let schedule = source(self.name, self.text);
        FiringPlan::from_texts(&schedule, &source(self.profile.0, self.profile.1))
            .map_err(|why| CampaignError::Schedule(self.name, why.to_string()))
    }
}

#[cfg(test)]
mod tests {
    use super::SCHEDULES;

    #[test]
    fn every_schedule_has_the_file_that_a_rehearsal_is_given() {
        let top = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        for schedule in SCHEDULES {
            let arguments = schedule.rehearse_arguments();
            let files = arguments.split(" --furnace ");
            files.for_each(|file| assert!(top.join(file).exists(), "{file}"));
        }
    }

    #[test]
    fn every_schedule_compiles() {
        for schedule in SCHEDULES {
            schedule.plan().unwrap_or_else(|why| panic!("{why}"));
        }
    }
}
