//! One furnace: geometry, masses, materials, instruments.

pub use saggar_core::furnace::Closure;
use saggar_core::sensors::ThermocoupleType;

/// A furnace as the simulation sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct FurnaceSpec {
    /// The muffle and the space inside it.
    pub chamber: ChamberSpec,
    /// The board or fibre around the element.
    pub insulation: InsulationSpec,
    /// The heating element.
    pub heater: HeaterSpec,
    /// The refractory table that carries the work.
    pub table: TableSpec,
    /// The pin between table and piece.
    pub pin: PinSpec,
    /// The thermocouple that the control follows.
    pub control_sensor: SensorSpec,
    /// The second, independent thermocouple.
    pub limit_sensor: SensorSpec,
    /// The pump and the tightness of the chamber; `None` for a furnace without vacuum.
    pub pump: Option<PumpSpec>,
    /// The supply.
    pub mains: MainsSpec,
    /// The optional inputs of its controller.
    pub inputs: InputsSpec,
    /// Ambient temperature (°C).
    pub ambient_c: f64,
    /// What closes the chamber: it decides what an open one lets out.
    pub closure: Closure,
    /// Travel time of the lift or door from shut to open (s).
    pub closure_travel_s: f64,
}

/// The muffle: a closed cylinder that the element surrounds.
#[derive(Clone, Debug, PartialEq)]
pub struct ChamberSpec {
    /// Free volume (m³).
    pub volume_m3: f64,
    /// Inner radius of the muffle (m).
    pub muffle_radius_m: f64,
    /// Inner height of the muffle (m).
    pub muffle_height_m: f64,
    /// Mass of the muffle (kg).
    pub muffle_kg: f64,
    /// Emissivity of the muffle, inside and outside.
    pub muffle_emissivity: f64,
}

/// Insulation between element and case, cut into six layers by the simulation. Conductivity is
/// `k_solid + k_radiative · T³` with `T` in kelvin.
#[derive(Clone, Debug, PartialEq)]
pub struct InsulationSpec {
    /// Thickness (m).
    pub thickness_m: f64,
    /// Area of the hot face (m²).
    pub hot_area_m2: f64,
    /// Area of the cold face (m²).
    pub cold_area_m2: f64,
    /// Density (kg/m³).
    pub density_kg_m3: f64,
    /// Specific heat (J/(kg K)).
    pub heat_capacity_j_kg_k: f64,
    /// Conductivity without radiation (W/(m K)), in air at atmospheric pressure.
    pub k_solid_w_m_k: f64,
    /// Radiative conductivity (W/(m K⁴)).
    pub k_radiative_w_m_k4: f64,
    /// Part of `k_solid_w_m_k` that the gas in the pores carries at atmospheric pressure, 0 to 1.
    pub gas_share: f64,
    /// Size of the pores (m), which decides at which pressure the gas stops conducting.
    pub pore_m: f64,
    /// Free convection from the case to ambient (W/(m² K)).
    pub case_w_m2_k: f64,
    /// Emissivity of the case.
    pub case_emissivity: f64,
}

/// The heating element.
#[derive(Clone, Debug, PartialEq)]
pub struct HeaterSpec {
    /// Power at nominal mains (W).
    pub rated_w: f64,
    /// Mass (kg).
    pub element_kg: f64,
    /// Specific heat (J/(kg K)).
    pub heat_capacity_j_kg_k: f64,
    /// Envelope of the coils (m²), as far as it radiates: the turns shade each other, so it is smaller than
    /// the surface of the wire.
    pub area_m2: f64,
    /// Emissivity.
    pub emissivity: f64,
}

/// The refractory table on the lift or on the floor.
#[derive(Clone, Debug, PartialEq)]
pub struct TableSpec {
    /// Mass that follows a firing (kg).
    pub kg: f64,
    /// Specific heat (J/(kg K)).
    pub heat_capacity_j_kg_k: f64,
    /// Radius (m).
    pub radius_m: f64,
    /// Emissivity.
    pub emissivity: f64,
    /// Loss through its foot to ambient (W/K).
    pub foot_w_k: f64,
}

/// The pin that carries the piece.
#[derive(Clone, Debug, PartialEq)]
pub struct PinSpec {
    /// Diameter (m).
    pub diameter_m: f64,
    /// Length (m).
    pub length_m: f64,
    /// Conductivity (W/(m K)).
    pub k_w_m_k: f64,
    /// Density times specific heat (J/(m³ K)).
    pub heat_capacity_j_m3_k: f64,
}

/// A thermocouple with its front end.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorSpec {
    /// Type by IEC 60584.
    pub kind: ThermocoupleType,
    /// Share of the sensor's view that falls on the element instead of the muffle, 0 to 1.
    pub element_view: f64,
    /// Time constant of bead and sheath at 1000 °C in the chamber (s).
    pub lag_s: f64,
    /// Standard deviation of the noise (µV).
    pub noise_uv: f64,
    /// One step of the converter (µV).
    pub step_uv: f64,
    /// Error of the sensor (K), constant over a firing: calibration or age.
    pub offset_k: f64,
    /// Class tolerance at 1120 °C (K), for the uncertainty of the verdict.
    pub tolerance_k: f64,
}

/// Pump, valves, and the leak of the chamber.
#[derive(Clone, Debug, PartialEq)]
pub struct PumpSpec {
    /// Pumping speed (m³/s).
    pub speed_m3_s: f64,
    /// Ultimate pressure (Pa).
    pub ultimate_pa: f64,
    /// Leak into the chamber (Pa m³/s).
    pub leak_pa_m3_s: f64,
    /// Time constant of the vent valve (s).
    pub vent_s: f64,
    /// Standard deviation of the gauge (Pa).
    pub gauge_noise_pa: f64,
}

/// Which of the optional inputs the controller has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct InputsSpec {
    /// A sensor measures the heater's current.
    pub heater_current: bool,
    /// The contactor has an auxiliary contact.
    pub auxiliary_contact: bool,
    /// The zero crossings of the mains are counted.
    pub mains_crossings: bool,
}

impl InputsSpec {
    /// All of them.
    pub const ALL: Self =
        Self { heater_current: true, auxiliary_contact: true, mains_crossings: true };
}

/// The supply.
#[derive(Clone, Debug, PartialEq)]
pub struct MainsSpec {
    /// Nominal voltage (V rms).
    pub nominal_v: f64,
    /// Voltage of this run (V rms).
    pub actual_v: f64,
    /// Frequency: 50 or 60 Hz.
    pub hz: u8,
}
