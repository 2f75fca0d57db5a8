//! The one loop: a furnace, firmware in front of it, an operator, and whoever watches. Its clock is
//! only counted.
//!
//! Firmware sees nothing but [`Inputs`], moves nothing but through [`Outputs`], and what it asked
//! for takes effect in the tick after, as it does on a board.

use std::ops::ControlFlow;

use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::sequencer::SequencerState;
use saggar_core::units::Instant;
use saggar_plant::verdict::NotStarted;

use crate::firmware::Firmware;
use crate::observer::{Observer, TickRecord};
use crate::operator::Operator;
use crate::trace::{MeasurementReader, Row};
use crate::world::World;

/// A furnace that is fired.
#[derive(Clone)]
pub struct Bench<F, P, O> {
    /// What decides.
    pub firmware: F,
    /// Who presses the buttons.
    pub operator: P,
    /// What watches.
    pub observer: O,
    world: World,
    meter: MeasurementReader,
    inputs: Inputs,
    outputs: Outputs,
    was_firing: bool,
    /// A firing has begun before the one at hand was handed over.
    again: bool,
    /// Ticks since power-up.
    ticks: u64,
    /// Events of the last tick, and those that no row has had yet.
    events: Vec<Event>,
    untold: Vec<Event>,
    /// A firing of so many ticks is given up.
    ticks_max: u64,
}

impl<F: Firmware, P: Operator, O: Observer> Bench<F, P, O> {
    /// A furnace that stands still.
    pub fn new(world: World, firmware: F, operator: P, observer: O) -> Self {
        let device = firmware.core().furnace();
        let ticks_max = u64::from(device.limits.firing_max_s) * 10 + 1_000;
        Self {
            meter: MeasurementReader::new(device),
            firmware,
            operator,
            observer,
            world,
            inputs: Inputs::default(),
            outputs: Outputs::default(),
            was_firing: false,
            again: false,
            ticks: 0,
            events: Vec::new(),
            untold: Vec::new(),
            ticks_max,
        }
    }

    /// Runs until a firing is over, or until `between`, which is asked after every tick, breaks.
    ///
    /// # Errors
    /// Why the firmware does not answer, or what `between` says.
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

    /// One tenth of a second; false once a firing is over, its tail included, and when another one
    /// begins within that tail. Whoever goes on then has that one counted from its own start.
    ///
    /// # Errors
    /// Why the firmware does not answer.
    pub fn step(&mut self) -> Result<bool, F::Error> {
        if self.again {
            self.begin_again();
        }
        let now_ms = self.world.now_ms();
        let buttons = self.operator.buttons(now_ms, &self.outputs, &self.firmware);
        let (now, mut inputs) = self.world.advance(&self.outputs);
        inputs.buttons = buttons;
        self.outputs = self.firmware.tick(now, &mut inputs)?;
        self.inputs = inputs;
        self.ticks += 1;
        self.begin(buttons.start);
        self.events.clear();
        while let Some(event) = self.firmware.take_event() {
            self.events.push(event);
            self.untold.push(event);
        }
        let (world, outputs) = (&self.world, &self.outputs);
        self.observer.tick(&TickRecord { inputs: &self.inputs, outputs, world });
        if !self.again && self.world.count_tick(&self.outputs) {
            self.end_second();
        }
        Ok(self.goes_on())
    }

    /// A firing that begins, or that an operator presses start for in vain, is counted from here.
    fn begin(&mut self, start: bool) {
        let firing = self.firmware.core().is_firing();
        if self.was_firing && !firing {
            self.world.end_firing(self.firmware.status().ending);
        }
        if firing && !self.was_firing {
            // What happened while nothing was fired belongs to no firing.
            self.untold.clear();
            self.again = self.world.is_started();
            if !self.again {
                self.world.start_firing(None);
                self.operator.firing_started(self.world.now_ms());
            }
        } else if start && !self.world.is_started() && self.operator.starts_once() {
            self.world.start_firing(refusal(&self.firmware));
            // It may have begun and ended within the tick.
            self.world.end_firing(self.firmware.status().ending);
        }
        self.was_firing = firing;
    }

    /// Counts the firing that began in the last tick.
    fn begin_again(&mut self) {
        self.again = false;
        self.world.start_firing(None);
        self.world.count_tick(&self.outputs);
        self.operator.firing_started(self.world.now_ms());
    }

    /// The firing at hand is over: its furnace and what watched it, in exchange for a `fresh` furnace
    /// and who watches the next. Where another firing has begun already, the furnace stays.
    ///
    /// # Errors
    /// Why there is no fresh furnace.
    pub fn start_next<E>(
        &mut self,
        fresh: impl FnOnce() -> Result<World, E>,
        observer: O,
    ) -> Result<(World, O), E> {
        let world = if self.again {
            let before = self.world.clone();
            self.begin_again();
            before
        } else {
            let fresh = fresh()?.at_time(self.world.now_ms());
            self.untold.clear();
            std::mem::replace(&mut self.world, fresh)
        };
        Ok((world, std::mem::replace(&mut self.observer, observer)))
    }

    fn end_second(&mut self) {
        let status = self.firmware.status();
        let second = self.world.end_second(status.step.is_some());
        let (inputs, outputs) = (&self.inputs, &self.outputs);
        let measured = self.meter.read(self.ticks, inputs, outputs, second.duty, Some(&status));
        let row = Row { at_s: second.at_s, measured, modelled: Some(second.modelled) };
        let start_ms = self.world.start_ms().unwrap_or(0);
        for mut event in self.untold.drain(..) {
            event.at = Instant::from_millis(event.at.millis().saturating_sub(start_ms));
            self.observer.event(&event);
        }
        self.observer.row(&row, second.energy_j, &self.world);
    }

    fn goes_on(&self) -> bool {
        let over = self.world.ticks() >= self.ticks_max || self.world.is_finished();
        !self.again && (!self.world.is_started() || !over)
    }
}

impl<F, P, O> Bench<F, P, O> {
    /// The furnace, the piece and the time.
    pub const fn world(&self) -> &World {
        &self.world
    }

    /// Another firing has begun before this one was handed over.
    pub const fn next_firing_started(&self) -> bool {
        self.again
    }

    /// The parts of a bench that is not wanted any more.
    pub fn into_parts(self) -> (World, F, O) {
        (self.world, self.firmware, self.observer)
    }

    /// Ticks since power-up.
    pub const fn ticks(&self) -> u64 {
        self.ticks
    }

    /// What the firmware was told in the last tick, and when: other firmware that is told the same,
    /// tick by tick, answers the same.
    pub const fn last_inputs(&self) -> (Instant, Inputs) {
        (Instant::from_millis(self.world.now_ms()), self.inputs)
    }

    /// What the firmware answered.
    pub const fn outputs(&self) -> Outputs {
        self.outputs
    }

    /// What happened in the last tick, in time since power-up.
    pub fn events(&self) -> &[Event] {
        &self.events
    }
}

impl<F: Firmware + Clone, P: Operator + Clone, O: Observer + Clone> Bench<F, P, O> {
    /// A second bench that is all as this one is by now, but for the faults ahead of it: from here on
    /// the two go their own ways. What has struck stays struck; a fault whose time has passed strikes
    /// at once.
    ///
    /// Only firmware that can be copied can be forked:
    ///
    /// ```
    /// use saggar_bench::{Bench, firmware::BareCore};
    /// fn two(bench: &Bench<BareCore, (), ()>) -> Bench<BareCore, (), ()> {
    ///     bench.fork(Vec::new())
    /// }
    /// ```
    ///
    /// ```compile_fail,E0599
    /// use saggar_bench::{Bench, firmware::Chips};
    /// fn two(bench: &Bench<Chips, (), ()>) -> Bench<Chips, (), ()> {
    ///     bench.fork(Vec::new())
    /// }
    /// ```
    pub fn fork(&self, faults: Vec<saggar_plant::faults::ScheduledFault>) -> Self {
        let mut fork = self.clone();
        fork.world = fork.world.with_faults(faults);
        fork
    }
}

/// Why a press on start was in vain; `None` if a firing runs or ended at once.
fn refusal(firmware: &impl Firmware) -> Option<NotStarted> {
    match (firmware.core().state(), firmware.status().trip) {
        (SequencerState::Running(_) | SequencerState::Ended(_), _) => None,
        (SequencerState::Idle, Some(cause)) => Some(NotStarted::Tripped(cause)),
        (SequencerState::Idle, None) => Some(NotStarted::NoReading),
    }
}
