//! The examples, and files that were made: a schedule, a profile or faults from one, manual pages.

use std::io;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::commands::{EXAMPLES, Example, NewFiles};
use saggar_files::display_path;
use saggar_schedule::keys::FileKind;
use saggar_terminal::DisplayOptions;
use saggar_terminal::{GOOD, STRONG, StyledLine};
use saggar_terminal::{plural, print_answer, print_confirmation, with_ok};

/// Lists the examples.
///
/// # Errors
/// The output cannot be written.
pub fn examples(display: &DisplayOptions) -> io::Result<()> {
    let row = |example: &Example| json!({ "name": example.name, "kind": example.kind.name(), "about": example.about });
    let rows = || EXAMPLES.iter().map(row).collect::<Vec<Value>>();
    print_answer(
        display,
        || with_ok(json!({ "examples": rows() })),
        |out| {
            for (kind, title) in [
                (FileKind::Schedule, "Schedules"),
                (FileKind::Profile, "Furnace profiles"),
                (FileKind::Faults, "Faults"),
            ] {
                out.wrapped(StyledLine::default().styled(STRONG, title), "", "  ")?;
                for example in EXAMPLES.iter().filter(|example| example.kind == kind) {
                    let text = format!("{}: {}", example.name, example.about);
                    out.wrapped(text, "  ", "      ")?;
                }
            }
            out.wrapped("Next: saggar new NAME", "", "      ")
        },
    )
}

/// Tells which files were written, and the command for them.
///
/// # Errors
/// The output cannot be written.
pub fn new_files(new: &NewFiles, display: &DisplayOptions) -> io::Result<()> {
    let file = display_path(&new.file);
    let kind = new.example.kind.phrase();
    let next = match new.example.kind {
        FileKind::Schedule => format!("saggar rehearse {}", quoted(&file)),
        FileKind::Profile => format!("saggar check {}", quoted(&file)),
        FileKind::Faults => format!("saggar rehearse SCHEDULE --faults {}", quoted(&file)),
    };
    let json = || {
        let furnace = new
            .furnace
            .as_ref()
            .map(|(path, is_new)| json!({ "file": display_path(path), "written": is_new }));
        with_ok(json!({ "file": file, "furnace": furnace, "next": next }))
    };
    print_answer(display, json, |out| {
        let head = StyledLine::from(format!("{file}: ")).styled(GOOD, "written");
        let from = format!(", {kind} from the example {}", new.example.name);
        out.wrapped(head.plain(&from), "", "  ")?;
        if let Some((path, is_new)) = &new.furnace {
            let path = StyledLine::from(format!("{}: ", display_path(path)));
            let line = match is_new {
                true => path.styled(GOOD, "written").plain(", the profile of its furnace"),
                false => path.plain("kept, the profile of its furnace was there already"),
            };
            out.wrapped(line, "", "  ")?;
        }
        out.wrapped(format!("Next: {next}"), "", "      ")
    })
}

/// A path as an argument: in quotation marks if it has blanks.
fn quoted(path: &str) -> String {
    if path.contains(' ') { format!("\"{path}\"") } else { path.to_owned() }
}

/// Tells how many manual pages were written.
///
/// # Errors
/// The output cannot be written.
pub fn manual_files(
    files: &[PathBuf],
    folder: &Path,
    display: &DisplayOptions,
) -> io::Result<()> {
    let pages = plural(files.len() as u64, "manual page", "manual pages");
    let text = format!("{}: {pages} written", display_path(folder));
    let files: Vec<String> = files.iter().map(|file| display_path(file)).collect();
    print_confirmation(&text, json!({ "files": files }), display)
}
