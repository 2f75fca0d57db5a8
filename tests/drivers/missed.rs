//! Answers that do not come for a tick or some. Three missing samples in a row are a trip, so the drivers must
//! not make three of one.

use saggar_bench::chips::{ChipFault, Terminals};
use saggar_core::io::Inputs;
use saggar_core::sensors::ThermocoupleType;

use super::wires::Chips;
use super::{Wired, board};

/// Two rounds of the control channel's cold junction.
const PHASES: u32 = 20;

/// The voltage rises by this much in a tick, so that it tells when it was converted (nV).
const RISE_NV: i32 = 10_000;

/// Levels of a data line that stands still.
const LEVELS: [u8; 2] = [0x00, 0xFF];

#[derive(Clone, Copy, Debug)]
enum Fault {
    None,
    /// The chips do nothing and hear nothing.
    Silent(u8),
    /// The chips of the thermocouples work and hear everything, but their answers are lost.
    Unheard(u8),
}

/// Chips and a board, and the ticks that have passed.
struct Rig {
    chips: Chips,
    board: Wired,
    now: i32,
}

impl Rig {
    /// A board that has run for some ticks.
    fn running(ticks: u32) -> Self {
        let chips = Chips::new();
        let board = board(&chips, ThermocoupleType::S);
        let mut rig = Self { chips, board, now: 0 };
        for _ in 0..10 + ticks {
            rig.tick(Fault::None);
        }
        rig
    }

    fn tick(&mut self, fault: Fault) -> Inputs {
        self.now += 1;
        let emf_nv = self.now * RISE_NV;
        let terminals = Terminals { emf_nv, cold_mc: 25_000, ..Terminals::default() };
        let (silent, stuck) = match fault {
            Fault::None => (ChipFault::None, None),
            Fault::Silent(level) => (ChipFault::Silent(level), None),
            Fault::Unheard(level) => (ChipFault::None, Some(level)),
        };
        let chips = &self.chips;
        chips.control.chip.borrow_mut().set(terminals, silent);
        chips.limit.chip.borrow_mut().set(terminals, silent);
        chips.gauge.borrow_mut().set(1000.0, silent);
        chips.sensor.borrow_mut().set(1000.0, silent);
        chips.control.stuck.set(stuck);
        chips.limit.stuck.set(stuck);
        chips.tick();
        let inputs = self.board.read();
        self.assert_true(&inputs);
        inputs
    }

    /// Whatever is missing, no reading is wrong, or older than it says.
    fn assert_true(&self, inputs: &Inputs) {
        for sample in [inputs.control, inputs.limit].into_iter().flatten() {
            let converted = (f64::from(sample.emf_nv) / f64::from(RISE_NV)).round() as i32;
            let off_nv = sample.emf_nv - converted * RISE_NV;
            assert!(off_nv.abs() <= 80 && converted > 0, "{}: {sample:?}", self.now);
            // From the start of the conversion, a tick before its end.
            let age_ms = 100 * (self.now - converted + 1);
            assert!(age_ms <= i32::from(sample.age_ms), "{}: {sample:?}", self.now);
            assert!(sample.age_ms <= 500 && !sample.open, "{sample:?}");
            assert_eq!(sample.cold_junction_mc, 25_000);
        }
    }

    /// Missing readings of control, limit, pressure and current, from the first tick of a fault to 2 s after
    /// its last.
    fn missing(&mut self, ticks: u32, fault: Fault) -> [u32; 4] {
        let mut missing = [0; 4];
        for tick in 0..ticks + 20 {
            let inputs = self.tick(if tick < ticks { fault } else { Fault::None });
            missing[0] += u32::from(inputs.control.is_none());
            missing[1] += u32::from(inputs.limit.is_none());
            missing[2] += u32::from(inputs.pressure_pa.is_none());
            missing[3] += u32::from(inputs.heater_current_ma.is_none());
        }
        missing
    }
}

fn each_phase() -> impl Iterator<Item = (u32, u8)> {
    (0..PHASES).flat_map(|phase| LEVELS.map(|level| (phase, level)))
}

#[test]
fn one_missed_answer_costs_one_sample() {
    for (phase, level) in each_phase() {
        let silent = Rig::running(phase).missing(1, Fault::Silent(level));
        assert_eq!(silent, [1, 1, 1, 1], "silent, {phase} {level:02x}");
        let unheard = Rig::running(phase).missing(1, Fault::Unheard(level));
        assert_eq!(unheard, [1, 1, 0, 0], "unheard, {phase} {level:02x}");
    }
}

/// After two missed answers the readings are back at once. After more the chips are set up anew, which takes a
/// tick, and after more than a second the cold junction of the control channel is read first.
#[test]
fn a_silence_costs_little_more_than_it_lasts() {
    let mut most = [[0; 2]; 41];
    for (phase, level) in each_phase() {
        for (ticks, fault) in (2..=40).flat_map(|ticks| {
            [Fault::Silent(level), Fault::Unheard(level)].map(|fault| (ticks, fault))
        }) {
            let [control, limit, ..] = Rig::running(phase).missing(ticks, fault);
            let most = &mut most[ticks as usize];
            *most = [most[0].max(control - ticks), most[1].max(limit - ticks)];
        }
    }
    assert!(most[2] == [0, 0] && most[40] == [2, 1], "{most:?}");
    assert!(most.iter().all(|[control, limit]| *control <= 2 && *limit <= 1), "{most:?}");
}
