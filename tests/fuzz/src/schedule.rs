//! Target `schedule`: any text is read as a schedule and a profile, or rejected with diagnostics whose
//! locations lie in it.

use std::sync::Arc;

use saggar_core::programme::ProgrammeImage;
use saggar_files::{Diagnostic, Diagnostics, SourceText, is_forbidden_in_name};
use saggar_schedule::profile::Profile;
use saggar_schedule::schedule::{Draft, compile, verify};

use crate::example::PROFILE;

/// Reads the text as a schedule and as a furnace profile.
pub fn schedule(input: &[u8]) {
    let Ok(text) = std::str::from_utf8(input) else { return };
    let source = Arc::new(SourceText::new("input.toml", text));
    if let Err(diagnostics) = Profile::from_source(&source) {
        assert!(!diagnostics.is_empty(), "a profile was rejected without a diagnostic");
        check(text, &diagnostics);
    }
    let diagnostics = Diagnostics::new(&source);
    let compiled = Draft::read(&source, &diagnostics).map(|draft| {
        let compilation = compile(&draft, &diagnostics);
        (verify(&draft, &compilation, &PROFILE, &diagnostics), draft)
    });
    let diagnostics = diagnostics.into_sorted();
    check(text, &diagnostics);
    let Some((image, draft)) = compiled else {
        assert!(!diagnostics.is_empty(), "a schedule was rejected without a diagnostic");
        return;
    };
    if let Some(image) = image {
        let again = ProgrammeImage::from_bytes_with_digest(image.bytes(), &image.digest());
        assert_eq!(again.as_ref(), Ok(&image), "the programme is read back differently");
    }
    if let Some(schedule) = draft.complete().filter(|_| diagnostics.is_empty()) {
        let written = Arc::new(SourceText::new("written.toml", schedule.to_toml()));
        let draft = Draft::read(&written, &Diagnostics::new(&written))
            .expect("a written schedule is valid");
        assert_eq!(draft.complete(), Some(schedule), "the schedule is read back differently");
    }
}

/// Checks that diagnostics lie in the text and contain no control characters for a terminal.
fn check(text: &str, diagnostics: &[Diagnostic]) {
    for diagnostic in diagnostics {
        if let Some(location) = &diagnostic.location {
            assert!(text.get(location.span.clone()).is_some(), "{diagnostic:?}");
            assert!(location.line >= 1 && location.column >= 1, "{diagnostic:?}");
        }
        let help = diagnostic.help.as_deref().unwrap_or_default();
        assert!(
            !diagnostic.message.chars().chain(help.chars()).any(is_forbidden_in_name),
            "{diagnostic:?}"
        );
    }
}
