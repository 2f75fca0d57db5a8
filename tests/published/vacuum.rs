//! The chamber's pressure against closed forms: `t = V/S · ln((p0 − pu)/(p − pu))` for a pump,
//! a straight rise for a leak.

use saggar_plant::spec::{ChamberSpec, PumpSpec};
use saggar_plant::vacuum::{ChamberGas, VacuumCommand};

const PUMPING: VacuumCommand =
    VacuumCommand { pump: true, isolation_open: true, vent_open: false };
const SHUT: VacuumCommand =
    VacuumCommand { pump: false, isolation_open: false, vent_open: false };

fn vacuum(
    litres: f64,
    litres_per_minute: f64,
    ultimate_pa: f64,
    leak_pa_m3_s: f64,
) -> ChamberGas {
    let chamber = ChamberSpec {
        volume_m3: litres * 1e-3,
        muffle_radius_m: 0.045,
        muffle_height_m: 0.080,
        muffle_kg: 0.2,
        muffle_emissivity: 0.8,
    };
    let pump = PumpSpec {
        speed_m3_s: litres_per_minute * 1e-3 / 60.0,
        ultimate_pa,
        leak_pa_m3_s,
        vent_s: 3.0,
        gauge_noise_pa: 0.0,
    };
    ChamberGas::new(&chamber, Some(&pump))
}

#[test]
fn a_chamber_is_pumped_down_in_the_time_of_the_closed_form() {
    for (litres, litres_per_minute, ultimate, target, seconds) in [
        (1.0, 8.0, 0.0, 5_000.0, 22.566_714),
        (1.0, 8.0, 2_000.0, 5_000.0, 26.248_388),
        (0.8, 12.0, 1_500.0, 3_000.0, 16.791_814),
        (2.0, 8.0, 3_000.0, 5_000.0, 58.426_967),
    ] {
        let mut chamber = vacuum(litres, litres_per_minute, ultimate, 0.0);
        let mut ticks = 0;
        while chamber.step(PUMPING, 0.0, 0.0) > target {
            ticks += 1;
        }
        // The pressure passed the target within the last tick.
        let found = f64::from(ticks) * 0.1;
        assert!(
            found <= seconds && seconds <= found + 0.1,
            "{litres} l at {litres_per_minute} l/min: {seconds} s, found {found} s"
        );
    }
}

#[test]
fn a_leak_raises_a_shut_chamber_evenly() {
    let mut chamber = vacuum(1.5, 8.0, 0.0, 5e-3);
    chamber.set_pressure(0.0);
    for _ in 0..600 {
        chamber.step(SHUT, 0.0, 0.0);
    }
    // 2 hPa in 60 s, less 0.1 %, because the leak decreases as the pressure rises.
    assert!((chamber.pressure_pa() - 200.0).abs() < 0.3, "{}", chamber.pressure_pa());
}

#[test]
fn a_leak_and_vapour_keep_the_pump_above_its_ultimate_pressure() {
    for (leak, vapour) in [(5e-3, 0.0), (0.0, 5e-3)] {
        let mut chamber = vacuum(1.0, 8.0, 2_000.0, leak);
        for _ in 0..3_000 {
            chamber.step(PUMPING, 0.0, vapour);
        }
        // The chamber pressure reduces the leak by two per cent.
        assert!((chamber.pressure_pa() - 2_037.5).abs() < 0.8, "{}", chamber.pressure_pa());
    }
}

#[test]
fn a_vented_chamber_fills_by_its_time_constant() {
    let mut chamber = vacuum(1.0, 8.0, 0.0, 0.0);
    chamber.set_pressure(5_000.0);
    for _ in 0..30 {
        chamber.step(VacuumCommand { vent_open: true, ..SHUT }, 0.0, 0.0);
    }
    let expected = 101_325.0 - 96_325.0 / std::f64::consts::E;
    assert!((chamber.pressure_pa() - expected).abs() < 1e-6);
}

/// A leak through an orifice falls with the pressure behind it: `p0 − (p0 − p) · exp(−L t / (V p0))`
/// for a leak L into a vacuum. A chamber at atmospheric pressure stays there, vented or shut.
#[test]
fn a_broken_seal_leaks_towards_ambient_pressure() {
    let (room_pa, leak) = (101_325.0, 5.0);
    let mut chamber = vacuum(1.0, 8.0, 0.0, 0.0);
    chamber.set_seal_leak(leak);
    for vent_open in [false, true] {
        for _ in 0..600 {
            chamber.step(VacuumCommand { vent_open, ..SHUT }, 0.0, 0.0);
        }
        assert!((chamber.pressure_pa() - room_pa).abs() < 1e-6, "{}", chamber.pressure_pa());
    }
    chamber.set_pressure(5_000.0);
    for _ in 0..300 {
        chamber.step(SHUT, 0.0, 0.0);
    }
    let expected = room_pa - 96_325.0 * f64::exp(-leak * 30.0 / (1e-3 * room_pa));
    assert!((chamber.pressure_pa() - expected).abs() < 1e-6, "{}", chamber.pressure_pa());
}
