//! How a rehearsal finds the furnace: cold, evenly warm, or as an earlier rehearsal left it.

use std::path::Path;
use std::time::Duration;

use saggar_bench::SetupError;
use saggar_plant::furnace_state::FurnaceState;
use saggar_verdict::format::{Scale, one_decimal};

use crate::error::CliError;
use saggar_files::{Diagnostic, display_path, hex};
use saggar_report::read_furnace_state;
use saggar_schedule::firing_plan::FiringPlan;

/// The furnace before the work is put in. The work is cold in all of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StartCondition<'a> {
    /// As cold as the room.
    Cold,
    /// At this temperature (°C), walls included.
    EvenlyWarm(f64),
    /// As the rehearsal of this folder left it, this long before.
    After(&'a Path, Duration),
}

impl StartCondition<'_> {
    /// How it differs from a cold start: in a phrase, and for the name of a folder.
    pub(super) fn differs(&self, scale: Scale) -> Option<(String, String)> {
        match self {
            Self::Cold => None,
            Self::EvenlyWarm(celsius) => Some((
                format!("the furnace at {} at the start", scale.temperature(*celsius)),
                format!("start{}", one_decimal(*celsius)),
            )),
            Self::After(folder, pause) => {
                let minutes = one_decimal(pause.as_secs_f64() / 60.0);
                let (said, short) = match pause.is_zero() {
                    true => (String::new(), String::new()),
                    false => (format!(" {minutes} min before"), format!("+pause{minutes}")),
                };
                let stem = folder.file_name().unwrap_or(folder.as_os_str()).to_string_lossy();
                Some((
                    format!("the furnace as {} left it{said}", display_path(folder)),
                    format!("after-{stem}{short}"),
                ))
            }
        }
    }

    /// Why a rehearsal with it clears no programme for an upload.
    pub(super) const fn obstacle(&self) -> Option<&'static str> {
        match self {
            Self::Cold => None,
            Self::EvenlyWarm(_) => Some("--start was given"),
            Self::After(..) => Some("--after was given"),
        }
    }
}

/// The furnace before the work is put in; `None` if it is cold.
///
/// # Errors
/// The temperature is below that of the room or above the furnace's limit; or no rehearsal of this
/// furnace can be read from the folder.
pub(super) fn furnace_state(
    start: StartCondition<'_>,
    schedule: &Path,
    plan: &FiringPlan,
) -> Result<Option<FurnaceState>, CliError> {
    let profile = &plan.profile;
    match start {
        StartCondition::Cold => Ok(None),
        StartCondition::EvenlyWarm(celsius) => {
            check_range(celsius, plan)?;
            Ok(Some(FurnaceState::evenly_warm(&profile.spec, celsius)))
        }
        StartCondition::After(folder, pause) => {
            let digest = hex(&profile.furnace.digest());
            let left = read_furnace_state(folder, &profile.name, &digest)?;
            let now = left.after_pause(&profile.spec, &plan.work, pause.as_secs_f64());
            let schedule = schedule.to_path_buf();
            now.map(Some).map_err(|why| {
                let why = SetupError::Chamber(why);
                CliError::Rehearsal { schedule, why }
            })
        }
    }
}

fn check_range(celsius: f64, plan: &FiringPlan) -> Result<(), Diagnostic> {
    let profile = &plan.profile;
    let (room_c, limit_c) =
        (profile.spec.ambient_c, f64::from(profile.furnace.limits.furnace_max.get()));
    let wrong = |message: String| {
        let (room, limit) = (one_decimal(room_c), one_decimal(limit_c));
        let help = format!("give {room} to {limit} °C");
        Err(Diagnostic::for_file("--start", message, help))
    };
    if celsius < room_c {
        let room = one_decimal(room_c);
        return wrong(format!(
            "{} °C is colder than the room, which {} puts at {room} °C",
            one_decimal(celsius),
            profile.name
        ));
    }
    if celsius > limit_c {
        let limit = one_decimal(limit_c);
        return wrong(format!(
            "{} °C is hotter than {}'s limit, {limit} °C: there it trips",
            one_decimal(celsius),
            profile.name
        ));
    }
    Ok(())
}
