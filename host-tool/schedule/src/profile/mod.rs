//! Furnace profiles: one file that says what a furnace is, to the simulation and to the
//! control core.
//!
//! [`Profile::read`] reads the sections one by one ([`chamber`], [`instruments`], [`power`],
//! [`limits`]) and then checks them against each other ([`cross`]).

mod chamber;
mod cross;
mod instruments;
mod limits;
mod power;

use std::path::Path;
use std::sync::Arc;

use saggar_core::furnace::{Closure, Furnace};
use saggar_core::programme::NAME_BYTES_MAX;
use saggar_plant::spec::FurnaceSpec;

use crate::document::{Document, Table};
use saggar_files::{Finding, Findings, Source};

/// A furnace as its profile says it.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Its name.
    pub name: String,
    /// SHA-256 of its text, hexadecimal.
    pub digest: String,
    /// What the simulation builds.
    pub spec: FurnaceSpec,
    /// What the controller is told.
    pub furnace: Furnace,
}

impl Profile {
    /// Reads a profile from a file.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn load(path: &Path) -> Result<Self, Vec<Finding>> {
        let source = Source::read(path).map_err(|finding| vec![finding])?;
        Self::from_source(&Arc::new(source))
    }

    /// Reads a profile from a text.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn from_source(source: &Arc<Source>) -> Result<Self, Vec<Finding>> {
        let findings = Findings::new(source);
        let profile = Self::read(source, &findings);
        match profile {
            Some(profile) if findings.is_empty() => Ok(profile),
            Some(_) | None => Err(findings.into_sorted()),
        }
    }

    fn read(source: &Arc<Source>, findings: &Findings) -> Option<Self> {
        let document = Document::parse(source, findings)?;
        let root = document.root();
        if root.is_empty() {
            let help = "start from one of the examples in docs/furnaces";
            findings.note(&(0..0), "the file is empty", help);
            return None;
        }
        if root.has("stage") && !root.has("chamber") {
            findings.note(
                &root.key_span("stage"),
                "this is a schedule, not a furnace profile",
                "give schedules alone, and profiles with --furnace",
            );
            return None;
        }
        Self::from_table(root, source.digest())
    }

    fn from_table(root: Table<'_>, digest: String) -> Option<Self> {
        let name = root.text("name", NAME_BYTES_MAX);
        let closure =
            root.choice("closure", &[("lift", Closure::Lift), ("door", Closure::Door)]);
        let travel_s = root.number("closure_travel_second", 0.1..=120.0);
        let room_c = root.number_or("room_celsius", 5.0..=45.0, 23.0);
        let chamber = root.table("chamber").and_then(chamber::chamber);
        let insulation = root.table("insulation").and_then(chamber::insulation);
        let table = root.table("table").and_then(chamber::table);
        let pin = root.table("pin").and_then(chamber::pin);
        let mains = root.table("mains").and_then(power::mains);
        let heater = root.table("heater").and_then(power::heater);
        let control = root.table("control_sensor").and_then(instruments::sensor);
        let limit = root.table("limit_sensor").and_then(instruments::sensor);
        let volume_m3 = chamber.as_ref().map(|chamber| chamber.volume_m3);
        let vacuum = root.table_if("vacuum").map(|table| instruments::vacuum(table, volume_m3));
        let limits =
            root.table("limits").and_then(|table| limits::limits(table, vacuum.is_some()));
        let gains = limits::gains(&root);
        let feed_forward = limits::feed_forward(&root);
        cross::sensors(&root, control.as_ref(), limit.as_ref(), limits.as_ref());
        cross::insulation(&root, insulation.as_ref(), limits.as_ref());
        cross::power(&root, heater.as_ref(), mains.as_ref(), feed_forward.as_ref());
        cross::closure(&root, closure, vacuum.is_some());
        root.finish();

        let (heater, mains, control, limit) = (heater?, mains?, control?, limit?);
        let (pump, vacuum) = match vacuum {
            None => (None, None),
            Some(read) => read.map(|(pump, vacuum)| (Some(pump), Some(vacuum)))?,
        };
        let furnace = Furnace {
            control_sensor: control.kind,
            limit_sensor: limit.kind,
            limits: limits?,
            heater: power::core_heater(&heater, &mains, feed_forward?),
            gains: gains?,
            vacuum,
            closure: closure?,
        };
        let spec = FurnaceSpec {
            chamber: chamber?,
            insulation: insulation?.spec,
            heater: heater.spec,
            table: table?,
            pin: pin?,
            control_sensor: control,
            limit_sensor: limit,
            pump,
            mains,
            ambient_c: room_c,
            closure_travel_s: travel_s?,
        };
        Some(Self { name: name?, digest, spec, furnace })
    }
}
