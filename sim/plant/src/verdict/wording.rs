//! In which terms a verdict is said: its scale, and the names that a schedule gives to its steps.

use crate::format::Scale;

/// A stage of a schedule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StageLabel {
    /// Which stage of its file, from 1.
    pub number: usize,
    /// What the schedule calls it, if anything.
    pub name: Option<String>,
    /// What a sentence calls it: `stage 6 "infiltrate"`.
    pub label: String,
}

/// In which terms a verdict is said.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wording<'a> {
    /// The scale of temperatures.
    pub scale: Scale,
    /// The stage of each step of the programme: a verdict alone knows but steps.
    pub stages: &'a [StageLabel],
}

impl From<Scale> for Wording<'_> {
    fn from(scale: Scale) -> Self {
        Self { scale, stages: &[] }
    }
}

impl Wording<'_> {
    /// The stage that a step comes from, if it is known.
    pub fn stage_label(&self, step: u8) -> Option<&StageLabel> {
        self.stages.get(usize::from(step))
    }

    /// What a step is called.
    pub(super) fn stage_name(&self, step: u8) -> String {
        let named = self.stage_label(step).map(|stage| stage.label.clone());
        named.unwrap_or_else(|| format!("step {}", u32::from(step) + 1))
    }

    /// Where something happened, after a comma; nothing if it has no place.
    pub(super) fn location(&self, step: Option<u8>) -> String {
        step.map_or_else(String::new, |step| format!(", in {}", self.stage_name(step)))
    }
}
