//! A schedule, its work and its furnace, verified together.

use std::f64::consts::PI;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use saggar_core::programme::ProgrammeImage;
use saggar_plant::spec::WorkSpec;

use crate::FilesError;
use crate::document::{KeyDiagnostics, Section};
use crate::profile::Profile;
use crate::schedule::{self, Draft, ProgrammeSummary, Schedule, StageMap};
use crate::text_file;
use saggar_files::{Diagnostic, Diagnostics, SourceText};
use saggar_verdict::format::one_decimal;

/// A firing that is ready to be rehearsed: the core has verified its programme for its furnace.
#[derive(Clone, Debug)]
pub struct FiringPlan {
    /// The text of the schedule.
    pub source: Arc<SourceText>,
    /// The schedule.
    pub schedule: Schedule,
    /// The work.
    pub work: WorkSpec,
    /// The furnace, for the simulation and for the controller.
    pub profile: Profile,
    /// The file of the furnace.
    pub profile_path: PathBuf,
    /// The programme.
    pub image: ProgrammeImage,
    /// Which stage each step of the programme comes from.
    pub map: StageMap,
    /// Size, duration and extremes of the programme.
    pub summary: ProgrammeSummary,
}

impl FiringPlan {
    /// Reads a schedule and the furnace profile that it names, or the one given instead.
    ///
    /// # Errors
    /// All errors in either file.
    pub fn load(schedule: &Path, furnace: Option<&Path>) -> Result<Self, FilesError> {
        let source = text_file::read_text(schedule)?;
        Self::from_source(&Arc::new(source), schedule.parent(), furnace)
    }

    /// As [`FiringPlan::load`], from a text; paths in it are relative to `folder`.
    ///
    /// # Errors
    /// All errors in the schedule or the profile.
    pub fn from_source(
        source: &Arc<SourceText>,
        folder: Option<&Path>,
        furnace: Option<&Path>,
    ) -> Result<Self, FilesError> {
        Self::read(source, |draft, diagnostics| {
            load_profile(draft, folder, furnace, diagnostics)
        })
    }

    /// A schedule and the furnace profile to use with it, whichever it names, both from texts.
    ///
    /// # Errors
    /// All errors in either text.
    pub fn from_texts(
        schedule: &Arc<SourceText>,
        profile: &Arc<SourceText>,
    ) -> Result<Self, FilesError> {
        Self::read(schedule, |_, _| {
            let path = PathBuf::from(profile.name());
            Profile::from_source(profile).map(|profile| Some((path, profile)))
        })
    }

    /// Reads a schedule whose profile `load` gives.
    fn read(
        source: &Arc<SourceText>,
        load: impl FnOnce(
            &Draft,
            &Diagnostics,
        ) -> Result<Option<(PathBuf, Profile)>, Vec<Diagnostic>>,
    ) -> Result<Self, FilesError> {
        let diagnostics = Diagnostics::new(source);
        let mut of_profile = Vec::new();
        let mut firing = None;
        if let Some(draft) = Draft::read(source, &diagnostics) {
            let compiled = schedule::compile(&draft, &diagnostics);
            let profile =
                load(&draft, &diagnostics).map_err(|diagnostics| of_profile = diagnostics);
            if let Ok(Some(profile)) = profile
                && let Some(image) =
                    schedule::verify(&draft, &compiled, &profile.1, &diagnostics)
            {
                check_table_area(&draft, &profile.1, &diagnostics);
                schedule::check_reach(&draft, &compiled, &profile.1, &diagnostics);
                firing = Self::of(source, &draft, profile, image, compiled.map);
            }
        }
        match firing {
            Some(firing) if diagnostics.is_empty() => Ok(firing),
            Some(_) | None => {
                let mut all = diagnostics.into_sorted();
                all.append(&mut of_profile);
                Err(FilesError::Invalid(all))
            }
        }
    }
}

impl FiringPlan {
    fn of(
        source: &Arc<SourceText>,
        draft: &Draft,
        (profile_path, profile): (PathBuf, Profile),
        image: ProgrammeImage,
        map: StageMap,
    ) -> Option<Self> {
        let schedule = draft.complete()?;
        let work = schedule.work.spec()?;
        let summary = ProgrammeSummary::of(&image);
        let source = Arc::clone(source);
        Some(Self { source, schedule, work, profile, profile_path, image, map, summary })
    }
}

/// Checks that the work fits on the furnace's table.
fn check_table_area(draft: &Draft, profile: &Profile, diagnostics: &Diagnostics) {
    let work = draft.work.as_ref().map(Section::with_defaults).unwrap_or_default();
    let (Some(count), Some(area)) = (work.count, work.area_square_millimetre) else { return };
    let radius_m = profile.spec.table.radius_m;
    let table_mm2 = (PI * radius_m * radius_m * 1e6).floor();
    let each_mm2 = area * 1e-6 * 1e6;
    let needed_mm2 = f64::from(count) * each_mm2;
    if needed_mm2 <= table_mm2 {
        return;
    }
    let (needed, each, table) = (one_decimal(needed_mm2), one_decimal(each_mm2), &profile.name);
    let message = match count {
        1 => {
            format!("the piece takes {each} mm², and the table of {table} has {table_mm2} mm²")
        }
        count => format!(
            "{count} pieces of {each} mm² take {needed} mm², and the table of {table} has \
             {table_mm2} mm²"
        ),
    };
    let count_max = (table_mm2 / each_mm2).floor();
    let help = if count_max < 1.0 {
        "choose a furnace with a larger table, or correct `area_square_millimetre`".to_owned()
    } else {
        format!("fire at most {count_max} at once, or choose a furnace with a larger table")
    };
    let notes = KeyDiagnostics { diagnostics, locations: &draft.locations };
    let sized = ["work.count", "work.area_square_millimetre"];
    let sized = sized.into_iter().find(|path| notes.locations.has(path)).unwrap_or("work");
    notes.at_value(sized, message, help);
}

/// Loads the profile given on the command line, or else the one that the schedule names. A named file
/// that cannot be read is an error of the schedule; an error inside it is one of the profile.
fn load_profile(
    draft: &Draft,
    folder: Option<&Path>,
    given: Option<&Path>,
    diagnostics: &Diagnostics,
) -> Result<Option<(PathBuf, Profile)>, Vec<Diagnostic>> {
    if let Some(given) = given {
        return Profile::load(given).map(|profile| Some((given.to_path_buf(), profile)));
    }
    let notes = KeyDiagnostics { diagnostics, locations: &draft.locations };
    if draft.furnace.is_none() && !draft.locations.has("furnace") {
        notes.at_value(
            "",
            "the schedule names no furnace",
            "add `furnace = \"path of a profile\"` at the top of the file, or use --furnace",
        );
        return Ok(None);
    }
    let Some(named) = &draft.furnace else { return Ok(None) };
    let path = folder.map_or_else(|| named.clone(), |folder| folder.join(named));
    match Profile::load(&path) {
        Ok(profile) => Ok(Some((path, profile))),
        Err(list) => match list.as_slice() {
            [Diagnostic { location: None, message, file, .. }] => {
                let help =
                    "the path starts at the schedule's own folder; --furnace overrides it";
                notes.at_value("furnace", format!("furnace profile {file}: {message}"), help);
                Ok(None)
            }
            _ => Err(list),
        },
    }
}
