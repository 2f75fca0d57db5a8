//! Drivers wired to models of their chips: what is set on one side is read on the other, and defects are
//! reported.

mod faults;
mod missed;
mod slow;
mod thermocouples;
mod wires;

use saggar_core::sensors::ThermocoupleType;
use saggar_drivers::closure::ClosureActuator;
use saggar_drivers::max31856::MainsFrequency;
use saggar_drivers::scale::{CurrentScale, PressureScale};
use saggar_drivers::{Board, BoardConfig, BoardParts};

use wires::{Chips, GAUGE_AT, I2cWire, Input, Output, Ready, SENSOR_AT, SpiWire};

const GAUGE: PressureScale =
    PressureScale { zero_mv: 500, pa_per_mv: 40, lowest_mv: 400, highest_mv: 3900 };
const SENSOR: CurrentScale = CurrentScale { ma_per_mv: 20 };

type Wired = Board<
    SpiWire<saggar_bench::chips::ads1220::Ads1220Model>,
    SpiWire<saggar_bench::chips::max31856::Max31856Model>,
    I2cWire,
    Input,
    Output,
>;

/// A board on these chips, with both thermocouples of this type.
fn board(chips: &Chips, kind: ThermocoupleType) -> Wired {
    let parts = BoardParts {
        control_spi: chips.control.spi(),
        control_ready: Input::Ready(Ready::Control(chips.clone())),
        limit_spi: chips.limit.spi(),
        limit_ready: Input::Ready(Ready::Limit(chips.clone())),
        i2c: chips.i2c(),
        heater: Output,
        contactor: Output,
        contactor_aux: Input::Level(true),
        pump: Output,
        isolation_valve: Output,
        vent_valve: Output,
        closure: ClosureActuator::Door(Output),
        shut_contact: Input::Level(false),
        open_contact: Input::Level(true),
        lamp: Output,
        buzzer: Output,
        start: Input::Level(true),
        stop: Input::Level(false),
        confirm: Input::Level(true),
        watchdog: Output,
    };
    let settings = BoardConfig {
        control: kind,
        limit: kind,
        mains: MainsFrequency::Hz50,
        pressure: Some((GAUGE_AT, GAUGE)),
        current: Some((SENSOR_AT, SENSOR)),
        counts_crossings: true,
    };
    Board::new(parts, &settings)
}
