//! A controller restored from a snapshot continues like the original: same outputs, same status, same
//! events, and in the end the same state, bit for bit.

mod bench;
mod bytes;
mod chaos;
mod firings;
mod size;
mod trim;

use saggar_core::controller::{RestoreError, SNAPSHOT_BYTES_MAX};
use saggar_core::events::Event;
use saggar_core::furnace::Furnace;
use saggar_core::programme::ProgrammeImage;
use saggar_core::units::Instant;
use saggar_core::{Controller, Inputs, Outputs};

/// Ticks for which a restored controller is compared with the original.
const FOLLOWED: u32 = 2_000;

/// A snapshot as bytes.
fn bytes(core: &Controller) -> Vec<u8> {
    let mut room = [0; SNAPSHOT_BYTES_MAX];
    let length = core.save_snapshot(&mut room).expect("room for every snapshot");
    room[..length].to_vec()
}

/// A controller from a snapshot.
fn restored(
    furnace: &Furnace,
    image: Option<&ProgrammeImage>,
    snapshot: &[u8],
) -> Result<Controller, RestoreError> {
    let digest = image.map(ProgrammeImage::digest).unwrap_or_default();
    let programme = image.map(|image| (image.bytes(), &digest));
    Controller::from_snapshot(furnace.clone(), programme, snapshot)
}

fn events(core: &mut Controller) -> Vec<Event> {
    core::iter::from_fn(|| core.take_event()).collect()
}

/// Controllers that were restored from snapshots of one original, and must behave like it.
struct Followers {
    furnace: Furnace,
    list: Vec<(Controller, u32, String)>,
    /// Number of restored controllers that were compared to the end.
    done: u32,
    /// The longest snapshot so far.
    longest: usize,
}

impl Followers {
    fn new(furnace: &Furnace) -> Self {
        Self { furnace: furnace.clone(), list: Vec::new(), done: 0, longest: 0 }
    }

    /// Takes a snapshot and restores it. The original must have no pending events.
    fn begin(&mut self, core: &Controller) {
        let snapshot = bytes(core);
        self.longest = self.longest.max(snapshot.len());
        let other = restored(&self.furnace, core.programme(), &snapshot).expect("restored");
        assert_eq!(bytes(&other), snapshot, "restored and saved again");
        self.list.push((other, 0, format!("{:?}", core.status())));
    }

    /// One tick that `core` has just made.
    fn follow(&mut self, core: &mut Controller, told: (Instant, Inputs), out: Outputs) {
        let (now, inputs) = told;
        let (status, told) = (core.status(), events(core));
        for (other, ticks, from) in &mut self.list {
            let answer = other.step(now, &inputs);
            assert_eq!(answer, out, "{ticks} ticks after {from}");
            assert_eq!(other.status(), status, "{ticks} ticks after {from}");
            assert_eq!(events(other), told, "{ticks} ticks after {from}");
            *ticks += 1;
            if *ticks % (FOLLOWED / 4) == 0 {
                assert_eq!(bytes(other), bytes(core), "{ticks} ticks after {from}");
            }
        }
        let before = self.list.len();
        self.list.retain(|(_, ticks, _)| *ticks < FOLLOWED);
        self.done += u32::try_from(before - self.list.len()).expect("few");
    }
}
