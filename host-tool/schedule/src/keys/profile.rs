//! The keys of a furnace profile: every section, with units, ranges and meanings.
//!
//! The letters tell who uses a value: the simulation (S), the controller (C), or only the checks (K).

use saggar_core::furnace::{Closure, TABLE_POINTS_MAX};
use saggar_core::programme::NAME_BYTES_MAX;
use saggar_core::sensors::ThermocoupleType;

use crate::document::Presence::{
    Default, DefaultBoolean, DefaultInteger, Optional, Required, RequiredWith,
};
use crate::document::{
    ValueKind, WordChoice, integer, list, number, section, section_of, text, word,
};

/// Smallest chamber (L).
pub const VOLUME_MIN_LITRE: f64 = 0.05;

section! {
    /// A furnace profile.
    Profile {
        name: String = text(NAME_BYTES_MAX), Required, "what the furnace is called";
        closure: Closure = word::<Closure>(), Required, "what closes the chamber; a door cannot have a pump", "C";
        closure_travel_second: f64 = number("s", 0.1, 120.0), Required, "time of the lift or door from end to end", "S";
        room_celsius: f64 = number("°C", 5.0, 45.0), Default(23.0), "ambient temperature", "S";
        chamber: Chamber = section_of::<Chamber>(), Required, "the chamber and the muffle in it";
        insulation: Insulation = section_of::<Insulation>(), Required, "around the muffle";
        table: Table = section_of::<Table>(), Required, "what the work stands on";
        pin: Pin = section_of::<Pin>(), Required, "what carries a piece";
        mains: Mains = section_of::<Mains>(), Required, "the mains supply";
        heater: Heater = section_of::<Heater>(), Required, "the heating element";
        control_sensor: Sensor = section_of::<Sensor>(), Required, "the thermocouple that the control follows";
        limit_sensor: Sensor = section_of::<Sensor>(), Required, "the second thermocouple, of the limit channel; it is not the cut-out that is required";
        inputs: OptionalInputs = section_of::<OptionalInputs>(), Optional("all of them are wired"), "inputs that a retrofit may lack";
        vacuum: Vacuum = section_of::<Vacuum>(), Optional("no pump"), "the pump, the vent and the gauge";
        limits: Limits = section_of::<Limits>(), Required, "limits of the controller";
        gains: Vec<Gain> = list::<Gain>(TABLE_POINTS_MAX), Required, "gains of the control over temperature";
        feed_forward: Vec<FeedForward> = list::<FeedForward>(TABLE_POINTS_MAX), Required, "the power that holds or changes a temperature";
    }
}

section! {
    /// `[chamber]`.
    Chamber {
        volume_litre: f64 = number("L", VOLUME_MIN_LITRE, 50.0), Required, "what the pump empties; at most twice the muffle", "S";
        muffle_radius_millimetre: f64 = number("mm", 10.0, 300.0), Required, "inner radius of the muffle", "S";
        muffle_height_millimetre: f64 = number("mm", 10.0, 600.0), Required, "inner height of the muffle", "S";
        muffle_gram: f64 = number("g", 5.0, 50_000.0), Required, "mass of the muffle", "S";
        muffle_emissivity: f64 = number("", 0.05, 1.0), Required, "of its face to the work", "S";
    }
}

section! {
    /// `[insulation]`.
    Insulation {
        rated_celsius: f64 = number("°C", 600.0, 2000.0), Required, "highest continuous temperature of the hot face", "K";
        thickness_millimetre: f64 = number("mm", 5.0, 300.0), Required, "from the hot face to the cold one", "S";
        hot_area_square_centimetre: f64 = number("cm²", 20.0, 20_000.0), Required, "face to the muffle", "S";
        cold_area_square_centimetre: f64 = number("cm²", 20.0, 50_000.0), Required, "face to the case, not below the hot one", "S";
        kilogram_per_cubic_metre: f64 = number("kg/m³", 50.0, 3000.0), Required, "density", "S";
        joule_per_kilogram_kelvin: f64 = number("J/(kg K)", 300.0, 2000.0), Required, "heat capacity", "S";
        watt_per_metre_kelvin: f64 = number("W/(m K)", 0.01, 5.0), Required, "conductivity without radiation, in air", "S";
        radiative_watt_per_metre_kelvin_at_1000_celsius: f64 = number("W/(m K)", 0.0, 5.0), Required, "what radiation adds at 1000 °C", "S";
        gas_share_percent: f64 = number("%", 0.0, 100.0), Required, "part of the conductivity without radiation that pore gas carries", "S";
        pore_micrometre: f64 = number("µm", 0.01, 2000.0), Required, "size of its pores", "S";
        case_watt_per_square_metre_kelvin: f64 = number("W/(m² K)", 1.0, 100.0), Required, "free convection from the case to the ambient air", "S";
        case_emissivity: f64 = number("", 0.05, 1.0), Default(0.9), "of the case; 0.9 is painted steel", "S";
    }
}

section! {
    /// `[heater]`.
    Heater {
        rated_watt: f64 = number("W", 50.0, 20_000.0), Required, "power at nominal mains", "S, C";
        conducting_milliampere: u32 = integer("mA", 10, 50_000), DefaultInteger(200), "current that counts as conducting, at most half of the heater's own", "C";
        current_milliampere: u32 = integer("mA", 20, 200_000), Optional("rated_watt / nominal_volt"), "at full conduction and nominal mains, rms", "C";
        element_gram: f64 = number("g", 1.0, 20_000.0), Required, "mass of the element", "S";
        joule_per_kilogram_kelvin: f64 = number("J/(kg K)", 100.0, 2000.0), Required, "its heat capacity", "S";
        area_square_centimetre: f64 = number("cm²", 1.0, 10_000.0), Required, "the envelope of its coils as far as it radiates, smaller than the wire's surface", "S";
        emissivity: f64 = number("", 0.05, 1.0), Required, "of that surface", "S";
    }
}

section! {
    /// `[inputs]`.
    OptionalInputs {
        heater_current: bool = ValueKind::Boolean, DefaultBoolean(true), "a sensor measures the heater's current", "S, C";
        auxiliary_contact: bool = ValueKind::Boolean, DefaultBoolean(true), "the contactor has an auxiliary contact", "S, C";
        mains_crossings: bool = ValueKind::Boolean, DefaultBoolean(true), "the zero crossings of the mains are counted", "S, C";
    }
}

section! {
    /// `[mains]`.
    Mains {
        nominal_volt: f64 = number("V", 24.0, 480.0), Required, "voltage at which the heater is rated", "S";
        actual_volt: f64 = number("V", 12.0, 600.0), Optional("nominal"), "actual supply voltage", "S";
        hertz: u32 = integer("Hz", 50, 60), DefaultInteger(50), "frequency, 50 or 60", "S, C";
    }
}

section! {
    /// `[table]`.
    Table {
        gram: f64 = number("g", 1.0, 20_000.0), Required, "mass, as far as it follows a ramp", "S";
        joule_per_kilogram_kelvin: f64 = number("J/(kg K)", 300.0, 2000.0), Required, "heat capacity", "S";
        radius_millimetre: f64 = number("mm", 5.0, 300.0), Required, "the pieces of a schedule must fit on it, by area", "S, K";
        emissivity: f64 = number("", 0.05, 1.0), Required, "of its top", "S";
        foot_watt_per_kelvin: f64 = number("W/K", 0.0, 5.0), Required, "through its foot to the ambient air", "S";
    }
}

section! {
    /// `[pin]`.
    Pin {
        diameter_millimetre: f64 = number("mm", 0.2, 20.0), Required, "its thickness", "S";
        length_millimetre: f64 = number("mm", 1.0, 100.0), Required, "from the table to the piece", "S";
        watt_per_metre_kelvin: f64 = number("W/(m K)", 0.5, 500.0), Required, "conductivity", "S";
        joule_per_cubic_centimetre_kelvin: f64 = number("J/(cm³ K)", 0.5, 10.0), Required, "heat capacity by volume", "S";
    }
}

section! {
    /// `[control_sensor]` and `[limit_sensor]`.
    Sensor {
        r#type: ThermocoupleType = word::<ThermocoupleType>(), Required, "letter of the standard; the control sensor not B, which is blind below 250 °C", "S, C";
        element_view_percent: f64 = number("%", 0.0, 100.0), Required, "share of the tip that sees the element", "S";
        lag_second: f64 = number("s", 0.1, 120.0), Required, "time constant at 1000 °C", "S";
        noise_microvolt: f64 = number("µV", 0.0, 100.0), Required, "standard deviation", "S";
        step_microvolt: f64 = number("µV", 0.0, 100.0), Required, "of the converter", "S";
        offset_kelvin: f64 = number("K", -50.0, 50.0), Default(0.0), "systematic error of this sensor", "S";
        correction_kelvin: f64 = number("K", -50.0, 50.0), Default(0.0), "what the controller adds to every reading", "C";
        tolerance_kelvin: f64 = number("K", 0.1, 30.0), Required, "of its class at the soak; part of the uncertainty", "S";
    }
}

section! {
    /// `[vacuum]`.
    Vacuum {
        litre_per_minute: f64 = number("L/min", 0.5, 500.0), Required, "speed of the pump", "S";
        ultimate_hectopascal: f64 = number("hPa", 0.01, 500.0), Required, "lowest pressure that it reaches", "S";
        lowest_hectopascal: f64 = number("hPa", 0.1, 900.0), Required, "lowest pressure that a programme may ask for, above the ultimate", "C";
        leak_hectopascal_per_minute: f64 = number("hPa/min", 0.0, 100.0), Required, "rise in the shut chamber", "S";
        vent_second: f64 = number("s", 0.1, 120.0), Required, "time constant of the vent", "S";
        gauge_noise_hectopascal: f64 = number("hPa", 0.0, 20.0), Required, "of the gauge, standard deviation", "S";
    }
}

section! {
    /// `[limits]`.
    Limits {
        furnace_max_celsius: f64 = number("°C", 200.0, 1750.0), Required, "a channel that reads this trips; not above the insulation's rating", "C";
        programme_max_celsius: f64 = number("°C", 100.0, 1700.0), Required, "highest setpoint; with the overshoot not above the former", "C";
        overshoot_max_kelvin: f64 = number("K", 1.0, 100.0), Required, "above a programme's highest setpoint", "C";
        ramp_max_kelvin_per_minute: f64 = number("K/min", 0.5, 500.0), Required, "fastest ramp, up or down", "C";
        slew_max_kelvin_per_second: f64 = number("K/s", 0.5, 200.0), Required, "a faster change is a sensor fault; at least twice the fastest ramp", "C";
        disagree_max_kelvin: f64 = number("K", 2.0, 150.0), Required, "between the two channels", "C";
        settled_difference_max_kelvin: f64 = number("K", 2.0, 100.0), Default(20.0), "between the channels in a settled soak, beyond the expected difference", "C";
        start_below_celsius: f64 = number("°C", 40.0, 1300.0), Default(150.0), "a firing that begins with heat may start", "C";
        open_below_celsius: f64 = number("°C", 40.0, 1300.0), Required, "the chamber may be opened", "C";
        vent_below_celsius: f64 = number("°C", 40.0, 1300.0), RequiredWith("vacuum", "that of opening"), "air may come in", "C";
        firing_max_hour: f64 = number("h", 0.1, 168.0), Required, "longest firing", "C";
    }
}

section! {
    /// `[[gains]]`.
    Gain {
        at_celsius: f64 = number("°C", 0.0, 1800.0), Required, "temperature of the point", "C";
        proportional_percent_per_kelvin: f64 = number("%/K", 0.001, 100.0), Required, "duty for a deviation", "C";
        integral_percent_per_kelvin_second: f64 = number("%/(K s)", 0.0, 10.0), Required, "duty for a deviation that lasts", "C";
        derivative_percent_second_per_kelvin: f64 = number("% s/K", 0.0, 5000.0), Default(0.0), "duty against a rate of change", "C";
    }
}

section! {
    /// `[[feed_forward]]`.
    FeedForward {
        at_celsius: f64 = number("°C", 0.0, 1800.0), Required, "temperature of the point", "C";
        hold_watt: f64 = number("W", 0.0, 20_000.0), Required, "power to hold it; not above the heater's", "C";
        joule_per_kelvin: f64 = number("J/K", 0.0, 100_000.0), Required, "energy to change it by a kelvin", "C";
        limit_above_control_kelvin: f64 = number("K", -100.0, 100.0), Required, "limit sensor above control sensor while the heater gives `hold_watt`", "C";
    }
}

impl WordChoice for Closure {
    fn choices() -> Vec<(&'static str, Self)> {
        vec![("lift", Self::Lift), ("door", Self::Door)]
    }
}

impl WordChoice for ThermocoupleType {
    fn choices() -> Vec<(&'static str, Self)> {
        vec![("S", Self::S), ("R", Self::R), ("B", Self::B), ("K", Self::K), ("N", Self::N)]
    }
}
