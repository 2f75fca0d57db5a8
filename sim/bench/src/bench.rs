//! The loop that steps a furnace, firmware, an operator and an observer. Its clock counts ticks and
//! does not follow real time.
//!
//! The firmware sees only [`Inputs`] and acts only through [`Outputs`], which take effect in the next
//! tick, as on a board.

use std::ops::ControlFlow;

use saggar_core::controller::StartError;
use saggar_core::events::Event;
use saggar_core::io::{Buttons, Inputs, Outputs};
use saggar_core::sequencer::SequencerState;
use saggar_core::units::Instant;
use saggar_plant::vacuum::ValvesAtRest;
use saggar_verdict::NotStarted;

use crate::firmware::Firmware;
use crate::observer::{Observer, TickRecord};
use crate::operator::Operator;
use crate::trace::{MeasurementReader, Row};
use crate::world::World;

/// A furnace with firmware, operator and observer.
#[derive(Clone)]
pub struct Bench<F, P, O> {
    /// The firmware under test.
    pub firmware: F,
    /// Presses the buttons.
    pub operator: P,
    /// Records the firing.
    pub observer: O,
    world: World,
    meter: MeasurementReader,
    inputs: Inputs,
    outputs: Outputs,
    was_firing: bool,
    /// A power cut interrupted the firing, which waits for the operator.
    interrupted: bool,
    /// Another firing began before the current one was collected.
    next_started: bool,
    /// Ticks since power-up.
    ticks: u64,
    /// Events of the last tick, and events not yet reported with a row.
    events: Vec<Event>,
    unreported: Vec<Event>,
    /// Number of ticks after which a firing is aborted.
    ticks_max: u64,
}

impl<F: Firmware, P: Operator, O: Observer> Bench<F, P, O> {
    /// A furnace at rest.
    pub fn new(world: World, firmware: F, operator: P, observer: O) -> Self {
        let device = firmware.core().furnace();
        let ticks_max = u64::from(device.limits.firing_max_s) * 10 + 1_000;
        // Until the firmware moves it, an open lift or door stays open.
        let open_closure = world.drive().opening >= 1.0;
        Self {
            meter: MeasurementReader::new(device),
            firmware,
            operator,
            observer,
            world,
            inputs: Inputs::default(),
            outputs: Outputs { open_closure, ..Outputs::default() },
            was_firing: false,
            interrupted: false,
            next_started: false,
            ticks: 0,
            events: Vec::new(),
            unreported: Vec::new(),
            ticks_max,
        }
    }

    /// Runs to the end of a firing, or until `between`, called after every tick, breaks.
    ///
    /// # Errors
    /// The firmware does not answer, or `between` fails.
    pub fn run<B, E: From<F::Error>>(
        &mut self,
        mut between: impl FnMut(&mut Self) -> Result<ControlFlow<B>, E>,
    ) -> Result<ControlFlow<B>, E> {
        loop {
            let more = self.step()?;
            if let ControlFlow::Break(why) = between(self)? {
                return Ok(ControlFlow::Break(why));
            }
            if !more {
                return Ok(ControlFlow::Continue(()));
            }
        }
    }

    /// Advances one tick. Returns false at the end of a firing, including its tail, and when another
    /// firing begins within that tail; from the next call on, time and ticks count from that firing's start.
    ///
    /// # Errors
    /// The firmware does not answer.
    pub fn step(&mut self) -> Result<bool, F::Error> {
        if self.next_started {
            self.begin_next();
        }
        let now_ms = self.world.now_ms();
        let buttons = self.operator.buttons(now_ms, &self.outputs, &self.firmware);
        let (now, mut inputs) = self.world.advance(&self.outputs);
        inputs.buttons = buttons;
        for fault in self.world.take_memory_faults() {
            self.firmware.flip_memory(fault);
        }
        self.outputs = self.firmware.tick(now, &mut inputs)?;
        self.inputs = inputs;
        self.ticks += 1;
        self.detect_start(buttons.start);
        self.events.clear();
        while let Some(event) = self.firmware.take_event() {
            self.events.push(event);
            self.unreported.push(event);
        }
        let (inputs, outputs) = (&self.inputs, &self.outputs);
        let (world, core) = (&self.world, self.firmware.core());
        self.observer.tick(&TickRecord { inputs, outputs, world, core });
        if !self.next_started && self.world.count_tick(&self.outputs) {
            self.end_second();
        }
        Ok(self.is_unfinished())
    }

    /// Starts counting time and ticks when a firing begins, or when a start is not accepted.
    fn detect_start(&mut self, start: bool) {
        let firing = self.firmware.core().is_firing();
        let over = self.interrupted && self.firmware.status().interrupted.is_none();
        let resumed = over && firing;
        self.interrupted &= !over;
        if !firing && (self.was_firing || over) {
            self.world.end_firing(self.firmware.status().ending);
        }
        if firing && !self.was_firing && !resumed {
            // Events before the start belong to no firing.
            self.unreported.clear();
            self.next_started = self.world.is_started();
            if !self.next_started {
                self.world.start_firing(None);
                self.operator.firing_started(self.world.now_ms());
            }
        } else if start && !self.world.is_started() && self.operator.starts_once() {
            let refusal = refusal(&self.firmware);
            if refusal == Some(NotStarted(StartError::ContactUnproven)) {
                // A question: the operator answers it and starts again.
                return;
            }
            self.world.start_firing(refusal);
            // It may have started and ended within one tick.
            self.world.end_firing(self.firmware.status().ending);
        }
        self.was_firing = firing;
    }

    /// Starts counting time and ticks of the firing that began in the last tick.
    fn begin_next(&mut self) {
        self.next_started = false;
        self.world.start_firing(None);
        self.world.count_tick(&self.outputs);
        self.operator.firing_started(self.world.now_ms());
    }

    /// Collects the furnace and the observer of a finished firing and replaces them by a `fresh` furnace
    /// and a new observer. If the next firing has begun already, it keeps the furnace.
    ///
    /// # Errors
    /// The fresh furnace cannot be built.
    pub fn start_next<E>(
        &mut self,
        fresh: impl FnOnce() -> Result<World, E>,
        observer: O,
    ) -> Result<(World, O), E> {
        let world = if self.next_started {
            let before = self.world.clone();
            self.begin_next();
            before
        } else {
            let fresh = fresh()?.at_time(self.world.now_ms());
            self.unreported.clear();
            std::mem::replace(&mut self.world, fresh)
        };
        Ok((world, std::mem::replace(&mut self.observer, observer)))
    }

    /// Takes the mains away for this time (s), see [`World::cut_power`]. All outputs are off until the next
    /// tick of the firmware, which the caller boots again.
    pub fn cut_power(&mut self, length_s: f64, rest: ValvesAtRest) {
        self.interrupted |= self.was_firing;
        (self.was_firing, self.outputs) = (false, Outputs::default());
        self.world.cut_power(length_s, rest);
    }

    /// Lets this many ticks pass with a furnace that stands still: the firmware gets these readings in turn,
    /// without a button. Events are dropped, and the observer sees none of it. Ends before its time at a tick
    /// whose outputs `allowed` refuses; returns whether it did not.
    ///
    /// # Errors
    /// The firmware does not answer.
    pub fn stand_still(
        &mut self,
        ticks: u64,
        readings: &[Inputs],
        allowed: impl Fn(&Outputs) -> bool,
    ) -> Result<bool, F::Error> {
        for reading in
            readings.iter().cycle().take(usize::try_from(ticks).unwrap_or(usize::MAX))
        {
            let mut inputs = Inputs { buttons: Buttons::default(), ..*reading };
            self.outputs = self.firmware.tick(self.world.stand_still(), &mut inputs)?;
            self.ticks += 1;
            while self.firmware.take_event().is_some() {}
            if !allowed(&self.outputs) {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn end_second(&mut self) {
        let status = self.firmware.status();
        let goes_on = self.interrupted && self.operator.goes_on_after_a_cut();
        let second = self.world.end_second(status.step.is_some() || goes_on);
        let (inputs, outputs) = (&self.inputs, &self.outputs);
        let measured = self.meter.read(self.ticks, inputs, outputs, second.duty, Some(&status));
        let row = Row { at_s: second.at_s, measured, modelled: Some(second.modelled) };
        let start_ms = self.world.start_ms().unwrap_or(0);
        for mut event in self.unreported.drain(..) {
            event.at = Instant::from_millis(event.at.millis().saturating_sub(start_ms));
            self.observer.event(&event);
        }
        self.observer.row(&row, second.energy_j, &self.world);
    }

    /// Whether a firing runs, or one that was interrupted waits for the operator.
    pub(crate) const fn is_under_way(&self) -> bool {
        self.was_firing || self.interrupted
    }

    fn is_unfinished(&self) -> bool {
        let over = self.world.ticks() >= self.ticks_max || self.world.is_finished();
        !self.next_started && (!self.world.is_started() || !over)
    }
}

impl<F, P, O> Bench<F, P, O> {
    /// The furnace, the piece and the time.
    pub const fn world(&self) -> &World {
        &self.world
    }

    /// The same, to inject and mend faults.
    pub const fn world_mut(&mut self) -> &mut World {
        &mut self.world
    }

    /// Whether another firing began before this one was collected.
    pub const fn next_firing_started(&self) -> bool {
        self.next_started
    }

    /// Splits the bench into furnace, firmware and observer.
    pub fn into_parts(self) -> (World, F, O) {
        (self.world, self.firmware, self.observer)
    }

    /// Ticks since power-up.
    pub const fn ticks(&self) -> u64 {
        self.ticks
    }

    /// Time and inputs of the last tick. Other firmware with the same inputs, tick by tick, gives the
    /// same outputs.
    pub const fn last_inputs(&self) -> (Instant, Inputs) {
        (Instant::from_millis(self.world.now_ms()), self.inputs)
    }

    /// Outputs of the last tick.
    pub const fn outputs(&self) -> Outputs {
        self.outputs
    }

    /// Events of the last tick, in time since power-up.
    pub fn events(&self) -> &[Event] {
        &self.events
    }
}

impl<F: Firmware + Clone, P: Operator + Clone, O: Observer + Clone> Bench<F, P, O> {
    /// Copies the bench with other faults scheduled; the two then run independently. Active faults stay
    /// active; a fault whose time has passed strikes at once.
    ///
    /// Only firmware that implements `Clone` can be forked:
    ///
    /// ```
    /// use saggar_bench::{Bench, firmware::BareCore};
    /// fn two(bench: &Bench<BareCore, (), ()>) -> Bench<BareCore, (), ()> {
    ///     bench.fork(Vec::new())
    /// }
    /// ```
    ///
    /// ```compile_fail,E0599
    /// use saggar_bench::{Bench, firmware::SimulatedBoard};
    /// fn two(bench: &Bench<SimulatedBoard, (), ()>) -> Bench<SimulatedBoard, (), ()> {
    ///     bench.fork(Vec::new())
    /// }
    /// ```
    pub fn fork(&self, faults: Vec<saggar_plant::faults::Fault>) -> Self {
        let mut fork = self.clone();
        fork.world = fork.world.with_faults(faults);
        fork
    }
}

/// Why the start was not accepted; `None` if a firing runs or ended at once.
fn refusal(firmware: &impl Firmware) -> Option<NotStarted> {
    match firmware.core().state() {
        SequencerState::Running(_) | SequencerState::Ended(_) => None,
        SequencerState::Idle => firmware.status().start_error.map(NotStarted),
    }
}
