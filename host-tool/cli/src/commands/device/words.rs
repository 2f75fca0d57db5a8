//! What a device says, in words.

use saggar_core::events::What;
use saggar_device::wire::{Entry, Status};

use saggar_files::hex;
use saggar_report::how;

/// How a furnace stands, in a phrase.
pub fn state(status: &Status) -> String {
    match (status.tripped, status.step, status.ended) {
        (Some(cause), _, _) => format!("tripped: {}", cause.name()),
        (None, Some(step), _) if status.asks => {
            format!("firing, step {}, asks the operator", u16::from(step) + 1)
        }
        (None, Some(step), _) => format!("firing, step {}", u16::from(step) + 1),
        (None, None, Some(ending)) => format!("ended: {}", how(ending)),
        (None, None, None) => "idle".to_owned(),
    }
}

/// A line of the log, in a phrase.
pub fn entry(entry: &Entry) -> String {
    match entry {
        Entry::Up => "the device came up".to_owned(),
        Entry::Core(What::Started) => "the firing was started".to_owned(),
        Entry::Core(What::StepBegan(step)) => format!("step {} began", u16::from(*step) + 1),
        Entry::Core(What::VacuumReached) => "the vacuum was reached".to_owned(),
        Entry::Core(What::Asked) => "the operator was asked".to_owned(),
        Entry::Core(What::Ended(ending)) => format!("the firing ended: {}", how(*ending)),
        Entry::Core(What::Tripped(cause)) => {
            format!("an interlock took the heat away: {}", cause.name())
        }
        Entry::Core(What::Accepted) => "the operator accepted the trip".to_owned(),
        Entry::Programme(digits) => {
            format!("programme {} is made the active one", hex(digits))
        }
        Entry::Confirmed(_) => "the operator confirmed the programme".to_owned(),
        Entry::StopAsked => "a desk asked for a stop".to_owned(),
        Entry::Locked => "wrong seals: the line took no orders for a while".to_owned(),
        Entry::Lost(lines) => format!("{lines} lines were lost"),
        Entry::LockOuts(1) => "wrong seals locked the line once".to_owned(),
        Entry::LockOuts(times) => format!("wrong seals locked the line {times} times"),
    }
}
