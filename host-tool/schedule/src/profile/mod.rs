//! Furnace profiles: one file that describes a furnace to the simulation and to the control core.
//!
//! [`crate::keys`] has the keys of the file. [`chamber`], [`instruments`], [`power`] and [`limits`]
//! convert its sections; [`cross`] checks the sections against each other, and
//! [`plausible`] the tables against the rest.

mod chamber;
mod cross;
mod instruments;
mod limits;
mod plausible;
mod power;

use std::path::Path;
use std::sync::Arc;

use saggar_core::furnace::Furnace;
use saggar_plant::spec::FurnaceSpec;

use crate::document::{KeyDiagnostics, Section as _};
use crate::keys;
use crate::text_file;
use saggar_files::{Diagnostic, Diagnostics, SourceText};

/// A furnace.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Its name.
    pub name: String,
    /// SHA-256 of its text, hexadecimal.
    pub digest: String,
    /// Data for the simulation.
    pub spec: FurnaceSpec,
    /// Data for the controller.
    pub furnace: Furnace,
}

impl Profile {
    /// Reads a profile from a file.
    ///
    /// # Errors
    /// All errors in it.
    pub fn load(path: &Path) -> Result<Self, Vec<Diagnostic>> {
        let source = text_file::read_text(path).map_err(|diagnostic| vec![diagnostic])?;
        Self::from_source(&Arc::new(source))
    }

    /// Reads a profile from a text.
    ///
    /// # Errors
    /// All errors in it.
    pub fn from_source(source: &Arc<SourceText>) -> Result<Self, Vec<Diagnostic>> {
        let diagnostics = Diagnostics::new(source);
        let profile = Self::read(source, &diagnostics);
        match profile {
            Some(profile) if diagnostics.is_empty() => Ok(profile),
            Some(_) | None => Err(diagnostics.into_sorted()),
        }
    }

    fn read(source: &Arc<SourceText>, diagnostics: &Diagnostics) -> Option<Self> {
        let document = keys::FileKind::Profile.open(source, diagnostics)?;
        let (keys, locations) = document.read::<keys::Profile>();
        let notes = KeyDiagnostics { diagnostics, locations: &locations };
        Self::of(&keys.with_defaults(), source.digest(), notes)
    }

    /// Converts the keys to a furnace. Contradictions are noted.
    fn of(keys: &keys::Profile, digest: String, notes: KeyDiagnostics<'_>) -> Option<Self> {
        let chamber = keys.chamber.as_ref().and_then(|keys| chamber::chamber(keys, notes));
        let insulation =
            keys.insulation.as_ref().and_then(|keys| chamber::insulation(keys, notes));
        let mains = keys.mains.as_ref().and_then(|keys| power::mains(keys, notes));
        let heater = keys.heater.as_ref().and_then(power::heater);
        let inputs = power::inputs(&keys.inputs.clone().unwrap_or_default());
        let control = keys.control_sensor.as_ref().and_then(instruments::sensor);
        let limit = keys.limit_sensor.as_ref().and_then(instruments::sensor);
        let volume_m3 = chamber.as_ref().map(|chamber| chamber.volume_m3);
        let vacuum =
            keys.vacuum.as_ref().map(|keys| instruments::vacuum(keys, volume_m3, notes));
        let limits = keys.limits.as_ref().and_then(|keys| limits::limits(keys, notes));
        let gains = keys.gains.as_ref().and_then(|keys| limits::gains(keys, notes));
        let feed_forward =
            keys.feed_forward.as_ref().and_then(|keys| limits::feed_forward(keys, notes));
        cross::sensors(notes, control.as_ref(), limit.as_ref(), limits.as_ref());
        cross::insulation(notes, insulation.as_ref(), limits.as_ref());
        cross::power(notes, heater.as_ref(), mains.as_ref(), feed_forward.as_ref());
        cross::closure(notes, keys.closure, vacuum.is_some());
        let table = keys.table.as_ref().and_then(chamber::table);
        cross::table(notes, table.as_ref(), chamber.as_ref());

        let (heater, mains, control, limit) = (heater?, mains?, control?, limit?);
        let (chamber, inputs) = (chamber?, inputs?);
        let (insulation, limits) = (insulation?, limits?);
        let (gains, feed_forward) = (gains?, feed_forward?);
        let table = table?;
        let plausible = plausible::FurnaceParts {
            chamber: &chamber,
            insulation: &insulation.spec,
            table: &table,
            heater: &heater,
            control: &control,
            limits: &limits,
            ambient_c: keys.room_celsius?,
        };
        plausible.check(notes, &feed_forward, &gains);
        let (pump, vacuum) = match vacuum {
            None => (None, None),
            Some(read) => read.map(|(pump, vacuum)| (Some(pump), Some(vacuum)))?,
        };
        let furnace = Furnace {
            control_sensor: instruments::core_sensor(keys.control_sensor.as_ref()?)?,
            limit_sensor: instruments::core_sensor(keys.limit_sensor.as_ref()?)?,
            limits,
            heater: power::core_heater(&heater, &mains, inputs, &chamber, feed_forward),
            gains,
            vacuum,
            closure: keys.closure?,
        };
        let spec = FurnaceSpec {
            chamber,
            insulation: insulation.spec,
            heater: heater.spec,
            table,
            pin: chamber::pin(keys.pin.as_ref()?)?,
            control_sensor: control,
            limit_sensor: limit,
            pump,
            mains,
            inputs,
            ambient_c: keys.room_celsius?,
            closure: keys.closure?,
            closure_travel_s: keys.closure_travel_second?,
        };
        Some(Self { name: keys.name.clone()?, digest, spec, furnace })
    }
}
