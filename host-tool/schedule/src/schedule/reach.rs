//! Temperatures to which a furnace never cools: it has no cooler than the room.

use saggar_files::Diagnostics;

use super::{Compilation, Draft, StageKind};
use crate::profile::Profile;

/// Notes each stage that would wait for ever, or until the furnace's longest firing, for a reading that
/// the room keeps the furnace from. The core does not know the room of its furnace.
pub fn check_reach(
    draft: &Draft,
    compiled: &Compilation,
    profile: &Profile,
    diagnostics: &Diagnostics,
) {
    let room_c = profile.spec.ambient_c;
    for origin in compiled.map.origins() {
        let (key, celsius, is_out_of_reach) = match origin.stage.kind {
            StageKind::Ramp { to_celsius, .. } => {
                ("to_celsius", to_celsius, to_celsius < room_c)
            }
            // Near the room's temperature the furnace cools ever more slowly.
            StageKind::Cool { below_celsius } => {
                ("below_celsius", below_celsius, below_celsius <= room_c)
            }
            StageKind::Soak { .. }
            | StageKind::Vacuum { .. }
            | StageKind::Opening { .. }
            | StageKind::Hold { .. } => continue,
        };
        if is_out_of_reach {
            let message = format!(
                "{} never gets to {celsius} °C: its room has {room_c} °C, and it can only be heated",
                profile.name
            );
            let help =
                format!("write more than {room_c}, or correct `room_celsius` in the profile");
            draft.note(diagnostics, origin.number - 1, &[key], message, help);
        }
    }
}
