//! What a furnace and a piece of work are made of: plain data in SI units, filled by the host
//! tool from TOML files. Temperatures are °C where the field says so, kelvin differences else.

mod furnace;
mod work;

pub use furnace::{
    ChamberSpec, FurnaceSpec, HeaterSpec, InsulationSpec, MainsSpec, PinSpec, PumpSpec,
    SensorSpec, TableSpec,
};
pub use work::{
    BodySpec, COAT_MAX_MM, CoatSpec, Deviation, GlassSpec, PRESSURE_MIN_HPA, STAGE_MAX_MIN,
    UncertainValue, WorkSpec,
};
