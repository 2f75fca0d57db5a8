//! What a stand-in has to show.

use saggar_core::controller::Bookmark;
use saggar_device::PressError;
use saggar_device::wire::LogEvent;

use crate::displayed::DisplayedProgramme;
use crate::faults::FaultNews;

/// An event to show.
#[derive(Clone, Debug)]
pub enum StandInEvent {
    /// An entry of the device's log, at this time since the stand-in started (s).
    Logged(f64, LogEvent),
    /// The display or the keyboard has something to show.
    Display(DisplayEvent),
    /// News of the faults, at this time since the stand-in started (s).
    Fault(f64, FaultNews),
}

/// Something to show to the user of the stand-in's terminal.
#[derive(Clone, Debug)]
pub enum DisplayEvent {
    /// The display shows a new programme, or its code.
    ProgrammeAnnounced(DisplayedProgramme),
    /// The programme was confirmed.
    ProgrammeConfirmed,
    /// A power cut has interrupted a firing, which waits for the operator.
    FiringInterrupted(Bookmark),
    /// A press of start or confirm had no effect.
    PressIgnored(PressError),
    /// Stop was pressed while no firing ran.
    StopWithoutFiring,
    /// This line was typed and means nothing.
    UnknownLine(String),
    /// A line that was typed is wrong for this reason.
    WrongLine(String),
    /// Lines were dropped, because they were typed faster than buttons can be pressed.
    KeysDropped,
}
