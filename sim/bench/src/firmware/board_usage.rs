//! Instructions and stack that an emulated board uses.

use saggar_lockstep::SECTION_COUNT;

/// Instructions of one section of a tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SectionCost {
    /// Its name.
    pub name: &'static str,
    /// Mean over all ticks.
    pub mean: f64,
    /// Maximum in one tick.
    pub max: f64,
}

/// Instructions of a tick, and stack.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoardUsage {
    /// Read, step, write, say.
    pub sections: [SectionCost; SECTION_COUNT],
    /// Deepest stack (bytes).
    pub stack: u32,
}
