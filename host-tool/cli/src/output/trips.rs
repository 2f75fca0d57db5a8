//! Prints the list of trips.

use std::io;

use serde_json::json;

use super::answer::{print_answer, with_ok};
use super::screen::{STRONG, StyledLine};
use crate::commands::TripList;
use crate::invocation::DisplayOptions;

/// Prints every trip with its advice and its trial, as a list to tick off.
///
/// # Errors
/// The output cannot be written.
pub fn trips(list: &TripList, display: &DisplayOptions) -> io::Result<()> {
    print_answer(
        display,
        || with_ok(json!(list)),
        |out| {
            let head = match &list.furnace {
                Some(furnace) => format!("Trips of {furnace}"),
                None => "Trips".to_owned(),
            };
            out.wrapped(StyledLine::default().styled(STRONG, &head), "", "  ")?;
            out.wrapped(
                "Work through this list before the first heat, with a lamp of some 40 W in the heater's place, and \
                 again after every change of wiring. An independent hardware over-temperature cut-out is required in \
                 any case; nothing here is certified.",
                "",
                "",
            )?;
            for entry in list.trips.iter().filter(|entry| entry.unseen.is_none()) {
                out.blank()?;
                let head = StyledLine::from("[ ] ").styled(STRONG, entry.trip);
                out.wrapped(head, "", "    ")?;
                out.wrapped(format!("Try: {}", entry.trial), "    ", "      ")?;
                out.wrapped(format!("Then: {}", entry.advice), "    ", "      ")?;
            }
            let unseen =
                list.trips.iter().filter_map(|entry| Some((entry.trip, entry.unseen?)));
            for (nth, (trip, why)) in unseen.enumerate() {
                if nth == 0 {
                    out.blank()?;
                    let head = StyledLine::default().styled(STRONG, "This furnace cannot see");
                    out.wrapped(head, "", "  ")?;
                }
                out.wrapped(format!("{trip}: {why}"), "  ", "    ")?;
            }
            Ok(())
        },
    )
}
