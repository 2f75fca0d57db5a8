//! Prints the list of trips.

use std::io;

use serde_json::json;

use crate::commands::TripList;
use saggar_terminal::DisplayOptions;
use saggar_terminal::{STRONG, StyledLine};
use saggar_terminal::{print_answer, with_ok};

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
                "Work through this list before the first heat and after every change of wiring, with test settings: \
                 the furnace's own, with a lamp of 200 W or more in the heater's place and its current as \
                 `current_milliampere` (a fifth of it as `conducting_milliampere`). Write the furnace's own settings again \
                 at the end.",
                "",
                "",
            )?;
            out.wrapped(
                "Mains kill. Parts on mains are for a licensed electrician under the local codes: switch off, lock, \
                 prove dead, make the change, close the cover, switch on. Keep hands away from lift, valves and \
                 contactor. Before this list, prove the independent hardware over-temperature cut-out, the \
                 outer watchdog, and the stop button, also with its wire broken. Nothing here is certified.",
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
