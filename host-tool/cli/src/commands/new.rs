//! `new`: write a schedule, a furnace profile or a list of faults from one of the shipped examples.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use saggar_files::atomic_file::{self, AtomicFile, WriteError, describe_io_error};
use saggar_files::{SourceText, display_path};
use saggar_schedule::firing_plan::FiringPlan;
use saggar_schedule::keys::FileKind;

use crate::error::CliError;

/// A file of `docs/` that is part of the program.
#[derive(Debug, PartialEq, Eq)]
pub struct Example {
    /// Its name on the command line, and that of its file without the ending.
    pub name: &'static str,
    /// What it is for, in a line.
    pub about: &'static str,
    /// What it is.
    pub kind: FileKind,
    text: &'static str,
}

macro_rules! examples {
    ($($kind:ident $folder:literal $name:literal: $about:literal;)+) => {
        /// All examples, in the order in which they are listed.
        pub const EXAMPLES: &[Example] = &[$(Example {
            name: $name,
            about: $about,
            kind: FileKind::$kind,
            text: include_str!(concat!("../../../../docs/", $folder, "/", $name, ".toml")),
        }),+];
    };
}

examples! {
    Schedule "schedules" "clean-alumina": "burn water and oil out of milled alumina, in air";
    Schedule "schedules" "infiltrate-alumina": "dry a coat of glass on alumina and infiltrate under vacuum";
    Schedule "schedules" "infiltrate-spinel-vacuum": "the same for spinel, cooler and for longer";
    Schedule "schedules" "infiltrate-zirconia-toughened": "the same for zirconia-toughened alumina, hotter";
    Schedule "schedules" "melt-back": "melt the glass of a blasted, infiltrated piece smooth";
    Schedule "schedules" "infiltrate-alumina-too-short": "a soak that is too short: its rehearsal fails";
    Profile "furnaces" "lift-vacuum": "0.5 litre, 1.2 kW, a lift and a vacuum pump";
    Profile "furnaces" "teaching-door": "3 litres, 2 kW, a door, no vacuum";
    Faults "faults" "loose-contact": "the control thermocouple's plug is loose: open twice a minute";
    Faults "faults" "two-at-once": "an aged element, and later a thermocouple that drifts";
}

/// The path from a schedule in `docs/` to its furnace profile, up to the name.
const TO_FURNACES: &str = "../furnaces/";

impl Example {
    /// The example of this name.
    pub fn named(name: &str) -> Option<&'static Self> {
        EXAMPLES.iter().find(|example| example.name == name)
    }

    /// The profile that a schedule names.
    fn furnace(&self) -> Option<&'static Self> {
        let (_, rest) = self.text.split_once(TO_FURNACES)?;
        Self::named(rest.split(".toml").next()?)
    }
}

/// What `new` wrote.
#[derive(Debug)]
pub struct NewFiles {
    /// The example.
    pub example: &'static Example,
    /// The file that was asked for.
    pub file: PathBuf,
    /// The profile that a schedule names, and whether it was written: one that was there is kept.
    pub furnace: Option<(PathBuf, bool)>,
}

/// Writes an example to `to`, a file or a folder, or else into the current folder. Creates the folder
/// of the file if needed. Writes the furnace profile that a schedule names beside it, unless a file
/// of that name exists. Replaces nothing.
///
/// # Errors
/// The file exists or cannot be written, or an existing profile does not fit the schedule.
pub fn new(example: &'static Example, to: Option<&Path>) -> Result<NewFiles, CliError> {
    let name = format!("{}.toml", example.name);
    let file = match to {
        None => PathBuf::from(name),
        Some(folder) if folder.is_dir() => folder.join(name),
        Some(file) => file.to_path_buf(),
    };
    let taken = || WriteError::new(&file, "it exists already: name another file");
    if file.extension().is_none_or(|ending| ending != "toml") {
        let why =
            "its name must end in .toml; for a folder of this name, make the folder first";
        return Err(WriteError::new(&file, why).into());
    }
    if file.symlink_metadata().is_ok() {
        return Err(taken().into());
    }
    let folder = atomic_file::parent_folder(&file);
    fs::create_dir_all(&folder).map_err(|why| {
        let folder = display_path(&folder);
        WriteError::new(
            &file,
            format!("the folder {folder} cannot be created: {}", describe_io_error(&why)),
        )
    })?;
    atomic_file::remove_stale(&folder);
    let text = example.text.replacen(TO_FURNACES, "", 1);
    let written = AtomicFile::create(&file, text.as_bytes())?;
    let furnace = match example.furnace() {
        None => None,
        Some(furnace) => {
            let path = file.with_file_name(format!("{}.toml", furnace.name));
            let is_new = put_furnace(furnace, &path)?;
            let source = Arc::new(SourceText::new(&display_path(&file), text));
            FiringPlan::from_source(&source, Some(&folder), None).map_err(|_| {
                let there = display_path(&path);
                let why = format!(
                    "{there} exists already, and the schedule does not fit it: name a file \
                     in another folder"
                );
                WriteError::new(&file, why)
            })?;
            Some((path, is_new))
        }
    };
    written.commit(false).map_err(|why| if why.exists { taken() } else { why })?;
    Ok(NewFiles { example, file, furnace })
}

/// Writes a profile unless there is a file of its name: whether it did.
fn put_furnace(furnace: &Example, path: &Path) -> Result<bool, WriteError> {
    if path.symlink_metadata().is_ok() {
        return Ok(false);
    }
    match AtomicFile::create(path, furnace.text.as_bytes())?.commit(false) {
        Ok(()) => Ok(true),
        Err(why) if why.exists => Ok(false),
        Err(why) => Err(why),
    }
}
