//! The watches on gauge and pump by themselves, to the pascal.

use saggar_core::furnace::DRY_FROM_C;
use saggar_core::interlock::{Interlock, InterlockInputs};
use saggar_core::sequencer::Demand;
use saggar_core::{Cause, Inputs, Outputs};

use super::alone::both;
use crate::support::{ATMOSPHERE_PA, PROVEN_DEMAND, furnace, proven_inputs};

/// The pressure to reach (Pa).
const TO_PA: u32 = 5_000;

/// What trips within this time (s) in a chamber at this temperature (°C), by its pressure (Pa) and whether it
/// is pumped, in each second.
fn trips(celsius: f32, seconds: u32, of: impl Fn(u32) -> (u32, bool)) -> Option<Cause> {
    let (furnace, estimate) = (furnace(), both(celsius));
    let proven = proven_inputs(&estimate, 900.0);
    let mut interlock = Interlock::default();
    for tick in 1..=seconds * 10 {
        let (pa, pumped) = of(tick / 10);
        let applied = &Outputs { pump: pumped, isolation_valve: pumped, ..*proven.applied };
        let demand = &Demand { vacuum_pa: Some(TO_PA), ..PROVEN_DEMAND };
        let raw = &Inputs { pressure_pa: Some(pa), ..*proven.raw };
        let now = InterlockInputs { raw, demand, applied, ..proven };
        let _ = interlock.evaluate(&furnace, &now);
    }
    interlock.trip()
}

/// A pressure that falls once, after 10 s of pumping.
fn falls(from_pa: u32, to_pa: u32) -> impl Fn(u32) -> (u32, bool) {
    move |second| (if second < 10 { from_pa } else { to_pa }, true)
}

/// From air it must fall by more than a tenth in 20 s, also in a cool chamber.
#[test]
fn a_pump_must_draw_a_tenth_from_air() {
    let last_pa = ATMOSPHERE_PA - ATMOSPHERE_PA / 10;
    let late = Some(Cause::VacuumLate);
    assert_eq!(trips(100.0, 25, falls(ATMOSPHERE_PA, last_pa)), late);
    assert_eq!(trips(100.0, 25, falls(ATMOSPHERE_PA, last_pa - 1)), None);
    // What is not air is judged in a hot chamber only: a load gives off vapour.
    assert_eq!(trips(100.0, 100, falls(69_000, 68_999)), None);
}

/// In a hot chamber it must fall by more than a twentieth, until the pressure is there.
#[test]
fn a_pump_must_go_on_drawing_in_a_hot_chamber() {
    let late = Some(Cause::VacuumLate);
    assert_eq!(trips(880.0, 25, falls(8_000, 7_600)), late);
    assert_eq!(trips(880.0, 25, falls(8_000, 7_599)), None);
    assert_eq!(trips(880.0, 60, falls(TO_PA + 1, TO_PA + 1)), late);
    assert_eq!(trips(880.0, 60, falls(TO_PA, TO_PA)), None);
    // A chamber is hot where no load gives off vapour any more.
    assert_eq!(trips(DRY_FROM_C, 60, falls(8_000, 8_000)), late);
    assert_eq!(trips(DRY_FROM_C.next_down(), 60, falls(8_000, 8_000)), None);
}

/// An open vent must raise the pressure by 20 hPa in a minute.
#[test]
fn a_vent_must_let_air_in() {
    let found = |rise_pa: u32| {
        let (furnace, estimate) = (furnace(), both(100.0));
        let proven = proven_inputs(&estimate, 900.0);
        let applied = &Outputs { vent_valve: true, ..*proven.applied };
        let mut interlock = Interlock::default();
        for tick in 1..=620 {
            let pa = 10_000 + if tick < 300 { 0 } else { rise_pa };
            let raw = &Inputs { pressure_pa: Some(pa), ..*proven.raw };
            let _ = interlock.evaluate(&furnace, &InterlockInputs { raw, applied, ..proven });
        }
        interlock.trip()
    };
    assert_eq!(found(2_000), None);
    assert_eq!(found(1_999), Some(Cause::GaugeImplausible));
}

/// Each opening of the valve is a pump-down of its own, with a first window from air.
#[test]
fn a_second_pump_down_is_judged_from_air_as_well() {
    let found = |second_pa: u32| {
        trips(100.0, 70, |second| match second {
            0..10 => (ATMOSPHERE_PA, true),
            10..25 => (80_000, true),
            25..40 => (ATMOSPHERE_PA, false),
            40..50 => (ATMOSPHERE_PA, true),
            50.. => (second_pa, true),
        })
    };
    assert_eq!(found(80_000), None);
    assert_eq!(found(ATMOSPHERE_PA - 1), Some(Cause::VacuumLate));
}

/// No pump takes more than three quarters of the pressure in a second.
#[test]
fn a_fall_to_less_than_a_quarter_is_not_believed() {
    let falls = |to_pa: u32| move |second| (if second < 3 { 80_000 } else { to_pa }, false);
    assert_eq!(trips(880.0, 10, falls(20_000)), None);
    assert_eq!(trips(880.0, 10, falls(19_999)), Some(Cause::GaugeImplausible));
}
