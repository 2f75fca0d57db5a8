//! Plain data about a furnace and its work, in SI units, read by the host tool from TOML files.
//! Fields ending in `_c` are in °C; temperature differences are in kelvin.

mod furnace;
mod work;

pub use furnace::{
    ChamberSpec, Closure, FurnaceSpec, HeaterSpec, InputsSpec, InsulationSpec, MainsSpec,
    PinSpec, PumpSpec, SensorSpec, TableSpec,
};
pub use work::{
    BodySpec, COAT_MAX_MM, CoatSpec, Deviation, GlassSpec, PRESSURE_MIN_HPA, Purpose,
    ROUGHNESS_MICROMETRE, STAGE_MAX_MIN, UncertainValue, WorkSpec,
};
