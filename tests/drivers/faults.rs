//! Faults of chips, wires and buses, and what the core then gets.

use saggar_bench::chips::{ChipFault, Terminals};
use saggar_core::io::Inputs;
use saggar_core::sensors::ThermocoupleType;

use super::wires::Chips;
use super::{Wired, board};

const WARM: Terminals =
    Terminals { emf_nv: 5_000_000, cold_mc: 25_000, open: false, over_under: false };

/// A board that has run for a while, with 1000 mV on both slow converters.
fn running() -> (Chips, Wired) {
    let chips = Chips::new();
    let mut board = board(&chips, ThermocoupleType::S);
    chips.set(WARM);
    chips.gauge.borrow_mut().set(1000.0, ChipFault::None);
    chips.sensor.borrow_mut().set(1000.0, ChipFault::None);
    let inputs = after(&chips, &mut board, 5);
    assert!(complete(&inputs), "{inputs:?}");
    (chips, board)
}

/// Runs some ticks and returns the last inputs.
fn after(chips: &Chips, board: &mut Wired, ticks: u32) -> Inputs {
    let mut inputs = Inputs::default();
    for _ in 0..ticks {
        chips.tick();
        inputs = board.read();
    }
    inputs
}

fn complete(inputs: &Inputs) -> bool {
    inputs.control.is_some()
        && inputs.limit.is_some()
        && inputs.pressure_pa.is_some()
        && inputs.heater_current_ma.is_some()
}

/// Whatever is missing, no reading is wrong.
fn assert_true(inputs: &Inputs, what: &str) {
    for sample in [inputs.control, inputs.limit].into_iter().flatten() {
        assert!((sample.emf_nv - 5_000_000).abs() <= 75, "{what}: {sample:?}");
        assert_eq!(sample.cold_junction_mc, 25_000, "{what}");
        assert!(!sample.open && sample.age_ms <= 500, "{what}: {sample:?}");
    }
    assert!(inputs.pressure_pa.is_none_or(|pascals| pascals == 20_000), "{what}");
    assert!(inputs.heater_current_ma.is_none_or(|current| current == 20_000), "{what}");
}

/// Each of the six transactions per tick in turn, from the first tick on.
#[test]
fn any_failing_transaction_costs_one_sample() {
    for nth in 0..80 {
        let chips = Chips::new();
        let mut board = board(&chips, ThermocoupleType::S);
        chips.set(WARM);
        chips.gauge.borrow_mut().set(1000.0, ChipFault::None);
        chips.sensor.borrow_mut().set(1000.0, ChipFault::None);
        chips.fuse.set(Some(nth));
        let mut incomplete = 0;
        for tick in 0..40 {
            chips.tick();
            let inputs = board.read();
            assert_true(&inputs, &format!("{nth} at {tick}"));
            if !complete(&inputs) {
                incomplete += 1;
            }
        }
        assert_eq!(chips.fuse.get(), None, "{nth} was never reached");
        // Setting up takes two ticks; after that, a failure costs one.
        let most = if nth < 12 { 4 } else { 3 };
        assert!((2..=most).contains(&incomplete), "{nth}: {incomplete}");
        assert!(nth < 12 || incomplete == 3, "{nth}: a fault that nobody noticed");
        assert!(complete(&after(&chips, &mut board, 1)), "{nth}");
    }
}

#[test]
fn tick_takes_six_transactions() {
    let (chips, mut board) = running();
    for _ in 0..25 {
        chips.fuse.set(Some(1000));
        assert!(complete(&after(&chips, &mut board, 1)));
        assert_eq!(chips.fuse.get(), Some(994));
    }
}

#[test]
fn open_circuit_is_reported() {
    let (chips, mut board) = running();
    chips.set(Terminals { open: true, ..WARM });
    // The conversion under way may still be reported, or the cold junction.
    let inputs = after(&chips, &mut board, 2);
    assert!(inputs.control.is_some_and(|sample| sample.open), "{inputs:?}");
    // The limit's chip checks for it at every 16th conversion.
    let inputs = after(&chips, &mut board, 16);
    assert!(inputs.limit.is_some_and(|sample| sample.open), "{inputs:?}");
    chips.set(WARM);
    let inputs = after(&chips, &mut board, 17);
    assert_true(&inputs, "mended");
    assert!(complete(&inputs));
}

#[test]
fn input_beyond_the_supply_gives_no_sample() {
    let (chips, mut board) = running();
    chips.set(Terminals { over_under: true, ..WARM });
    assert_eq!(after(&chips, &mut board, 1).limit, None);
    chips.set(WARM);
    assert!(after(&chips, &mut board, 1).limit.is_some());
}

#[test]
fn terminals_out_of_range_give_no_sample() {
    for cold_mc in [-56_000, 126_000] {
        let (chips, mut board) = running();
        chips.set(Terminals { cold_mc, ..WARM });
        assert_eq!(after(&chips, &mut board, 1).limit, None);
    }
}

/// The data line is stuck high or low: no sample at once, and samples again when it works again.
#[test]
fn silent_chip_gives_no_sample() {
    for level in [0x00, 0xFF] {
        let (chips, mut board) = running();
        let silent = ChipFault::Silent(level);
        chips.control.chip.borrow_mut().set(WARM, silent);
        chips.limit.chip.borrow_mut().set(WARM, silent);
        chips.gauge.borrow_mut().set(1000.0, silent);
        chips.sensor.borrow_mut().set(1000.0, silent);
        for _ in 0..20 {
            let inputs = after(&chips, &mut board, 1);
            let nothing = Inputs {
                closure: inputs.closure,
                mains_crossings: Some(0),
                ..Inputs::default()
            };
            assert_eq!(inputs, nothing);
        }
        chips.set(WARM);
        chips.gauge.borrow_mut().set(1000.0, ChipFault::None);
        chips.sensor.borrow_mut().set(1000.0, ChipFault::None);
        let inputs = after(&chips, &mut board, 5);
        assert!(complete(&inputs), "{inputs:?}");
        assert_true(&inputs, "back");
    }
}

/// The registers answer but conversion has stopped: no control sample at once, and no limit sample
/// before it would be too old for the core.
#[test]
fn stopped_conversion_is_detected() {
    let (chips, mut board) = running();
    chips.control.chip.borrow_mut().set(WARM, ChipFault::OscillatorStopped);
    chips.limit.chip.borrow_mut().set(WARM, ChipFault::OscillatorStopped);
    for tick in 0..20 {
        let inputs = after(&chips, &mut board, 1);
        assert_true(&inputs, "standing");
        assert_eq!(inputs.control, None);
        assert_eq!(inputs.limit.is_some(), tick < 3, "{tick}");
    }
    chips.set(WARM);
    assert!(complete(&after(&chips, &mut board, 5)));
}

/// A dip of the supply in any tick: the configuration is lost, and no reading is wrong.
#[test]
fn reset_chip_is_detected() {
    for tick in 0..12 {
        let (chips, mut board) = running();
        after(&chips, &mut board, tick);
        chips.control.chip.borrow_mut().reset();
        chips.limit.chip.borrow_mut().reset();
        chips.gauge.borrow_mut().reset();
        chips.sensor.borrow_mut().reset();
        let inputs = after(&chips, &mut board, 1);
        let nothing =
            Inputs { closure: inputs.closure, mains_crossings: Some(0), ..Inputs::default() };
        assert_eq!(inputs, nothing, "{tick}");
        for _ in 0..4 {
            assert_true(&after(&chips, &mut board, 1), "starting");
        }
        assert!(complete(&after(&chips, &mut board, 1)), "{tick}");
    }
}
