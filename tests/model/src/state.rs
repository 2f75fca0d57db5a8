//! A state of the model: a core, what is around it, and what a device's log would give back to it.

use std::fmt;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

use saggar_core::controller::{Bookmark, LoadError};
use saggar_core::events::EventKind;
use saggar_core::units::Instant;
use saggar_core::{Controller, Inputs, Outputs};

use crate::key;
use crate::plant::{Buttons8, Fault, Plant, Samples, Surroundings};
use crate::rules::{Broken, Rule, Seen, TickSeen};

/// Time of a tick (ms).
const TICK_MS: u64 = 100;

/// Time of a tick that comes too late (ms).
const LATE_MS: u64 = 500;

/// Ticks of a second, in which no watch is in the middle of its checks.
const SECOND_TICKS: u32 = 10;

/// What stands between the core and its device. All but the first are faults of the wrapper, planted to show
/// that the search finds them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wrapper {
    /// Passes everything on.
    Honest,
    /// Forgets the latched trip when the power fails.
    ForgetsTrip,
    /// Presses start by itself when an interrupted firing waits.
    GoesOnAlone,
    /// Builds the controller anew for an upload, whatever it does.
    RebuildsForUpload,
    /// Hides the faults while confirm is down.
    HidesFaults,
    /// Keeps the contactor closed once it was.
    HoldsContactor,
    /// Opens the vent whenever the pump is off.
    Vents,
    /// Repeats the heat of the tick before in a tick that comes too late.
    HeatsWhenLate,
    /// Stops the pump while its valve is open.
    StopsPump,
    /// Opens the lift when start goes down.
    OpensAtStart,
}

/// A state. Two of them are one if their keys are.
#[derive(Clone)]
pub struct State {
    core: Arc<Controller>,
    millis: u64,
    /// Two hashes of the key of the core.
    key: [u64; 2],
    /// What is around it.
    pub around: Surroundings,
    /// Which programme is loaded.
    pub programme: u8,
    /// The bookmark in the log.
    bookmark: Option<Bookmark>,
    /// The buttons of the last tick, as they were; all of them at power-up.
    held: Buttons8,
    last: Outputs,
    /// A firing that a power cut interrupted goes on.
    pub resumed: bool,
    /// The rules that were broken.
    pub broken: Broken,
}

impl PartialEq for State {
    fn eq(&self, other: &Self) -> bool {
        self.identity() == other.identity()
    }
}

impl Eq for State {}

impl Hash for State {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.identity().hash(hasher);
    }
}

impl fmt::Debug for State {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let status = self.core.status();
        let Self { around, programme, bookmark, broken, .. } = self;
        write!(f, "programme {programme}, {around:?}, {bookmark:?}, {broken:?}, {status:?}")
    }
}

impl State {
    /// A device that was just switched on, with the first programme.
    pub fn new(plant: &Plant) -> Self {
        let mut state = Self {
            core: Arc::new(plant.booted[0].clone()),
            millis: 0,
            key: [0; 2],
            around: Surroundings::START,
            programme: 0,
            bookmark: None,
            held: Buttons8::ALL,
            last: Outputs::default(),
            resumed: false,
            broken: Broken::default(),
        };
        state.renew_key();
        state
    }

    /// The core.
    pub fn core(&self) -> &Controller {
        &self.core
    }

    /// The time of its last tick.
    pub const fn now(&self) -> Instant {
        Instant::from_millis(self.millis)
    }

    /// Everything but the core.
    pub fn surroundings(&self) -> impl Hash + Eq + use<> {
        let Self { around, programme, held, resumed, broken, .. } = *self;
        let bookmark = self.bookmark.map(|it| (it.step, it.gathered_s, it.reading_c, it.flags));
        (around, programme, bookmark, held, resumed, broken)
    }

    fn identity(&self) -> impl Hash + Eq + use<> {
        (self.key, self.surroundings())
    }

    /// The same core in other surroundings.
    #[must_use]
    pub fn with(&self, around: Surroundings) -> Self {
        Self { around, ..self.clone() }
    }

    /// True before the first tick after power-up, when no sensor was read yet.
    pub const fn is_unread(&self) -> bool {
        self.millis == 0
    }

    /// One second.
    #[must_use]
    pub fn second(&self, plant: &Plant, wrapper: Wrapper) -> Self {
        self.run(plant, wrapper, |_| (TICK_MS, Samples::Present), SECOND_TICKS)
    }

    /// One second whose first tick comes too late.
    #[must_use]
    pub fn late(&self, plant: &Plant, wrapper: Wrapper) -> Self {
        let ticks = |tick| (if tick == 0 { LATE_MS } else { TICK_MS }, Samples::Present);
        self.run(plant, wrapper, ticks, SECOND_TICKS)
    }

    /// Two seconds in which the chamber gets warm or cool. Neither channel is read in the first tick, so that
    /// both filters start again at the new reading.
    #[must_use]
    pub fn warmed(&self, plant: &Plant, wrapper: Wrapper) -> Self {
        let warm = !self.around.warm;
        let moved = self.with(Surroundings { warm, ..self.around });
        if self.is_unread() {
            return moved;
        }
        let ticks =
            |tick| (TICK_MS, if tick == 0 { Samples::Missing } else { Samples::Present });
        moved.run(plant, wrapper, ticks, 2 * SECOND_TICKS)
    }

    fn run(
        &self,
        plant: &Plant,
        wrapper: Wrapper,
        ticks: impl Fn(u32) -> (u64, Samples),
        count: u32,
    ) -> Self {
        let mut next = self.clone();
        let mut core = Controller::clone(&self.core);
        for tick in 0..count {
            let (millis, samples) = ticks(tick);
            next.tick(&mut core, plant, wrapper, millis, samples);
        }
        next.core = Arc::new(core);
        next.renew_key();
        next
    }

    fn tick(
        &mut self,
        core: &mut Controller,
        plant: &Plant,
        wrapper: Wrapper,
        millis: u64,
        samples: Samples,
    ) {
        let before = seen(core);
        // The first tick after power-up has none before it.
        let on_time = millis == TICK_MS || self.millis == 0;
        self.millis += millis;
        let inputs = plant.inputs(&self.around, &self.last, self.millis, samples);
        let shown = self.shown(core, plant, wrapper, &inputs, samples);
        let mut outputs = core.step(self.now(), &shown);
        match wrapper {
            Wrapper::HoldsContactor => outputs.contactor |= self.last.contactor,
            Wrapper::Vents => outputs.vent_valve |= !outputs.pump,
            Wrapper::HeatsWhenLate if !on_time => {
                outputs.heater_cycles = self.last.heater_cycles;
            }
            Wrapper::StopsPump => outputs.pump &= !outputs.isolation_valve,
            Wrapper::OpensAtStart => outputs.open_closure |= inputs.buttons.start,
            Wrapper::Honest
            | Wrapper::ForgetsTrip
            | Wrapper::GoesOnAlone
            | Wrapper::RebuildsForUpload
            | Wrapper::HidesFaults
            | Wrapper::HeatsWhenLate => {}
        }
        TickSeen {
            before,
            after: seen(core),
            around: &self.around,
            inputs: &inputs,
            last: &self.last,
            outputs: &outputs,
            held: self.held.buttons(),
            on_time,
        }
        .judge(&mut self.broken);
        while let Some(event) = core.take_event() {
            self.resumed |= matches!(event.kind, EventKind::FiringResumed(_));
        }
        self.resumed &= core.is_firing();
        self.keep_bookmark(core);
        self.around.breathe(&outputs);
        (self.held, self.last) = (self.around.buttons, outputs);
    }

    /// The inputs as the wrapper shows them to the core.
    fn shown(
        &self,
        core: &Controller,
        plant: &Plant,
        wrapper: Wrapper,
        inputs: &Inputs,
        samples: Samples,
    ) -> Inputs {
        let mut shown = *inputs;
        match wrapper {
            Wrapper::GoesOnAlone => {
                // Released every other tick, so that it counts as a press.
                let presses =
                    core.interrupted().is_some() && (self.millis / TICK_MS).is_multiple_of(2);
                shown.buttons.start |= presses;
            }
            Wrapper::HidesFaults if inputs.buttons.confirm => {
                let whole = Surroundings { faults: 0, ..self.around };
                shown = plant.inputs(&whole, &self.last, self.millis, samples);
            }
            Wrapper::Honest
            | Wrapper::ForgetsTrip
            | Wrapper::RebuildsForUpload
            | Wrapper::HidesFaults
            | Wrapper::HoldsContactor
            | Wrapper::Vents
            | Wrapper::HeatsWhenLate
            | Wrapper::StopsPump
            | Wrapper::OpensAtStart => {}
        }
        shown
    }

    /// Keeps the last bookmark of a firing, as a device's log does.
    fn keep_bookmark(&mut self, core: &Controller) {
        if let Some(bookmark) = core.bookmark() {
            self.bookmark = Some(bookmark);
        } else if self.bookmark.is_some() && !core.is_firing() {
            self.bookmark = core.interrupted();
        }
    }

    /// The power fails and comes back. The programme is loaded again, and a latched trip or the last bookmark
    /// comes back from the log.
    #[must_use]
    pub fn rebooted(&self, plant: &Plant, wrapper: Wrapper) -> Self {
        let mut core = plant.booted[usize::from(self.programme)].clone();
        let before = seen(&self.core);
        if let Some(cause) = before.trip.filter(|_| wrapper != Wrapper::ForgetsTrip) {
            core.restore_trip(cause);
        }
        if let Some(bookmark) = self.bookmark {
            core.offer_bookmark(bookmark);
        }
        let mut next = self.clone();
        let after = seen(&core);
        next.broken.check(Rule::LatchHolds, after.trip == before.trip);
        next.broken.check(Rule::StartPressed, !after.firing);
        (next.core, next.millis, next.resumed) = (Arc::new(core), 0, false);
        (next.held, next.last) = (Buttons8::ALL, Outputs::default());
        next.renew_key();
        next
    }

    /// A host uploads a programme. Like a device, the model refuses it while an interrupted firing waits.
    #[must_use]
    pub fn uploaded(&self, plant: &Plant, wrapper: Wrapper, which: u8) -> Self {
        let before = seen(&self.core);
        let mut core = Controller::clone(&self.core);
        let loaded = if wrapper == Wrapper::RebuildsForUpload {
            core = plant.booted[usize::from(which)].clone();
            Ok(())
        } else if core.interrupted().is_some() {
            Err(LoadError::FiringInProgress)
        } else {
            core.load_checked(plant.checked[usize::from(which)].clone())
        };
        let mut next = self.clone();
        let after = seen(&core);
        let same = self.core.programme() == core.programme();
        next.broken.check(Rule::UploadHarmless, before == after && (!before.firing || same));
        if loaded.is_ok() {
            // The log closes with the firing that it belonged to.
            (next.programme, next.bookmark) = (which, None);
        } else {
            next.broken.check(Rule::UploadHarmless, same);
        }
        next.core = Arc::new(core);
        next.renew_key();
        next
    }

    fn renew_key(&mut self) {
        let bytes = key::of(&self.core, self.now());
        self.key = [1u8, 2].map(|salt| {
            let mut hasher = DefaultHasher::new();
            (salt, &bytes).hash(&mut hasher);
            hasher.finish()
        });
    }

    /// The same state with this fault there, or gone.
    #[must_use]
    pub fn toggled(&self, fault: Fault) -> Self {
        self.with(self.around.toggled(fault))
    }
}

fn seen(core: &Controller) -> Seen {
    Seen { firing: core.is_firing(), trip: core.status().trip }
}
