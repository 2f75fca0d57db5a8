//! A list of faults as a file: `[[fault]]`, one each.

use std::path::Path;
use std::sync::Arc;

use saggar_files::{Diagnostic, Diagnostics, SourceText};
use saggar_plant::faults::{Fault, Intermittent};

use super::check::{check, first_overlap};
use super::text::fault_text;
use super::times::{minutes_text, whole_ms};
use crate::document::{self, KeyDiagnostics};
use crate::keys::faults::{BeforeStart, FaultEntry};
use crate::keys::{FaultFile, FileKind};
use crate::text_file;

/// Reads faults from a file.
///
/// # Errors
/// All errors in it.
pub fn load(path: &Path) -> Result<Vec<Fault>, Vec<Diagnostic>> {
    let source = text_file::read_text(path).map_err(|diagnostic| vec![diagnostic])?;
    read_faults(&Arc::new(source))
}

/// Reads faults from a text.
///
/// # Errors
/// All errors in it.
pub fn read_faults(source: &Arc<SourceText>) -> Result<Vec<Fault>, Vec<Diagnostic>> {
    let diagnostics = Diagnostics::new(source);
    let faults = read(source, &diagnostics);
    match faults {
        Some(faults) if diagnostics.is_empty() => Ok(faults),
        Some(_) | None => Err(diagnostics.into_sorted()),
    }
}

fn read(source: &Arc<SourceText>, diagnostics: &Diagnostics) -> Option<Vec<Fault>> {
    let document = FileKind::Faults.open(source, diagnostics)?;
    let (keys, locations) = document.read::<FaultFile>();
    let notes = KeyDiagnostics { diagnostics, locations: &locations };
    let entries = keys.fault?;
    let read: Vec<Option<Fault>> = entries
        .iter()
        .enumerate()
        .map(|(index, entry)| read_entry(entry, &format!("fault[{}]", index + 1), notes))
        .collect();
    let faults: Vec<Fault> = read.into_iter().collect::<Option<_>>()?;
    if let Some((earlier, later)) = first_overlap(&faults) {
        let message = format!(
            "this is {}, while fault {} is there: {}",
            fault_text(faults.get(later)?),
            earlier + 1,
            fault_text(faults.get(earlier)?)
        );
        let help = "give the two times that do not overlap";
        notes.at_value(&format!("fault[{}].kind", later + 1), message, help);
    }
    Some(faults)
}

/// A fault, if all of it could be read. Contradictions are noted.
fn read_entry(entry: &FaultEntry, path: &str, notes: KeyDiagnostics<'_>) -> Option<Fault> {
    let from_s = from_s(entry, path, notes);
    let intermittent = intermittent(entry, path, notes);
    let kind = entry.kind?;
    let fault = Fault {
        severity: entry.severity.unwrap_or(kind.at(0.0).severity),
        until_s: entry.until_minutes.map_or(f64::INFINITY, |minutes| whole_ms(minutes * 60.0)),
        intermittent: intermittent?,
        ..kind.at(from_s?)
    };
    match check(&fault, entry.severity) {
        Ok(()) => Some(fault),
        Err(error) => {
            notes.at_value(&format!("{path}.{}", error.key()), error.message(), error.help());
            None
        }
    }
}

fn from_s(entry: &FaultEntry, path: &str, notes: KeyDiagnostics<'_>) -> Option<f64> {
    let [word, minutes] = ["from", "from_minutes"].map(|key| format!("{path}.{key}"));
    match (notes.locations.has(&word), notes.locations.has(&minutes)) {
        (true, true) => {
            let help = "leave one of them out";
            notes.at_key(&word, "`from` and `from_minutes` exclude each other", help);
            None
        }
        (false, false) => {
            let help = "add `from_minutes = 45`, or `from = \"before\"` for before the start";
            notes.at_value(path, "it is not said when this fault strikes", help);
            None
        }
        (true, false) => entry.from.as_ref().map(|BeforeStart| Fault::BEFORE_START_S),
        (false, true) => entry.from_minutes.map(|minutes| whole_ms(minutes * 60.0)),
    }
}

fn intermittent(
    entry: &FaultEntry,
    path: &str,
    notes: KeyDiagnostics<'_>,
) -> Option<Option<Intermittent>> {
    let [every, part] = ["every_seconds", "for_seconds"].map(|key| format!("{path}.{key}"));
    let help = "a fault that comes and goes needs `every_seconds` and `for_seconds`";
    match (notes.locations.has(&every), notes.locations.has(&part)) {
        (false, false) => Some(None),
        (true, true) => {
            let (every_s, for_s) = (entry.every_seconds?, entry.for_seconds?);
            let times = Intermittent { every_s: whole_ms(every_s), for_s: whole_ms(for_s) };
            Some(Some(times))
        }
        (true, false) => {
            notes.at_key(&every, "`for_seconds` is missing", help);
            None
        }
        (false, true) => {
            notes.at_key(&part, "`every_seconds` is missing", help);
            None
        }
    }
}

/// Faults as the text of a file.
pub fn to_toml(faults: &[Fault]) -> String {
    document::to_toml(&FaultFile { fault: Some(faults.iter().map(FaultEntry::from).collect()) })
}

/// Minutes with as few digits as are needed.
fn minutes(seconds: f64) -> f64 {
    minutes_text(seconds).parse().unwrap_or(seconds / 60.0)
}

impl From<&Fault> for FaultEntry {
    fn from(fault: &Fault) -> Self {
        let default = fault.kind.at(0.0).severity;
        let is_before = fault.from_s < 0.0;
        Self {
            kind: Some(fault.kind),
            severity: ((fault.severity - default).abs() > 0.0).then_some(fault.severity),
            from_minutes: (!is_before).then(|| minutes(fault.from_s)),
            from: is_before.then_some(BeforeStart),
            until_minutes: fault.until_s.is_finite().then(|| minutes(fault.until_s)),
            every_seconds: fault.intermittent.map(|times| times.every_s),
            for_seconds: fault.intermittent.map(|times| times.for_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::fault_list::any_fault::any_fault;

    proptest! {
        #[test]
        fn every_list_of_faults_survives_its_file(
            faults in prop::collection::vec(any_fault(), 1..5)
        ) {
            prop_assume!(first_overlap(&faults).is_none());
            let text = to_toml(&faults);
            let source = Arc::new(SourceText::new("faults.toml", text.clone()));
            prop_assert_eq!(read_faults(&source).ok(), Some(faults), "{}", text);
        }
    }
}
