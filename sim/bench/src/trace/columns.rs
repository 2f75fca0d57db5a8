//! The columns of a trace file.

use saggar_core::io::ThermocoupleSample;
use saggar_plant::plant::ModelState;

use super::Row;

/// A column of a trace: its name in files, which ends in the unit, and its value.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// Name in files.
    pub name: &'static str,
    /// The value in that unit; `None` where the row has no value for it.
    pub value: fn(&Row) -> Option<f64>,
    /// The column is an input of the controller.
    pub is_input: bool,
}

const fn column(name: &'static str, value: fn(&Row) -> Option<f64>) -> Column {
    Column { name, value, is_input: false }
}

const fn input(name: &'static str, value: fn(&Row) -> Option<f64>) -> Column {
    Column { name, value, is_input: true }
}

/// All columns in file order. Add new ones at the end: users refer to columns by number.
/// On or closed is 1, off or open is 0.
pub const COLUMNS: [Column; 31] = [
    column("time_second", |r| Some(r.at_s)),
    column("step", |r| r.measured.step.map(|step| f64::from(step) + 1.0)),
    column("setpoint_celsius", |r| r.measured.setpoint_c),
    column("sensor_celsius", |r| r.measured.sensor_c),
    column("piece_celsius", |r| modelled(r, |m| m.piece_c)),
    column("piece_spread_kelvin", |r| modelled(r, |m| m.piece_spread_k)),
    column("muffle_celsius", |r| modelled(r, |m| m.muffle_c)),
    column("element_celsius", |r| modelled(r, |m| m.element_c)),
    column("duty_percent", |r| Some(r.measured.duty * 100.0)),
    column("pressure_hectopascal", |r| modelled(r, |m| m.pressure_pa / 100.0)),
    column("glass_depth_millimetre", |r| modelled(r, |m| m.depth_m * 1000.0)),
    column("water_left_percent", |r| modelled(r, |m| m.water_left * 100.0)),
    column("lubricant_left_percent", |r| modelled(r, |m| m.lubricant_left * 100.0)),
    column("opening_percent", |r| modelled(r, |m| m.opening * 100.0)),
    column("tick", |r| Some(r.measured.tick as f64)),
    input("limit_celsius", |r| r.measured.limit_c),
    input("control_terminals_celsius", |r| terminals(r.measured.inputs.control)),
    input("limit_terminals_celsius", |r| terminals(r.measured.inputs.limit)),
    input("gauge_hectopascal", |r| {
        r.measured.inputs.pressure_pa.map(|pa| f64::from(pa) / 100.0)
    }),
    input("heater_current_milliampere", |r| r.measured.inputs.heater_current_ma.map(f64::from)),
    input("contactor_closed", |r| on(r.measured.inputs.contactor_closed)),
    input("closure_shut", |r| on(r.measured.inputs.closure.shut)),
    input("closure_open", |r| on(r.measured.inputs.closure.open)),
    column("contactor", |r| on(r.measured.outputs.contactor)),
    column("pump", |r| on(r.measured.outputs.pump)),
    column("isolation_valve", |r| on(r.measured.outputs.isolation_valve)),
    column("vent_valve", |r| on(r.measured.outputs.vent_valve)),
    column("open_closure", |r| on(r.measured.outputs.open_closure)),
    column("lamp", |r| on(r.measured.outputs.lamp)),
    column("buzzer", |r| on(r.measured.outputs.buzzer)),
    column("outer_piece_celsius", |r| r.modelled.and_then(|m| m.outer_piece_c)),
];

fn modelled(row: &Row, value: fn(&ModelState) -> f64) -> Option<f64> {
    row.modelled.as_ref().map(value)
}

/// Temperature of a thermocouple's terminals (°C).
fn terminals(sample: Option<ThermocoupleSample>) -> Option<f64> {
    sample.map(|sample| f64::from(sample.cold_junction_mc) / 1000.0)
}

fn on(is: bool) -> Option<f64> {
    Some(f64::from(u8::from(is)))
}
