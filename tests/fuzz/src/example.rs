//! The shipped examples, loaded once.

use std::sync::{Arc, LazyLock};

use saggar_core::programme::ProgrammeImage;
use saggar_files::{Diagnostics, SourceText};
use saggar_schedule::profile::Profile;
use saggar_schedule::schedule::{Draft, compile, verify};

/// A furnace with a lift and a pump.
pub(crate) static PROFILE: LazyLock<Profile> = LazyLock::new(|| {
    let text = include_str!("../../../docs/furnaces/lift-vacuum.toml");
    Profile::from_source(&Arc::new(SourceText::new("profile", text))).expect("a valid profile")
});

/// Two programmes for it: with a vacuum stage, and without.
pub(crate) static IMAGES: LazyLock<[ProgrammeImage; 2]> = LazyLock::new(|| {
    [
        include_str!("../../../docs/schedules/infiltrate-spinel-vacuum.toml"),
        include_str!("../../../docs/schedules/infiltrate-alumina.toml"),
    ]
    .map(compiled)
});

fn compiled(text: &str) -> ProgrammeImage {
    let source = Arc::new(SourceText::new("schedule", text));
    let diagnostics = Diagnostics::new(&source);
    let draft = Draft::read(&source, &diagnostics).expect("a schedule");
    let compilation = compile(&draft, &diagnostics);
    let image = verify(&draft, &compilation, &PROFILE, &diagnostics).expect("a programme");
    assert!(diagnostics.is_empty(), "the example has diagnostics");
    image
}
