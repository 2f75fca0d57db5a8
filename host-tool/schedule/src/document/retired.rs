//! Keys that schedules once had. They get help on how to state the same now.

const RECIPE_HELP: &str = "state the recipe of the slurry by mass, as you weigh it: `powder_gram = 10` and \
                           `water_gram = 3`; its share of glass follows from the densities";

/// Each retired key, with its help.
const RETIRED: [(&str, &str); 2] =
    [("glass_share_percent", RECIPE_HELP), ("water_percent", RECIPE_HELP)];

/// Help for a key that was retired; `None` for any other.
pub(super) fn help(key: &str) -> Option<&'static str> {
    RETIRED.iter().find(|(name, _)| *name == key).map(|(_, help)| *help)
}
