//! Checks the tables of the controller against the masses, the insulation and the heater of the same
//! profile. A wrong table makes the control push the furnace far above its setpoint, so a figure that the
//! rest of the profile contradicts is refused. The factors are wide: they catch a slip of the decimal
//! point or a wrong unit, not an error of measurement.

use saggar_core::furnace::{FEED_MAX, FeedForward, Gains, Limits};
use saggar_plant::constants::KELVIN;
use saggar_plant::spec::{ChamberSpec, InsulationSpec, SensorSpec, TableSpec};

use super::power::{HeaterParts, MUFFLE_J_KG_K};
use crate::document::KeyDiagnostics;
use saggar_verdict::format::{lower_limit, upper_limit};

/// Factor by which a table may differ from what the rest of the profile gives.
const FACTOR: f64 = 3.0;

/// Part of the insulation's heat capacity that can follow the hot face: half of it in a steady, linear
/// profile of temperature, less on a ramp.
const INSULATION_SHARE: f64 = 0.5;

/// Power that a holding power may differ by in addition, of the rated one: near the ambient temperature
/// any loss is small.
const HOLD_MARGIN: f64 = 0.05;

/// Rate at which an element at rated power may heat itself (K/s), if nothing cooled it.
const ELEMENT_K_PER_S: std::ops::RangeInclusive<f64> = 1.0..=300.0;

/// Highest temperature of an element that radiates its rated power into a cold furnace (°C). No common
/// element survives it (common practice, no source).
const ELEMENT_MAX_C: f64 = 1_900.0;

/// Most that the proportional gain may change the rate of the reading within one lag of the sensor, in
/// kelvin per kelvin of deviation. A loop with such a lag swings from about one and a half on.
const GAIN_MAX: f64 = 3.0;

/// The parts of a profile that the tables must fit.
pub(super) struct FurnaceParts<'a> {
    pub(super) chamber: &'a ChamberSpec,
    pub(super) insulation: &'a InsulationSpec,
    pub(super) table: &'a TableSpec,
    pub(super) heater: &'a HeaterParts,
    pub(super) control: &'a SensorSpec,
    pub(super) limits: &'a Limits,
    pub(super) ambient_c: f64,
}

impl FurnaceParts<'_> {
    /// Notes every figure of the tables and of the heater that the rest contradicts.
    pub(super) fn check(
        &self,
        notes: KeyDiagnostics<'_>,
        feed_forward: &[FeedForward],
        gains: &[Gains],
    ) {
        self.check_element(notes);
        for (index, point) in feed_forward.iter().enumerate() {
            let place = format!("feed_forward[{}]", index + 1);
            self.check_heat_capacity(notes, &place, point);
            self.check_hold(notes, &place, point);
        }
        self.check_fastest_ramp(notes, feed_forward);
        for (index, point) in gains.iter().enumerate() {
            self.check_gains(notes, &format!("gains[{}]", index + 1), point, feed_forward);
        }
    }

    fn check_heat_capacity(&self, notes: KeyDiagnostics<'_>, place: &str, point: &FeedForward) {
        let heater = &self.heater.spec;
        let element = heater.element_kg * heater.heat_capacity_j_kg_k;
        let muffle = self.chamber.muffle_kg * MUFFLE_J_KG_K;
        let table = self.table.kg * self.table.heat_capacity_j_kg_k;
        let InsulationSpec { thickness_m, hot_area_m2, cold_area_m2, .. } = *self.insulation;
        let insulation_kg =
            thickness_m * 0.5 * (hot_area_m2 + cold_area_m2) * self.insulation.density_kg_m3;
        let insulation =
            insulation_kg * self.insulation.heat_capacity_j_kg_k * INSULATION_SHARE;
        let least = (element + muffle) / FACTOR;
        let most = FACTOR * (element + muffle + table) + insulation;
        let value = f64::from(point.heat_capacity_j_per_k);
        if !(least..=most).contains(&value) {
            notes.at_value(
                &format!("{place}.joule_per_kelvin"),
                format!(
                    "{value} J/K does not fit this furnace: by their masses the element takes \
                     {element:.0} J/K, the muffle {muffle:.0}, the table {table:.0}, and the \
                     insulation at most {insulation:.0}"
                ),
                format!(
                    "allowed: {} to {}; correct it here, or the masses",
                    lower_limit(least, 0),
                    upper_limit(most, 0)
                ),
            );
        }
    }

    fn check_hold(&self, notes: KeyDiagnostics<'_>, place: &str, point: &FeedForward) {
        let (at, value) = (f64::from(point.at.get()), f64::from(point.hold_w));
        let loss_w = self.loss_w(at);
        let margin_w = HOLD_MARGIN * self.heater.spec.rated_w;
        let least = (loss_w / FACTOR - margin_w).max(0.0);
        let most = FACTOR * loss_w + margin_w;
        if !(least..=most).contains(&value) {
            notes.at_value(
                &format!("{place}.hold_watt"),
                format!(
                    "{value} W to hold {at} °C does not fit this furnace: its insulation conducts \
                     about {loss_w:.0} W then"
                ),
                format!(
                    "allowed: {} to {}; correct it here, or [insulation]",
                    lower_limit(least, 0),
                    upper_limit(most, 0)
                ),
            );
        }
    }

    /// Steady conduction through the insulation (W), with the ambient temperature at the cold face.
    fn loss_w(&self, celsius: f64) -> f64 {
        let insulation = self.insulation;
        let (hot_k, cold_k) = (celsius + KELVIN, self.ambient_c + KELVIN);
        let area_m2 = (insulation.hot_area_m2 * insulation.cold_area_m2).sqrt();
        // The integral of the conductivity over temperature.
        let integral = |k: f64| {
            insulation.k_solid_w_m_k * k + insulation.k_radiative_w_m_k4 * k.powi(4) / 4.0
        };
        ((integral(hot_k) - integral(cold_k)) * area_m2 / insulation.thickness_m).max(0.0)
    }

    fn check_fastest_ramp(&self, notes: KeyDiagnostics<'_>, feed_forward: &[FeedForward]) {
        let rate = f64::from(self.limits.ramp_max_k_per_min);
        let rated_w = self.heater.spec.rated_w;
        let need_w = |point: &FeedForward| {
            f64::from(point.hold_w) + f64::from(point.heat_capacity_j_per_k) * rate / 60.0
        };
        let most_w = feed_forward.iter().map(need_w).fold(0.0, f64::max);
        if most_w > f64::from(FEED_MAX) * rated_w {
            notes.at_value(
                "limits.ramp_max_kelvin_per_minute",
                format!(
                    "{rate} K/min takes {most_w:.0} W by [[feed_forward]], and the heater has \
                     {rated_w} W"
                ),
                format!("at most {FEED_MAX} times the heater's power is accepted: lower it"),
            );
        }
    }

    fn check_element(&self, notes: KeyDiagnostics<'_>) {
        let heater = &self.heater.spec;
        let element = heater.element_kg * heater.heat_capacity_j_kg_k;
        let rate = heater.rated_w / element;
        if !ELEMENT_K_PER_S.contains(&rate) {
            let (least, most) = (ELEMENT_K_PER_S.start(), ELEMENT_K_PER_S.end());
            notes.at_value(
                "heater.element_gram",
                format!(
                    "with {element:.1} J/K the element heats itself by {rate:.1} K/s at rated power, \
                     and {least} to {most} K/s are plausible"
                ),
                "correct the mass of the element, its heat capacity, or `rated_watt`",
            );
        }
        let w_per_k4 = heater.area_m2 * heater.emissivity * super::power::STEFAN_BOLTZMANN;
        let element_c =
            ((self.ambient_c + KELVIN).powi(4) + heater.rated_w / w_per_k4).powf(0.25) - KELVIN;
        if element_c > ELEMENT_MAX_C {
            notes.at_value(
                "heater.area_square_centimetre",
                format!(
                    "to radiate {} W from this surface the element would have to be at \
                     {element_c:.0} °C even in a cold furnace",
                    heater.rated_w
                ),
                format!(
                    "up to {ELEMENT_MAX_C} °C are plausible: correct the area, the emissivity, or \
                     `rated_watt`"
                ),
            );
        }
    }

    fn check_gains(
        &self,
        notes: KeyDiagnostics<'_>,
        place: &str,
        point: &Gains,
        feed_forward: &[FeedForward],
    ) {
        let at = point.at.get();
        let nearest = |other: &&FeedForward| (other.at.get() - at).abs();
        let Some(table) = feed_forward.iter().min_by(|a, b| nearest(a).total_cmp(&nearest(b)))
        else {
            return;
        };
        let rate = self.heater.spec.rated_w / f64::from(table.heat_capacity_j_per_k);
        let lag_s = self.control.lag_s;
        let proportional = f64::from(point.proportional);
        let most = GAIN_MAX / (rate * lag_s);
        if proportional > most {
            notes.at_value(
                &format!("{place}.proportional_percent_per_kelvin"),
                format!(
                    "{:.4} %/K makes the furnace swing: full power raises the reading by {rate:.2} \
                     K/s, and the sensor lags by {lag_s} s",
                    proportional * 100.0
                ),
                format!("allowed: {} or less", upper_limit(most * 100.0, 2)),
            );
        }
        let integral = f64::from(point.integral);
        if integral * lag_s > proportional {
            notes.at_value(
                &format!("{place}.integral_percent_per_kelvin_second"),
                format!(
                    "{:.4} %/(K s) makes the furnace swing: the integral would outrun the sensor, which \
                     lags by {lag_s} s",
                    integral * 100.0
                ),
                format!(
                    "allowed: {} or less, the proportional gain divided by that lag",
                    upper_limit(proportional / lag_s * 100.0, 3)
                ),
            );
        }
    }
}
