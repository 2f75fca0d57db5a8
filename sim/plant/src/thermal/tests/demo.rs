//! Two furnaces for the tests of the chamber. Their figures are invented.

use saggar_core::sensors::ThermocoupleType;

use crate::heat_curve::HeatCurve;
use crate::spec::{
    ChamberSpec, Closure, FurnaceSpec, HeaterSpec, InputsSpec, InsulationSpec, MainsSpec,
    PinSpec, PumpSpec, SensorSpec, TableSpec,
};
use crate::thermal::PieceThermal;

fn sensor(kind: ThermocoupleType, element_view: f64, lag_s: f64) -> SensorSpec {
    SensorSpec {
        kind,
        element_view,
        lag_s,
        noise_uv: 0.5,
        step_uv: 1.0,
        offset_k: 0.0,
        tolerance_k: 1.5,
    }
}

/// 1.2 kW, half a litre, a lift, a pump: up to 1,180 °C.
pub(crate) fn small_lift_furnace() -> FurnaceSpec {
    FurnaceSpec {
        chamber: ChamberSpec {
            volume_m3: 0.5e-3,
            muffle_radius_m: 0.043,
            muffle_height_m: 0.086,
            muffle_kg: 0.17,
            muffle_emissivity: 0.75,
        },
        insulation: InsulationSpec {
            thickness_m: 0.045,
            hot_area_m2: 0.050,
            cold_area_m2: 0.170,
            density_kg_m3: 190.0,
            heat_capacity_j_kg_k: 1_050.0,
            k_solid_w_m_k: 0.08,
            k_radiative_w_m_k4: 1.2e-10,
            gas_share: 0.5,
            pore_m: 20e-6,
            case_w_m2_k: 7.0,
            case_emissivity: 0.9,
        },
        heater: HeaterSpec {
            rated_w: 1_200.0,
            element_kg: 0.08,
            heat_capacity_j_kg_k: 650.0,
            area_m2: 0.014,
            emissivity: 0.75,
        },
        table: TableSpec {
            kg: 0.08,
            heat_capacity_j_kg_k: 1_050.0,
            radius_m: 0.038,
            emissivity: 0.6,
            foot_w_k: 0.04,
        },
        pin: PinSpec {
            diameter_m: 0.0025,
            length_m: 0.015,
            k_w_m_k: 8.0,
            heat_capacity_j_m3_k: 4.0e6,
        },
        control_sensor: sensor(ThermocoupleType::S, 0.15, 2.5),
        limit_sensor: sensor(ThermocoupleType::S, 0.30, 4.0),
        pump: Some(PumpSpec {
            speed_m3_s: 8e-3 / 60.0,
            ultimate_pa: 2_000.0,
            leak_pa_m3_s: 2e-3,
            vent_s: 3.0,
            gauge_noise_pa: 20.0,
        }),
        mains: MainsSpec { nominal_v: 230.0, actual_v: 230.0, hz: 50 },
        inputs: InputsSpec::ALL,
        ambient_c: 22.0,
        closure: Closure::Lift,
        closure_travel_s: 20.0,
    }
}

/// 2 kW, three litres, a door, no pump: up to 1,150 °C, slowly.
pub(crate) fn door_furnace() -> FurnaceSpec {
    let small = small_lift_furnace();
    FurnaceSpec {
        chamber: ChamberSpec {
            volume_m3: 3e-3,
            muffle_radius_m: 0.070,
            muffle_height_m: 0.195,
            muffle_kg: 1.1,
            muffle_emissivity: 0.8,
        },
        insulation: InsulationSpec {
            thickness_m: 0.075,
            hot_area_m2: 0.13,
            cold_area_m2: 0.40,
            density_kg_m3: 190.0,
            gas_share: 0.5,
            case_w_m2_k: 7.0,
            ..small.insulation
        },
        heater: HeaterSpec {
            rated_w: 2_000.0,
            element_kg: 0.25,
            heat_capacity_j_kg_k: 650.0,
            area_m2: 0.045,
            emissivity: 0.75,
        },
        table: TableSpec { kg: 0.25, radius_m: 0.06, foot_w_k: 0.06, ..small.table },
        control_sensor: sensor(ThermocoupleType::K, 0.10, 8.0),
        limit_sensor: sensor(ThermocoupleType::K, 0.25, 8.0),
        pump: None,
        mains: small.mains,
        inputs: InputsSpec::ALL,
        pin: small.pin,
        ambient_c: 22.0,
        closure: Closure::Door,
        closure_travel_s: 2.0,
    }
}

/// Two copings of porous alumina.
pub(crate) fn copings() -> PieceThermal {
    PieceThermal {
        count: 2,
        wall_m: 0.6e-3,
        area_m2: 2.2e-4,
        heat_capacity_j_m3_k: HeatCurve::ALUMINA.times(3_900.0 * 0.7),
        k_w_m_k: 2.5,
        emissivity: 0.4,
        coat_j_k: 0.0,
    }
}
