//! The wiring of the emulated board: scales, bus addresses, pins and flash layout.

use embedded_hal::digital::{InputPin, OutputPin};
use embedded_hal::i2c::{self, I2c, NoAcknowledgeSource};
use embedded_hal::spi::{self, SpiDevice};
use saggar_core::furnace::{Closure, Furnace};
use saggar_device::store::{Layout, Region};
use saggar_drivers::closure::{ClosureActuator, Lift};
use saggar_drivers::max31856::MainsFrequency;
use saggar_drivers::scale::{CurrentScale, PressureScale};
use saggar_drivers::{BoardConfig, BoardParts};

use crate::pins::{Input, Output, Part};
use crate::window::FLASH_SECTOR;

/// Bus address of the pressure gauge's converter, and the scale of the gauge.
pub const GAUGE: (u8, PressureScale) =
    (0x48, PressureScale { zero_mv: 500, pa_per_mv: 32, lowest_mv: 250, highest_mv: 4000 });

/// Bus address of the current sensor's converter, and the scale of the sensor.
pub const CURRENT: (u8, CurrentScale) = (0x49, CurrentScale { ma_per_mv: 5 });

/// Layout of the flash.
pub const fn flash_layout() -> Layout {
    const SECTOR: u32 = 0x1000;
    const _: () = assert!(SECTOR as usize == FLASH_SECTOR);
    const fn sectors(first: u32, count: u32) -> Region {
        Region { at: first.saturating_mul(SECTOR), bytes: count.saturating_mul(SECTOR) }
    }
    Layout {
        slots: [sectors(0, 1), sectors(1, 1)],
        journal: [sectors(2, 4), sectors(6, 4)],
        settings: sectors(10, 1),
    }
}

/// The board's settings for a furnace.
pub fn board_settings(furnace: &Furnace) -> BoardConfig {
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

/// A part on a bus did not answer.
#[derive(Clone, Copy, Debug)]
pub struct NoResponseError;

impl spi::Error for NoResponseError {
    fn kind(&self) -> spi::ErrorKind {
        spi::ErrorKind::Other
    }
}

impl i2c::Error for NoResponseError {
    fn kind(&self) -> i2c::ErrorKind {
        i2c::ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown)
    }
}

/// The board's parts, built on any implementation of its buses and pins.
pub fn board_parts<B, I, O>(
    furnace: &Furnace,
    bus: impl Fn(Part) -> B,
    input: impl Fn(Input) -> I,
    output: impl Fn(Output) -> O,
) -> BoardParts<B, B, B, I, O>
where
    B: SpiDevice + I2c,
    I: InputPin,
    O: OutputPin,
{
    BoardParts {
        control_spi: bus(Part::Control),
        control_ready: input(Input::ControlReady),
        limit_spi: bus(Part::Limit),
        limit_ready: input(Input::LimitReady),
        i2c: bus(Part::Slow),
        heater: output(Output::Heater),
        contactor: output(Output::Contactor),
        contactor_aux: input(Input::ContactorAux),
        pump: output(Output::Pump),
        isolation_valve: output(Output::IsolationValve),
        vent_valve: output(Output::VentValve),
        closure: match furnace.closure {
            Closure::Lift => {
                ClosureActuator::Lift(Lift::new(output(Output::ToOpen), output(Output::ToShut)))
            }
            Closure::Door => ClosureActuator::Door(output(Output::ToOpen)),
        },
        shut_contact: input(Input::Shut),
        open_contact: input(Input::Open),
        lamp: output(Output::Lamp),
        buzzer: output(Output::Buzzer),
        start: input(Input::Start),
        stop: input(Input::Stop),
        confirm: input(Input::Confirm),
        watchdog: output(Output::Watchdog),
    }
}
