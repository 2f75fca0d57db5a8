//! The whole board: every output follows, every failure is reported, and only a token kicks the watchdog.

use embedded_hal::i2c::{self, I2c, Operation};
use embedded_hal::spi::{self, SpiDevice};
use saggar_core::io::{Inputs, Outputs};
use saggar_core::sensors::ThermocoupleType;
use saggar_drivers::closure::{ClosureActuator, Lift};
use saggar_drivers::max31856::MainsFrequency;
use saggar_drivers::scale::{CurrentScale, PressureScale};
use saggar_drivers::{Board, BoardConfig, BoardParts, OutputErrors};

use crate::support::Pin;

/// A bus on which nothing answers.
struct Dead;

impl spi::ErrorType for Dead {
    type Error = spi::ErrorKind;
}

impl SpiDevice for Dead {
    fn transaction(&mut self, _: &mut [spi::Operation<'_, u8>]) -> Result<(), spi::ErrorKind> {
        Err(spi::ErrorKind::Other)
    }
}

impl i2c::ErrorType for Dead {
    type Error = i2c::ErrorKind;
}

impl I2c for Dead {
    fn transaction(&mut self, _: u8, _: &mut [Operation<'_>]) -> Result<(), i2c::ErrorKind> {
        Err(i2c::ErrorKind::Other)
    }
}

const OUTPUTS: [&str; 9] = [
    "heater",
    "contactor",
    "pump",
    "isolation valve",
    "vent valve",
    "to open",
    "lamp",
    "buzzer",
    "watchdog",
];

struct Bench {
    board: Board<Dead, Dead, Dead, Pin, Pin>,
    outputs: [Pin; 9],
    to_shut: Pin,
    aux: Pin,
    shut: Pin,
    open: Pin,
    stop: Pin,
}

impl Bench {
    /// Reads and writes, and returns the errors of the write.
    fn tick(&mut self, outputs: &Outputs) -> Result<OutputErrors, OutputErrors> {
        self.board.read();
        self.board.write(outputs).map(|done| done.errors())
    }
}

fn bench() -> Bench {
    let outputs: [Pin; 9] = Default::default();
    let [heater, contactor, pump, isolation_valve, vent_valve, to_open, lamp, buzzer, watchdog] =
        outputs.clone();
    let (to_shut, aux, stop) = (Pin::default(), Pin::new(true), Pin::default());
    let (shut, open) = (Pin::new(false), Pin::new(true));
    let parts = BoardParts {
        control_spi: Dead,
        control_ready: Pin::default(),
        limit_spi: Dead,
        limit_ready: Pin::default(),
        i2c: Dead,
        heater,
        contactor,
        contactor_aux: aux.clone(),
        pump,
        isolation_valve,
        vent_valve,
        closure: ClosureActuator::Lift(Lift::new(to_open, to_shut.clone())),
        shut_contact: shut.clone(),
        open_contact: open.clone(),
        lamp,
        buzzer,
        start: Pin::new(true),
        stop: stop.clone(),
        confirm: Pin::new(true),
        watchdog,
    };
    let scale = PressureScale { zero_mv: 500, pa_per_mv: 40, lowest_mv: 400, highest_mv: 3900 };
    let settings = BoardConfig {
        control: ThermocoupleType::S,
        limit: ThermocoupleType::K,
        mains: MainsFrequency::Hz50,
        pressure: Some((0x48, scale)),
        current: Some((0x49, CurrentScale { ma_per_mv: 20 })),
        counts_crossings: false,
    };
    Bench { board: Board::new(parts, &settings), outputs, to_shut, aux, shut, open, stop }
}

/// Everything on.
const ALL: Outputs = Outputs {
    heater_cycles: 0b11111,
    contactor: true,
    pump: true,
    isolation_valve: true,
    vent_valve: true,
    open_closure: true,
    lamp: true,
    buzzer: true,
};

#[test]
fn dead_buses_give_no_readings() {
    let mut bench = bench();
    for _ in 0..5 {
        let inputs = bench.board.read();
        let mut expected = Inputs::default();
        expected.closure.shut = true;
        assert_eq!(inputs, expected);
    }
}

#[test]
fn unreadable_contacts_read_as_the_safe_state() {
    let mut bench = bench();
    bench.aux.high.set(false);
    bench.shut.high.set(true);
    bench.open.high.set(false);
    bench.stop.high.set(true);
    let inputs = bench.board.read();
    assert!(inputs.contactor_closed && inputs.closure.proves_open() && inputs.buttons.stop);
    bench.aux.high.set(true);
    assert!(!bench.board.read().contactor_closed);
    bench.aux.broken.set(true);
    bench.shut.broken.set(true);
    bench.open.high.set(false);
    let inputs = bench.board.read();
    assert!(inputs.contactor_closed);
    assert!(!inputs.closure.shut && !inputs.closure.open);
}

/// Each field alone moves its pin alone.
#[test]
fn each_field_drives_its_own_pin() {
    let off = Outputs::default();
    let fields = [
        Outputs { heater_cycles: 1, ..off },
        Outputs { contactor: true, ..off },
        Outputs { pump: true, ..off },
        Outputs { isolation_valve: true, ..off },
        Outputs { vent_valve: true, ..off },
        Outputs { open_closure: true, ..off },
        Outputs { lamp: true, ..off },
        Outputs { buzzer: true, ..off },
    ];
    for (field, outputs) in fields.iter().enumerate() {
        let mut bench = bench();
        assert_eq!(bench.tick(outputs), Ok(OutputErrors::default()));
        bench.board.zero_crossing();
        for (pin, name) in OUTPUTS.iter().enumerate() {
            assert_eq!(bench.outputs[pin].high.get(), pin == field, "{name} at {field}");
        }
    }
}

/// Each pin in turn fails: the others are still written, the error is reported, and only with lamp and
/// buzzer is there still a token for the watchdog.
#[test]
fn every_failing_output_is_reported() {
    for (pin, name) in OUTPUTS.iter().enumerate().take(8) {
        let mut bench = bench();
        bench.outputs[pin].broken.set(true);
        let done = bench.tick(&ALL);
        let all = [
            OutputErrors { heater: pin == 0, ..OutputErrors::default() },
            OutputErrors { contactor: pin == 1, ..OutputErrors::default() },
            OutputErrors { pump: pin == 2, ..OutputErrors::default() },
            OutputErrors { isolation_valve: pin == 3, ..OutputErrors::default() },
            OutputErrors { vent_valve: pin == 4, ..OutputErrors::default() },
            OutputErrors { closure: pin == 5, ..OutputErrors::default() },
            OutputErrors { lamp: pin == 6, ..OutputErrors::default() },
            OutputErrors { buzzer: pin == 7, ..OutputErrors::default() },
        ];
        match pin {
            // Its pin is not touched before the first crossing.
            0 => assert_eq!(done, Ok(OutputErrors::default())),
            6 | 7 => assert_eq!(done, Ok(all[pin]), "{name}"),
            _ => assert_eq!(done, Err(all[pin]), "{name}"),
        }
        // The rest followed; if the contactor fails, it and the heater are switched off.
        for (other, other_name) in OUTPUTS.iter().enumerate().skip(1).take(7) {
            if other != pin {
                assert!(bench.outputs[other].high.get(), "{name} failed, {other_name} is off");
            }
        }
        bench.board.zero_crossing();
        assert_eq!(bench.outputs[0].high.get(), pin > 1, "{name}");
    }
}

/// The relay's pin fails at a crossing: the next write reports it and opens the contactor.
#[test]
fn heater_failure_at_a_crossing_opens_the_contactor() {
    let mut bench = bench();
    bench.tick(&ALL).unwrap();
    bench.outputs[0].broken.set(true);
    bench.board.zero_crossing();
    bench.outputs[0].broken.set(false);
    assert!(bench.outputs[1].high.get());
    let heater = OutputErrors { heater: true, ..OutputErrors::default() };
    assert_eq!(bench.tick(&ALL), Err(heater));
    assert!(!bench.outputs[1].high.get());
    bench.board.zero_crossing();
    assert!(!bench.outputs[0].high.get());
    // It was reported once; the pin works again.
    bench.tick(&ALL).unwrap();
}

#[test]
fn write_without_read_is_refused() {
    let mut bench = bench();
    let unread = OutputErrors { inputs_not_read: true, ..OutputErrors::default() };
    assert_eq!(bench.board.write(&ALL).unwrap_err(), unread);
    bench.tick(&ALL).unwrap();
    assert!(bench.outputs[1].high.get());
    assert_eq!(bench.board.write(&ALL).unwrap_err(), unread);
    assert!(!bench.outputs[1].high.get());
    bench.board.zero_crossing();
    assert!(!bench.outputs[0].high.get());
}

/// One edge per tick, each for its own token.
#[test]
fn watchdog_gets_one_edge_per_tick() {
    let mut bench = bench();
    for _ in 0..4 {
        bench.board.read();
        let done = bench.board.write(&ALL).unwrap();
        bench.board.kick(done).unwrap();
    }
    assert_eq!(*bench.outputs[8].history.borrow(), [true, false, true, false]);
    bench.outputs[8].broken.set(true);
    bench.board.read();
    let done = bench.board.write(&ALL).unwrap();
    bench.board.kick(done).unwrap_err();
}

/// A lift whose contacts cannot be read does not move.
#[test]
fn lift_with_unreadable_contacts_does_not_move() {
    let mut bench = bench();
    bench.tick(&ALL).unwrap();
    assert!(bench.outputs[5].high.get());
    bench.open.broken.set(true);
    bench.tick(&ALL).unwrap();
    assert!(!bench.outputs[5].high.get() && !bench.to_shut.high.get());
}

#[test]
fn safe_switches_everything_off_despite_failures() {
    for pin in 0..8 {
        let mut bench = bench();
        bench.tick(&ALL).unwrap();
        bench.board.zero_crossing();
        bench.outputs[pin].broken.set(true);
        let faults = bench.board.safe();
        assert_ne!(faults, OutputErrors::default());
        for (other, name) in OUTPUTS.iter().enumerate().take(8) {
            assert_eq!(bench.outputs[other].high.get(), other == pin, "{name}");
        }
    }
}
