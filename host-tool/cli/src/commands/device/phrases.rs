//! What a device says, in words.

use saggar_core::events::EventKind;
use saggar_device::wire::{DeviceStatus, LogEvent};

use saggar_files::hex;
use saggar_report::ending_phrase;

/// How a furnace stands, in a phrase.
pub fn state_phrase(status: &DeviceStatus) -> String {
    match (status.tripped, status.step, status.ended) {
        (Some(cause), _, _) => format!("tripped: {}", cause.name()),
        (None, Some(step), _) if status.operator_wanted => {
            format!("firing, step {}, asks the operator", u16::from(step) + 1)
        }
        (None, Some(step), _) => format!("firing, step {}", u16::from(step) + 1),
        (None, None, Some(ending)) => format!("ended: {}", ending_phrase(ending)),
        (None, None, None) => "idle".to_owned(),
    }
}

/// A line of the log, in a phrase.
pub fn entry_phrase(entry: &LogEvent) -> String {
    match entry {
        LogEvent::Booted => "the device came up".to_owned(),
        LogEvent::Core(EventKind::FiringStarted) => "the firing was started".to_owned(),
        LogEvent::Core(EventKind::StepStarted(step)) => {
            format!("step {} began", u16::from(*step) + 1)
        }
        LogEvent::Core(EventKind::VacuumReached) => "the vacuum was reached".to_owned(),
        LogEvent::Core(EventKind::HoldStarted) => "the operator was asked".to_owned(),
        LogEvent::Core(EventKind::FiringEnded(ending)) => {
            format!("the firing ended: {}", ending_phrase(*ending))
        }
        LogEvent::Core(EventKind::Tripped(cause)) => {
            format!("an interlock took the heat away: {}", cause.name())
        }
        LogEvent::Core(EventKind::TripAccepted) => "the operator accepted the trip".to_owned(),
        LogEvent::Programme(digits) => {
            format!("programme {} is made the active one", hex(digits))
        }
        LogEvent::Confirmed(_) => "the operator confirmed the programme".to_owned(),
        LogEvent::StopRequested => "a desk asked for a stop".to_owned(),
        LogEvent::LegacyLockOut => {
            "wrong seals: the line took no orders for a while".to_owned()
        }
        LogEvent::EntriesLost(lines) => format!("{lines} lines were lost"),
        LogEvent::LockOuts(1) => "wrong seals locked the line once".to_owned(),
        LogEvent::LockOuts(times) => format!("wrong seals locked the line {times} times"),
    }
}
