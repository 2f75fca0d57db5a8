//! Firmware for ST's NUCLEO-F446RE: read, step, write and kick the watchdogs ten times a second, and
//! carry the bytes of the link. No decision is made here.
//!
//! It has been built and linked. **It has not run on a board yet.**
#![no_std]
#![no_main]

mod flash;
mod halt;
mod pins;
mod slow_bus;
mod time;
mod uart;

use core::cell::RefCell;
use core::mem::MaybeUninit;

use defmt_rtt as _;
use embedded_hal::digital::OutputPin;
use embedded_hal::i2c::I2c;
use embedded_hal::spi::{MODE_1, SpiDevice};
use embedded_hal_bus::spi::{NoDelay, RefCellDevice};
use saggar_core::furnace::{Closure, Furnace};
use saggar_device::Device;
use saggar_drivers::closure::{ClosureActuator, Lift};
use saggar_drivers::max31856::MainsFrequency;
use saggar_drivers::scale::{CurrentScale, PressureScale};
use saggar_drivers::{Board, BoardConfig, BoardParts};
use stm32f4xx_hal::pac;
use stm32f4xx_hal::prelude::*;
use stm32f4xx_hal::rcc::Config;
use stm32f4xx_hal::spi::Spi;
use stm32f4xx_hal::watchdog::IndependentWatchdog;

use flash::InternalFlash;
use halt::halt;
use pins::{GpioInput, GpioOutput, Pins, Ports};
use slow_bus::SlowBus;
use time::{Clock, ZeroCrossings};
use uart::UartLink;

/// Address of the pressure gauge's converter, and the scale of the gauge. For another gauge,
/// change this.
const GAUGE: (u8, PressureScale) =
    (0x48, PressureScale { zero_mv: 500, pa_per_mv: 32, lowest_mv: 250, highest_mv: 4000 });

/// Address of the current sensor's converter, and its scale. For another sensor, change this.
const CURRENT: (u8, CurrentScale) = (0x49, CurrentScale { ma_per_mv: 5 });

/// Timeout of the internal watchdog (ms) by its own clock, which may be off by about half (17 to 47 kHz
/// at 32 nominal, value from memory). The longest stall of the processor is 1.6 s between firings, when
/// an upload begins and the log rotates, see [`flash`].
const WATCHDOG_MS: u32 = 3_000;

/// A static, so that the symbol table shows its size.
#[unsafe(no_mangle)]
static mut DEVICE: MaybeUninit<Device<InternalFlash>> = MaybeUninit::uninit();

#[cortex_m_rt::entry]
fn main() -> ! {
    pins::all_outputs_low();
    let Some(dp) = pac::Peripherals::take() else { halt() };
    // 8 MHz from the probe's crystal. If it is missing, the board waits here with all outputs off.
    let clocks = Config::hse(8.MHz()).bypass_hse_oscillator().sysclk(168.MHz());
    let mut rcc = dp.RCC.freeze(clocks);
    // If the crystal stops later, the program ends; see `halt`.
    rcc.cr().modify(|_, w| w.csson().set_bit());
    let pins = Pins::new(Ports {
        gpioa: dp.GPIOA.split(&mut rcc),
        gpiob: dp.GPIOB.split(&mut rcc),
        gpioc: dp.GPIOC.split(&mut rcc),
    });
    let mains = ZeroCrossings::new(pins.zero_crossing, dp.EXTI, dp.SYSCFG, &mut rcc);
    let Some(line) = UartLink::new(dp.USART2, dp.DMA1, pins.link_tx, pins.link_rx, &mut rcc)
    else {
        halt()
    };
    let Some(clock) = Clock::new(dp.TIM5, dp.TIM3, &mut rcc) else { halt() };
    let lines = (Some(pins.sck), Some(pins.miso), Some(pins.mosi));
    let spi = RefCell::new(Spi::new(dp.SPI1, lines, MODE_1, 1.MHz(), &mut rcc));
    let Ok(control_spi) = RefCellDevice::new(&spi, pins.control_select, NoDelay);
    let Ok(limit_spi) = RefCellDevice::new(&spi, pins.limit_select, NoDelay);
    let i2c =
        SlowBus::new(pins.scl.into_open_drain_output(), pins.sda.into_open_drain_output());

    let device = boot(InternalFlash(dp.FLASH));
    let furnace = device.controller().furnace();
    let parts = BoardParts {
        control_spi,
        control_ready: pins.control_ready,
        limit_spi,
        limit_ready: pins.limit_ready,
        i2c,
        heater: pins.heater,
        contactor: pins.contactor,
        contactor_aux: pins.contactor_aux,
        pump: pins.pump,
        isolation_valve: pins.isolation_valve,
        vent_valve: pins.vent_valve,
        closure: closure(furnace, pins.to_open, pins.to_shut),
        shut_contact: pins.shut_contact,
        open_contact: pins.open_contact,
        lamp: pins.lamp,
        buzzer: pins.buzzer,
        start: pins.start,
        stop: pins.stop,
        confirm: pins.confirm,
        watchdog: pins.watchdog,
    };
    let mut board = Board::new(parts, &board_config(furnace));
    board.safe();
    let mut watchdog = IndependentWatchdog::new(dp.IWDG);
    watchdog.start(WATCHDOG_MS.millis());
    run(&mut board, device, Peripherals { clock, mains, line, watchdog })
}

/// Boots the device. Without settings, or with a defective flash, the board stays off for ever.
fn boot(flash: InternalFlash) -> &'static mut Device<InternalFlash> {
    // This microcontroller has no random number generator.
    match Device::boot(flash, flash::layout(), || None) {
        Ok(device) => {
            defmt::info!("up, {}", device.programme_status());
            let slot = &raw mut DEVICE;
            // SAFETY: written here before it is read, called once, and reached from here only.
            unsafe { (*slot).write(device) }
        }
        Err(why) => {
            defmt::error!("not up: {}", why);
            loop {
                pins::all_outputs_low();
            }
        }
    }
}

fn closure(
    furnace: &Furnace,
    to_open: GpioOutput,
    to_shut: GpioOutput,
) -> ClosureActuator<GpioOutput> {
    match furnace.closure {
        Closure::Lift => ClosureActuator::Lift(Lift::new(to_open, to_shut)),
        Closure::Door => ClosureActuator::Door(to_open),
    }
}

/// The drivers' configuration for this furnace.
fn board_config(furnace: &Furnace) -> BoardConfig {
    BoardConfig {
        control: furnace.control_sensor.kind,
        limit: furnace.limit_sensor.kind,
        mains: if furnace.heater.mains_hz == 60 {
            MainsFrequency::Hz60
        } else {
            MainsFrequency::Hz50
        },
        pressure: furnace.vacuum.is_some().then_some(GAUGE),
        current: furnace.heater.full_current_ma.is_some().then_some(CURRENT),
        counts_crossings: furnace.heater.counts_crossings,
    }
}

/// What the main loop needs besides the board.
struct Peripherals {
    clock: Clock,
    mains: ZeroCrossings,
    line: UartLink,
    watchdog: IndependentWatchdog,
}

/// The main loop. Not part of `main`, so that `.ci/boards` can tell a panic in it from one in the HAL's
/// initialisation.
#[inline(never)]
fn run<C: SpiDevice, L: SpiDevice, B: I2c, O: OutputPin>(
    board: &mut Board<C, L, B, GpioInput, O>,
    device: &mut Device<InternalFlash>,
    with: Peripherals,
) -> ! {
    let Peripherals { mut clock, mut mains, mut line, mut watchdog } = with;
    let mut due = false;
    loop {
        let micros = clock.micros();
        if mains.take_crossing(micros) {
            board.zero_crossing();
        }
        line.send();
        due |= clock.take_due_tick();
        if !mains.has_time_for_work(micros) {
            continue;
        }
        let now = clock.now();
        if core::mem::take(&mut due) {
            let inputs = board.read();
            let outputs = device.step(now, &inputs, |event| defmt::info!("{}", event));
            match board.write(&outputs) {
                // If its pin fails, the outer watchdog trips.
                Ok(token) => {
                    let _ = board.kick(token);
                    watchdog.feed();
                }
                Err(errors) => defmt::error!("outputs failed: {}", errors),
            }
            continue;
        }
        if let Some(byte) = line.take() {
            device.receive(now, &[byte]);
        }
        line.refill(|frame| device.transmit(frame));
    }
}
