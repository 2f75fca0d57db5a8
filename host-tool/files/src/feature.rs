//! Parts of the tool that a build may leave out, because few need them and they take long to build.

/// A part that a build has or lacks; a feature of the package of the same name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feature {
    /// The chart as pixels.
    Png,
    /// What an image says for its developers.
    Messages,
}

impl Feature {
    /// Makes sure that the part is built: the crate that has it knows.
    ///
    /// # Errors
    /// It is not.
    pub const fn require(self, built: bool) -> Result<(), MissingFeature> {
        if built { Ok(()) } else { Err(MissingFeature(self)) }
    }

    const fn name(self) -> &'static str {
        match self {
            Self::Png => "png",
            Self::Messages => "messages",
        }
    }

    const fn what(self) -> &'static str {
        match self {
            Self::Png => "draws no PNG",
            Self::Messages => "decodes no messages",
        }
    }

    const fn example(self) -> &'static str {
        match self {
            Self::Png => "rehearse ... --png",
            Self::Messages => "device messages ...",
        }
    }
}

/// Something was asked for that this build lacks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "this build of saggar {}: build it with its feature `{name}`, as \
     `cargo run --release --features {name} -- {}` does",
    .0.what(), .0.example(), name = .0.name()
)]
pub struct MissingFeature(pub Feature);
