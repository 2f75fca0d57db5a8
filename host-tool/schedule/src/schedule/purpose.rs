//! Checks that the purpose of a firing fits its work.

use saggar_plant::spec::Purpose;

use crate::document::KeyDiagnostics;
use crate::keys::schedule::Work;

/// Notes a purpose that contradicts the other keys of the work. An infiltration without a coat does not:
/// its verdict is not known.
pub(super) fn check(work: &Work, notes: KeyDiagnostics<'_>) {
    let Some(purpose) = work.purpose.map(|purpose| purpose.0) else { return };
    let infiltrated = work.infiltrated == Some(true);
    let coated = notes.locations.has("work.coat");
    let (message, help) = match purpose {
        Purpose::MeltBack if !infiltrated => (
            "only work that was infiltrated before can be melted back",
            "add `infiltrated = true`, or correct the purpose",
        ),
        Purpose::Infiltrate if infiltrated => (
            "the work was infiltrated before: its pores are full of glass",
            "remove `infiltrated`, or say `purpose = \"melt-back\"`",
        ),
        Purpose::Clean if infiltrated => (
            "the work was infiltrated before: a cleaning fire would melt its glass",
            "remove `infiltrated`, or say `purpose = \"melt-back\"`",
        ),
        Purpose::Clean if coated => (
            "a cleaning fire has no coat: it comes before the coat is brushed on",
            "remove [work.coat], or say `purpose = \"infiltrate\"`",
        ),
        Purpose::Clean | Purpose::Infiltrate | Purpose::MeltBack => return,
    };
    notes.at_value("work.purpose", message, help);
}
