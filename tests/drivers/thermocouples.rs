//! Both thermocouple channels over the working range of every type.

use saggar_bench::chips::Terminals;
use saggar_core::furnace::SensorData;
use saggar_core::io::Inputs;
use saggar_core::sensors::{ChannelReader, ThermocoupleType};

use super::board;
use super::wires::Chips;

/// One step of the converters (nV): the control's, the limit's.
fn steps_nv(kind: ThermocoupleType) -> (f64, f64) {
    let noble = matches!(kind, ThermocoupleType::S | ThermocoupleType::R | ThermocoupleType::B);
    let (control, limit) = if noble { (64.0, 32.0) } else { (32.0, 8.0) };
    (2.048e9 / control / 8_388_608.0, 1.0e9 / (limit * 1.6 * 131_072.0))
}

/// Hot and cold ends (°C) over the range of a furnace and its terminals.
fn temperatures(kind: ThermocoupleType) -> impl Iterator<Item = (f64, f64)> {
    let coldest = if kind == ThermocoupleType::B { 260 } else { 0 };
    (coldest..=1290)
        .step_by(43)
        .flat_map(|hot| [0.0, 24.7, 61.3].map(|cold| (f64::from(hot), cold)))
}

/// The voltage between the terminals (nV).
fn between(kind: ThermocoupleType, hot_c: f64, cold_c: f64) -> f64 {
    let emf_uv = |celsius| kind.emf_uv(celsius).expect("inside the range");
    1000.0 * (emf_uv(hot_c) - emf_uv(cold_c))
}

/// Reads after the cold junction was converted again.
fn settled(
    chips: &Chips,
    mut read: impl FnMut() -> Inputs,
    emf_nv: i32,
    cold_mc: i32,
) -> Inputs {
    chips.set(Terminals { emf_nv, cold_mc, ..Terminals::default() });
    let mut inputs = read();
    for _ in 0..13 {
        chips.tick();
        inputs = read();
    }
    inputs
}

#[test]
fn voltages_and_terminals_agree_within_a_converter_step() {
    for kind in ThermocoupleType::ALL {
        let chips = Chips::new();
        let mut board = board(&chips, kind);
        let (control_nv, limit_nv) = steps_nv(kind);
        for (hot_c, cold_c) in temperatures(kind) {
            let emf_nv = between(kind, hot_c, cold_c).round() as i32;
            let cold_mc = (cold_c * 1000.0) as i32;
            let inputs = settled(&chips, || board.read(), emf_nv, cold_mc);
            let samples =
                [(inputs.control, control_nv, 31.25), (inputs.limit, limit_nv, 15.625)];
            for (sample, step_nv, step_mc) in samples {
                let sample = sample.unwrap();
                let what = format!("{} {hot_c} {cold_c}: {sample:?}", kind.letter());
                assert!(!sample.open && sample.age_ms <= 200, "{what}");
                let off = f64::from(sample.emf_nv) - f64::from(emf_nv);
                assert!(off.abs() <= step_nv, "{what}, off by {off} nV");
                let off = f64::from(sample.cold_junction_mc - cold_mc);
                assert!(off.abs() <= step_mc, "{what}, off by {off} m°C");
            }
        }
    }
}

/// The same as temperatures of the core, with terminals at ambient. The core's inverse is good to
/// 0.06 K, to which a step of the converters and of the terminals' sensor is added.
#[test]
fn temperatures_agree_within_the_converters_steps() {
    for kind in ThermocoupleType::ALL {
        let chips = Chips::new();
        let mut board = board(&chips, kind);
        let (control_nv, limit_nv) = steps_nv(kind);
        let (mut first, mut second) = (ChannelReader::default(), ChannelReader::default());
        for (hot_c, cold_c) in temperatures(kind) {
            let emf_nv = between(kind, hot_c, cold_c).round() as i32;
            let inputs = settled(&chips, || board.read(), emf_nv, (cold_c * 1000.0) as i32);
            let slope_nv = between(kind, hot_c + 0.5, hot_c - 0.5_f64.min(hot_c));
            let cold_slope_nv = between(kind, cold_c + 1.0, cold_c);
            let channels = [
                (
                    first.read(&SensorData::new(kind), inputs.control.as_ref()),
                    control_nv,
                    0.031_25,
                ),
                (
                    second.read(&SensorData::new(kind), inputs.limit.as_ref()),
                    limit_nv,
                    0.015_625,
                ),
            ];
            for (reading, step_nv, step_k) in channels {
                let told = f64::from(reading.unwrap().celsius.get());
                let bound = 0.07 + (step_nv + step_k * cold_slope_nv) / slope_nv.abs() * 2.0;
                let off = (told - hot_c).abs();
                assert!(off <= bound, "{} {hot_c} {cold_c}: {told}, {bound}", kind.letter());
            }
        }
    }
}

/// In that tick the voltage is the last one, a tick older.
#[test]
fn cold_junction_takes_one_tick_in_ten() {
    let chips = Chips::new();
    let mut board = board(&chips, ThermocoupleType::S);
    let mut ages = Vec::new();
    for tick in 0..43 {
        chips.set(Terminals {
            emf_nv: 1_000_000 + tick,
            cold_mc: 25_000,
            ..Terminals::default()
        });
        chips.tick();
        ages.push(board.read().control.map(|sample| sample.age_ms));
    }
    assert_eq!(ages[..2], [None, None]);
    for (tick, age) in ages.iter().enumerate().skip(2) {
        assert_eq!(*age, Some(if tick % 10 == 1 { 200 } else { 100 }), "{tick}");
    }
}
