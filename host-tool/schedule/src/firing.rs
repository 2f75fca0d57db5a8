//! A firing as the desk plans it: a schedule, the work in it, and the furnace it is for.

use std::f64::consts::PI;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use saggar_core::programme::Image;
use saggar_plant::spec::WorkSpec;

use crate::Error;
use crate::profile::Profile;
use crate::schedule::{self, Schedule, StageMap, Summary};
use saggar_files::{Finding, Findings, Source};
use saggar_plant::say::tidy;

/// A firing that may be rehearsed: the core has verified its programme on its furnace.
#[derive(Clone, Debug)]
pub struct Firing {
    /// The text of the schedule.
    pub source: Arc<Source>,
    /// The schedule.
    pub schedule: Schedule,
    /// The work.
    pub work: WorkSpec,
    /// The furnace, for the simulation and for the controller.
    pub profile: Profile,
    /// The file of the furnace.
    pub profile_path: PathBuf,
    /// The programme.
    pub image: Image,
    /// From the programme's steps back to the schedule's stages.
    pub map: StageMap,
    /// The programme in a few figures.
    pub summary: Summary,
}

impl Firing {
    /// Reads a schedule and the furnace profile that it names, or the one given instead.
    ///
    /// # Errors
    /// Everything that is wrong with either.
    pub fn load(schedule: &Path, furnace: Option<&Path>) -> Result<Self, Error> {
        let source = Source::read(schedule)?;
        Self::from_source(&Arc::new(source), schedule.parent(), furnace)
    }

    /// As [`Firing::load`], from a text; `folder` is where the paths in it start.
    ///
    /// # Errors
    /// Everything that is wrong with the schedule or the profile.
    pub fn from_source(
        source: &Arc<Source>,
        folder: Option<&Path>,
        furnace: Option<&Path>,
    ) -> Result<Self, Error> {
        let findings = Findings::new(source);
        let mut of_profile = Vec::new();
        let mut firing = None;
        if let Some(schedule) = Schedule::read(source, &findings) {
            let lowered = schedule::lower(&schedule, &findings);
            let profile = furnace_of(&schedule, folder, furnace, &findings)
                .map_err(|profile_findings| of_profile = profile_findings);
            if let Ok(Some(profile)) = profile
                && let Some(image) = schedule::judge(&lowered, &profile.1, &findings)
                && let Some(work) = schedule.work.clone()
            {
                let (profile_path, profile) = profile;
                fits(&schedule, &work, &profile, &findings);
                let summary = Summary::of(&image);
                let source = Arc::clone(source);
                let map = lowered.map;
                firing = Some(Self {
                    source,
                    schedule,
                    work,
                    profile,
                    profile_path,
                    image,
                    map,
                    summary,
                });
            }
        }
        match firing {
            Some(firing) if findings.is_empty() => Ok(firing),
            Some(_) | None => {
                let mut all = findings.into_sorted();
                all.append(&mut of_profile);
                Err(Error::Input(all))
            }
        }
    }
}

/// Notes work that has no room on the furnace's table.
fn fits(schedule: &Schedule, work: &WorkSpec, profile: &Profile, findings: &Findings) {
    let radius_m = profile.spec.table.radius_m;
    let room_mm2 = (PI * radius_m * radius_m * 1e6).floor();
    let each_mm2 = work.area_m2 * 1e6;
    let needed_mm2 = f64::from(work.count) * each_mm2;
    if needed_mm2 <= room_mm2 {
        return;
    }
    let (needed, each, table) = (tidy(needed_mm2), tidy(each_mm2), &profile.name);
    let message = match work.count {
        1 => format!("the piece takes {each} mm², and the table of {table} has {room_mm2} mm²"),
        count => format!(
            "{count} pieces of {each} mm² take {needed} mm², and the table of {table} has \
             {room_mm2} mm²"
        ),
    };
    let most = (room_mm2 / each_mm2).floor();
    let help = if most < 1.0 {
        "choose a furnace with a larger table, or correct `area_square_millimetre`".to_owned()
    } else {
        format!("fire at most {most} at once, or choose a furnace with a larger table")
    };
    findings.note(&schedule.size_span, message, help);
}

/// The profile that counts, and its file. A profile that the schedule names and that cannot even be read is
/// the schedule's fault; what is wrong inside a profile is the profile's.
fn furnace_of(
    schedule: &Schedule,
    folder: Option<&Path>,
    given: Option<&Path>,
    findings: &Findings,
) -> Result<Option<(PathBuf, Profile)>, Vec<Finding>> {
    if let Some(given) = given {
        return Profile::load(given).map(|profile| Some((given.to_path_buf(), profile)));
    }
    let Some((named, span)) = &schedule.furnace else {
        findings.note(
            &(0..0),
            "the schedule names no furnace",
            "add `furnace = \"path of a profile\"` at the top, or give --furnace",
        );
        return Ok(None);
    };
    let Some(named) = named else { return Ok(None) };
    let path = folder.map_or_else(|| named.clone(), |folder| folder.join(named));
    match Profile::load(&path) {
        Ok(profile) => Ok(Some((path, profile))),
        Err(list) => match list.as_slice() {
            [Finding { place: None, message, file, .. }] => {
                let help =
                    "the path starts at the schedule's own folder; --furnace overrides it";
                findings.note(span, format!("furnace profile {file}: {message}"), help);
                Ok(None)
            }
            _ => Err(list),
        },
    }
}
