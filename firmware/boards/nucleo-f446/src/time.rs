//! The time, the tick, and the crossings of the mains.
//!
//! No interrupt is used. A crossing sets a flag in hardware that the main loop polls every few
//! microseconds, so board and heater need not be shared with an interrupt. Nothing long may be under
//! way when a crossing comes. Hence [`ZeroCrossings::has_time_for_work`]: work begins only in the first
//! milliseconds after a crossing and is done before the next. A tick waits up to 7 ms for that; the
//! core tolerates 50.

use saggar_core::TICK_MS;
use saggar_core::units::Instant;
use stm32f4xx_hal::gpio::{Edge, ExtiPin};
use stm32f4xx_hal::pac::{EXTI, SYSCFG, TIM3, TIM5};
use stm32f4xx_hal::prelude::*;
use stm32f4xx_hal::rcc::Rcc;
use stm32f4xx_hal::timer::{CounterHz, CounterUs};

use crate::pins::GpioInput;

/// Ticks per second.
const TICKS_HZ: u32 = 1000 / TICK_MS;

/// The microsecond counter wraps after this value.
const WRAP_US: u32 = u32::MAX;

/// A timer that counts microseconds, and one that says when a tick is due.
pub struct Clock {
    count: CounterUs<TIM5>,
    tick: CounterHz<TIM3>,
    last: u32,
    micros: u64,
}

impl Clock {
    /// Starts both. `None` if the processor's clock does not allow it.
    pub fn new(count: TIM5, tick: TIM3, rcc: &mut Rcc) -> Option<Self> {
        let mut count = count.counter_us(rcc);
        let mut tick = tick.counter_hz(rcc);
        count.start(WRAP_US.micros()).ok()?;
        tick.start(TICKS_HZ.Hz()).ok()?;
        Some(Self { count, tick, last: 0, micros: 0 })
    }

    /// Microseconds since the start; to be called at least once an hour.
    pub fn micros(&mut self) -> u64 {
        let now = self.count.now().ticks();
        let passed = now.checked_sub(self.last);
        let passed = passed.unwrap_or(now.wrapping_add(WRAP_US.wrapping_sub(self.last)));
        self.last = now;
        self.micros = self.micros.wrapping_add(u64::from(passed));
        self.micros
    }

    /// The time as the core counts it.
    pub fn now(&mut self) -> Instant {
        Instant::from_millis(self.micros() / 1000)
    }

    /// Whether a tick is due. Missed ticks are lost, not made up for.
    pub fn take_due_tick(&mut self) -> bool {
        self.tick.wait().is_ok()
    }
}

/// Time after a crossing in which work may begin (µs). At 60 Hz there are 5.3 ms from its end to the
/// next crossing.
const WORK_WINDOW_US: u64 = 3_000;

/// Without a crossing for this long there is no mains, and nothing to be late for (µs).
const MAINS_LOST_US: u64 = 25_000;

/// An edge sooner than this after the last counts as noise (µs).
const NOISE_US: u64 = 4_000;

/// The mains detector.
pub struct ZeroCrossings {
    pin: GpioInput,
    last: u64,
}

impl ZeroCrossings {
    /// A rising edge of the pin sets its flag; the interrupt stays masked in the processor.
    pub fn new(mut pin: GpioInput, mut exti: EXTI, config: SYSCFG, rcc: &mut Rcc) -> Self {
        pin.make_interrupt_source(&mut config.constrain(rcc));
        pin.trigger_on_edge(&mut exti, Edge::Rising);
        pin.enable_interrupt(&mut exti);
        Self { pin, last: 0 }
    }

    /// Whether a half-cycle has begun since the last call.
    pub fn take_crossing(&mut self, micros: u64) -> bool {
        if !self.pin.check_interrupt() {
            return false;
        }
        self.pin.clear_interrupt_pending_bit();
        if micros.saturating_sub(self.last) < NOISE_US {
            return false;
        }
        self.last = micros;
        true
    }

    /// Whether work that begins now is done before the next crossing.
    pub const fn has_time_for_work(&self, micros: u64) -> bool {
        let since = micros.saturating_sub(self.last);
        since < WORK_WINDOW_US || since > MAINS_LOST_US
    }
}
