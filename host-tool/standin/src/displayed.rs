//! The programme on the display.

use saggar_bench::firmware::Firmware;
use saggar_device::Announcement;
use saggar_schedule::schedule::ProgrammeSummary;

/// The active programme, as the display shows it.
#[derive(Clone, Debug)]
pub struct DisplayedProgramme {
    /// Its digest, peak and number of steps.
    pub summary: ProgrammeSummary,
    /// Whether it waits for confirm, and its code.
    pub announcement: Announcement,
}

/// The active programme, as the display shows it; `None` without one.
pub(super) fn displayed_programme(firmware: &impl Firmware) -> Option<DisplayedProgramme> {
    let summary = ProgrammeSummary::of(firmware.programme()?);
    Some(DisplayedProgramme { summary, announcement: firmware.announcement() })
}
