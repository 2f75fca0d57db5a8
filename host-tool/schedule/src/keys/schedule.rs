//! The keys of a schedule: every section, with units, ranges and meanings.

use saggar_core::programme::{AfterCut, FALL_MAX_K, NAME_BYTES_MAX, STEPS_MAX};
use saggar_plant::spec::{
    BodySpec, COAT_MAX_MM, GlassSpec, PRESSURE_MIN_HPA, Purpose, ROUGHNESS_MICROMETRE,
    STAGE_MAX_MIN,
};

use crate::document::Presence::{
    Default, DefaultBoolean, DefaultInteger, DefaultPercentOf, OneOf, Optional, Required,
};
use crate::document::{
    ValueKind, WordChoice, integer, list, number, section, section_of, text, word,
};

/// Longest path of a furnace profile (bytes).
const PATH_BYTES_MAX: usize = 1024;

/// Longest name of a stage, and longest question (bytes).
pub const STAGE_NAME_BYTES_MAX: usize = 32;
const QUESTION_BYTES_MAX: usize = 200;

/// Most stages that are read. A programme may have fewer steps.
const STAGES_MAX: usize = 4 * STEPS_MAX;

/// A temperature of a stage: from ambient to the melting point of platinum.
const CELSIUS: ValueKind = number("°C", 20.0, 1768.0);

/// A time of a stage, from half a second.
const MINUTES: ValueKind = number("min", MINUTES_MIN, STAGE_MAX_MIN);
const MINUTES_MIN: f64 = 0.01;

/// A name of the stages.
const STAGE_NAME: ValueKind = text(STAGE_NAME_BYTES_MAX);

section! {
    /// A schedule.
    Schedule {
        name: String = text(NAME_BYTES_MAX), Required, "name of the programme, in visible characters";
        furnace: String = text(PATH_BYTES_MAX), Optional("`--furnace`"), "path of a [profile](furnace-profiles.md), from the schedule's own folder";
        power_cut_fall_kelvin: u32 = integer("K", 0, 2000), DefaultInteger(FALL_MAX_K as u32), "fall of the reading over a power cut beyond which the device asks twice before it heats again";
        work: Work = section_of::<Work>(), Required, "what is fired";
        stage: Vec<Stage> = list::<Stage>(STAGES_MAX), Required, "what happens, in order; at most 64 steps (a vacuum stage makes no step)";
    }
}

/// Default tolerance of a wall and of a brushed coat (%). Common practice, no
/// source.
pub const WALL_SD_PERCENT: f64 = 10.0;
/// As [`WALL_SD_PERCENT`].
pub const COAT_SD_PERCENT: f64 = 15.0;

/// Default unevenness of a wall (%). To calibrate.
pub const UNEVENNESS_PERCENT: f64 = 5.0;

/// Default recipe of a slurry: water on this much powder (g). To calibrate.
pub const POWDER_GRAM: f64 = 10.0;
/// As [`POWDER_GRAM`].
pub const WATER_GRAM: f64 = 3.0;

/// Default width of the margin that a coat leaves bare (mm). Common practice, no source.
const BARE_RIM_MILLIMETRE: f64 = 2.0;

section! {
    /// `[work]`.
    Work {
        purpose: WorkPurpose = word::<WorkPurpose>(), Optional("as the work suggests"), "what the firing is for";
        infiltrated: bool = ValueKind::Boolean, DefaultBoolean(false), "its pores are full of glass from an earlier fire";
        body: BodyName = word::<BodyName>(), Required, "what the pieces are made of";
        body_values: BodyValues = section_of::<BodyValues>(), Optional("the library's"), "your own values for the body";
        count: u32 = integer("", 1, 20), DefaultInteger(1), "pieces, all alike; they fill two rings of places, the inner one first";
        wall_millimetre: f64 = number("mm", 0.1, 5.0), Required, "mean thickness of the wall";
        wall_tolerance_millimetre: f64 = number("mm", 0.0, 5.0).at_most("wall_millimetre"), DefaultPercentOf(WALL_SD_PERCENT, "wall_millimetre"), "one standard deviation of the mean thickness, from piece to piece";
        wall_unevenness_millimetre: f64 = number("mm", 0.0, 5.0).at_most("wall_millimetre"), DefaultPercentOf(UNEVENNESS_PERCENT, "wall_millimetre"), "one standard deviation of the thickness, from spot to spot within a piece";
        area_square_millimetre: f64 = number("mm²", 1.0, 10_000.0), Required, "of one piece, one side; all pieces together not more than the furnace's table";
        support: Support = word::<Support>(), Optional("`\"pin\"`"), "what carries a piece";
        moisture_percent: f64 = number("%", 0.0, 30.0), Default(0.0), "free water over mass of the body";
        lubricant_percent: f64 = number("%", 0.0, 20.0), Default(0.0), "milling oil over mass of the body";
        roughness_micrometre: f64 = number("µm", 0.0, 500.0), Default(ROUGHNESS_MICROMETRE), "left by blasting; only for infiltrated work";
        coat: Coat = section_of::<Coat>(), Optional("bare"), "the slurry on a piece, or the skin of glass on infiltrated work";
    }
}

section! {
    /// `[work.body_values]`.
    BodyValues {
        solid_kilogram_per_cubic_metre: f64 = number("kg/m³", 1000.0, 10_000.0), LIBRARY, "density without pores";
        porosity_percent: f64 = number("%", 1.0, 70.0), LIBRARY, "pores over volume";
        pore_radius_nanometre: f64 = number("nm", 1.0, 20_000.0), LIBRARY, "effective, fitted";
        pore_radius_tolerance_percent: f64 = number("%", 0.0, 100.0), LIBRARY, "one standard deviation";
        fitted_at_celsius: f64 = number("°C", 500.0, 1768.0), LIBRARY, "temperature of the trial that the pore radius was fitted to";
        radius_viscosity_correlation: f64 = number("", -1.0, 1.0), LIBRARY, "of the errors of radius and viscosity: towards 1 if they were fitted together";
        tortuosity: f64 = number("", 1.0, 10.0), LIBRARY, "length of the path through the pores over depth";
        joule_per_kilogram_kelvin: f64 = number("J/(kg K)", 200.0, 3000.0), LIBRARY, "heat capacity at 1000 K; its change with temperature is the library's";
        watt_per_metre_kelvin: f64 = number("W/(m K)", 0.05, 50.0), LIBRARY, "conductivity";
        emissivity: f64 = number("", 0.05, 1.0), LIBRARY, "of its surface";
        young_gigapascal: f64 = number("GPa", 0.1, 600.0), LIBRARY, "Young's modulus";
        poisson: f64 = number("", 0.0, 0.49), LIBRARY, "Poisson's ratio";
        expansion_per_million_kelvin: f64 = number("µm/(m K)", 0.1, 30.0), LIBRARY, "thermal expansion";
        strength_megapascal: f64 = number("MPa", 0.1, 2000.0), LIBRARY, "strength";
    }
}

section! {
    /// `[work.coat]`.
    Coat {
        glass: GlassName = word::<GlassName>(), Required, "what is in the slurry";
        glass_values: GlassValues = section_of::<GlassValues>(), Optional("the library's"), "your own values for the glass";
        thickness_millimetre: f64 = number("mm", 0.001, COAT_MAX_MM), Required, "wet";
        thickness_tolerance_millimetre: f64 = number("mm", 0.0, COAT_MAX_MM).at_most("thickness_millimetre"), DefaultPercentOf(COAT_SD_PERCENT, "thickness_millimetre"), "one standard deviation";
        bare_rim_millimetre: f64 = number("mm", 0.0, 50.0), Default(BARE_RIM_MILLIMETRE), "width at the margin that the coat leaves bare";
        powder_gram: f64 = number("g", 0.1, 10_000.0), Default(POWDER_GRAM), "glass powder of the slurry's recipe; not for infiltrated work";
        water_gram: f64 = number("g", 0.1, 10_000.0), Default(WATER_GRAM), "water on that powder";
    }
}

section! {
    /// `[work.coat.glass_values]`.
    GlassValues {
        viscosity_a: f64 = number("", -10.0, 5.0), LIBRARY, "log10 of the viscosity, in Pa s, is a + b / (T − t0): a";
        viscosity_b_kelvin: f64 = number("K", 100.0, 20_000.0), LIBRARY, "b";
        viscosity_t0_celsius: f64 = number("°C", -200.0, 800.0), LIBRARY, "t0";
        viscosity_decades_tolerance: f64 = number("", 0.0, 2.0), LIBRARY, "one standard deviation of that log10, for this glass at the temperature of the fit";
        activation_error_percent: f64 = number("%", 0.0, 200.0), LIBRARY, "error limit of the logarithm of the activation energy of the viscosity: 97 is a factor of 2.64 up or down";
        transition_celsius: f64 = number("°C", 100.0, 950.0), LIBRARY, "glass transition";
        slowest_approach_kelvin_per_minute: f64 = number("K/min", 1.0, 1000.0), LIBRARY, "slowest mean rate from the transition to 1000 °C at which it is known to infiltrate";
        millinewton_per_metre: f64 = number("mN/m", 50.0, 1000.0), LIBRARY, "surface tension";
        contact_angle_degree: f64 = number("°", 0.0, 89.0), LIBRARY, "on the body";
        kilogram_per_cubic_metre: f64 = number("kg/m³", 1000.0, 8000.0), LIBRARY, "density";
        expansion_per_million_kelvin: f64 = number("µm/(m K)", 0.1, 30.0), LIBRARY, "thermal expansion below the transition";
        young_gigapascal: f64 = number("GPa", 0.1, 600.0), LIBRARY, "Young's modulus";
        poisson: f64 = number("", 0.0, 0.49), LIBRARY, "Poisson's ratio";
        strength_megapascal: f64 = number("MPa", 0.1, 2000.0), LIBRARY, "strength";
    }
}

/// The default is the library's value.
const LIBRARY: crate::document::Presence = Optional("the library's");

section! {
    /// `[[stage]]`.
    Stage {
        name: String = STAGE_NAME, Optional("none"), "its name, each once";
        ramp: Ramp = section_of::<Ramp>(), OneOf, "the setpoint moves";
        soak: Soak = section_of::<Soak>(), OneOf, "the setpoint stays constant; time counts inside a band";
        vacuum: Vacuum = section_of::<Vacuum>(), OneOf, "the stages after it are fired under vacuum";
        cool: Cool = section_of::<Cool>(), OneOf, "heat off until the chamber has cooled";
        opening: Opening = section_of::<Opening>(), OneOf, "the lift or door moves, heat off";
        hold: Hold = section_of::<Hold>(), OneOf, "the setpoint stays until the operator confirms";
        question: String = text(QUESTION_BYTES_MAX), Optional("none"), "the question of a hold, shown by the host tool; not part of the programme";
        after_power_cut: AfterPowerCut = word::<AfterPowerCut>(), Optional("`\"go on\"`"), "whether a press of start goes on with the firing after a power cut in this stage";
    }
}

section! {
    /// `ramp`.
    Ramp {
        to_celsius: f64 = CELSIUS, Required, "setpoint at its end";
        kelvin_per_minute: f64 = number("K/min", 0.1, 1000.0), OneOf, "how fast";
        minutes: f64 = MINUTES, OneOf, "the time it takes, rounding of the corners not counted";
    }
}

section! {
    /// `soak`.
    Soak {
        minutes: f64 = MINUTES, Required, "time inside the band";
        band_kelvin: f64 = number("K", 0.5, 50.0), Required, "half width of the band";
        patience_minutes: f64 = MINUTES, Default(PATIENCE_MINUTES), "total time outside the band before the firing is abandoned";
    }
}

/// Default time outside the band of a soak (min). Common practice, no source.
const PATIENCE_MINUTES: f64 = 15.0;

section! {
    /// `vacuum`.
    Vacuum {
        from_celsius: f64 = CELSIUS, Required, "reading at which the pump starts";
        to_hectopascal: f64 = number("hPa", PRESSURE_MIN_HPA, 1013.0), Required, "absolute pressure, not below the furnace's own limit";
        within_minutes: f64 = number("min", MINUTES_MIN, 240.0), Required, "time to reach it in";
        until_end_of: String = STAGE_NAME, Required, "name of a later stage";
    }
}

section! {
    /// `cool`.
    Cool {
        below_celsius: f64 = CELSIUS, Required, "reading at its end";
    }
}

section! {
    /// `opening`.
    Opening {
        position: ChamberPosition = word::<ChamberPosition>(), Required, "where the lift or door goes";
        minutes: f64 = number("min", 0.0, STAGE_MAX_MIN), Required, "time to stay open or shut";
    }
}

section! {
    /// `hold`.
    Hold {
        minutes: f64 = MINUTES, Required, "longest wait for an answer";
        then: HoldTimeout = word::<HoldTimeout>(), Required, "what to do without an answer";
    }
}

/// A body of the library, before infiltration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BodyName(pub &'static str);

impl WordChoice for BodyName {
    fn choices() -> Vec<(&'static str, Self)> {
        BodySpec::names().iter().map(|name| (*name, Self(name))).collect()
    }
}

/// A glass of the library.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GlassName(pub &'static str);

impl WordChoice for GlassName {
    fn choices() -> Vec<(&'static str, Self)> {
        GlassSpec::names().iter().map(|name| (*name, Self(name))).collect()
    }
}

/// What a firing is for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WorkPurpose(pub Purpose);

impl WordChoice for WorkPurpose {
    fn choices() -> Vec<(&'static str, Self)> {
        vec![
            ("clean", Self(Purpose::Clean)),
            ("infiltrate", Self(Purpose::Infiltrate)),
            ("melt-back", Self(Purpose::MeltBack)),
        ]
    }
}

/// The support of a piece. The simulation has only one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Support {
    /// The pin of the furnace.
    Pin,
}

impl WordChoice for Support {
    fn choices() -> Vec<(&'static str, Self)> {
        vec![("pin", Self::Pin)]
    }
}

/// Target position of the lift or door.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChamberPosition {
    /// It is open then.
    pub open: bool,
}

impl WordChoice for ChamberPosition {
    fn choices() -> Vec<(&'static str, Self)> {
        vec![("open", Self { open: true }), ("shut", Self { open: false })]
    }
}

/// Whether a firing may go on after a power cut in a stage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AfterPowerCut(pub AfterCut);

impl WordChoice for AfterPowerCut {
    fn choices() -> Vec<(&'static str, Self)> {
        vec![("go on", Self(AfterCut::GoOn)), ("end", Self(AfterCut::End))]
    }
}

/// What a hold does when its time is over without an answer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoldTimeout {
    /// Continue the firing; otherwise end it.
    pub go_on: bool,
}

impl WordChoice for HoldTimeout {
    fn choices() -> Vec<(&'static str, Self)> {
        vec![("continue", Self { go_on: true }), ("end", Self { go_on: false })]
    }
}
