//! How a verdict is worded: the temperature scale, and the stage names that a schedule gives.

use crate::format::Scale;

/// How a stage is named in a verdict.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StageLabel {
    /// Which stage of its file, from 1.
    pub number: usize,
    /// Its name in the schedule, if it has one.
    pub name: Option<String>,
    /// Its label in a sentence: `stage 6 "infiltrate"`.
    pub label: String,
}

/// How a verdict is worded.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wording<'a> {
    /// The scale of temperatures.
    pub scale: Scale,
    /// The stage of each step of the programme; without it the verdict names steps.
    pub stages: &'a [StageLabel],
}

impl From<Scale> for Wording<'_> {
    fn from(scale: Scale) -> Self {
        Self { scale, stages: &[] }
    }
}

impl Wording<'_> {
    /// The stage that a step comes from, if it is known.
    pub fn stage(&self, step: u8) -> Option<&StageLabel> {
        self.stages.get(usize::from(step))
    }

    /// The label of a step.
    pub(super) fn label_of(&self, step: u8) -> String {
        let named = self.stage(step).map(|stage| stage.label.clone());
        named.unwrap_or_else(|| format!("step {}", u32::from(step) + 1))
    }

    /// The stage of an event, after a comma; empty if it is not known.
    pub(super) fn location(&self, step: Option<u8>) -> String {
        step.map_or_else(String::new, |step| format!(", in {}", self.label_of(step)))
    }
}
