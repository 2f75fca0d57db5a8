//! One table of keys serves the reader, the writer, the reference pages and the schema for editors.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

mod edit;
mod model;
mod pages;
mod schema;

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use saggar_files::SourceText;

/// The folder of the documentation.
fn docs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs")
}

/// The example files of a kind, `schedules` or `furnaces`.
fn examples(kind: &str) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> =
        fs::read_dir(docs().join(kind)).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    assert!(paths.len() >= 2, "only {paths:?}");
    paths
}

fn source(text: &str) -> Arc<SourceText> {
    Arc::new(SourceText::new("any.toml", text))
}
