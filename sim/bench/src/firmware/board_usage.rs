//! Instructions and stack that an emulated board uses.

use saggar_lockstep::SECTION_COUNT;

/// Instructions of one section of a tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SectionCost {
    /// Name of the section.
    pub name: &'static str,
    /// Mean over all ticks.
    pub mean: f64,
    /// Maximum in one tick.
    pub max: f64,
}

/// Instructions of a tick, and stack.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoardUsage {
    /// In the order of a tick: read inputs, step the core, write outputs, send on the link.
    pub sections: [SectionCost; SECTION_COUNT],
    /// Peak use of the stack (bytes).
    pub stack: u32,
}
