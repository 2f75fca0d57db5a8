//! Optional parts of the tool: few users need them, and they take long to build.

/// An optional part; its cargo feature has the same name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feature {
    /// The chart as a PNG.
    Png,
    /// Decoding an image's debug messages.
    Messages,
}

impl Feature {
    /// Checks that this build has the part; the crate that implements it passes `built`.
    ///
    /// # Errors
    /// The build lacks it.
    pub const fn require(self, built: bool) -> Result<(), MissingFeatureError> {
        if built { Ok(()) } else { Err(MissingFeatureError(self)) }
    }

    const fn name(self) -> &'static str {
        match self {
            Self::Png => "png",
            Self::Messages => "messages",
        }
    }

    const fn what(self) -> &'static str {
        match self {
            Self::Png => "cannot draw a PNG",
            Self::Messages => "cannot decode messages",
        }
    }

    const fn example(self) -> &'static str {
        match self {
            Self::Png => "rehearse ... --png",
            Self::Messages => "device messages ...",
        }
    }
}

/// The build lacks an optional part that was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "this build of saggar {}: build it with its feature `{name}`, as \
     `cargo run --release --features {name} -- {}` does",
    .0.what(), .0.example(), name = .0.name()
)]
pub struct MissingFeatureError(pub Feature);
