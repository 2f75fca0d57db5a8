//! A schedule file, top level.

use std::path::PathBuf;
use std::sync::Arc;

use saggar_core::programme::NAME_BYTES_MAX;

use super::{Schedule, stages, work};
use crate::document::{Document, Table};
use saggar_files::{Findings, Source};

/// Longest path of a furnace profile (bytes).
const PATH_BYTES_MAX: usize = 1024;

/// A schedule in as few lines as it can have, for whoever starts with an empty file.
const SHORTEST: &str = "start from one of the examples in docs/schedules";

impl Schedule {
    /// Reads a schedule, noting all that is wrong. What can be read is returned even so, so
    /// that the rest of it can be judged; `None` if there is nothing to judge.
    pub fn read(source: &Arc<Source>, findings: &Findings) -> Option<Self> {
        let document = Document::parse(source, findings)?;
        let root = document.root();
        if root.is_empty() {
            findings.note(&(0..0), "the file is empty", SHORTEST);
            return None;
        }
        if root.has("chamber") && !root.has("stage") {
            findings.note(
                &root.key_span("chamber"),
                "this is a furnace profile, not a schedule",
                "give it with --furnace, or name it in the schedule: furnace = \"…\"",
            );
            return None;
        }
        Some(Self::from_table(root))
    }

    fn from_table(root: Table<'_>) -> Self {
        let name = root.text("name", NAME_BYTES_MAX).unwrap_or_default();
        let path = root.text_if("furnace", PATH_BYTES_MAX).map(PathBuf::from);
        let furnace = root.has("furnace").then(|| (path, root.span_of("furnace")));
        let work = root.table("work");
        let size_span = work.as_ref().map_or(0..0, |work| {
            let sized = if work.has("count") { "count" } else { "area_square_millimetre" };
            work.span_of(sized)
        });
        let work = work.and_then(work::read);
        let stages = stages::read(&root);
        root.finish();
        Self { name, furnace, work, size_span, stages }
    }
}
