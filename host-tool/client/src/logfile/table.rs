//! The ticks of a log as comma-separated values.

use std::io::Write;

use saggar_core::furnace::Furnace;
use saggar_core::sensors::Channel;
use saggar_device::wire::Tick;

use super::replay::named;

/// Names of the columns before the outputs.
const COLUMNS: [&str; 6] = [
    "tick",
    "time_second",
    "control_celsius",
    "limit_celsius",
    "pressure_hectopascal",
    "heater_current_milliampere",
];

/// A table that grows.
pub struct Table<W: Write> {
    out: csv::Writer<W>,
    furnace: Furnace,
    control: Channel,
    limit: Channel,
    begun: bool,
}

impl<W: Write> Table<W> {
    /// A table of ticks on this furnace: its sensors turn voltages into temperatures.
    pub fn new(out: W, furnace: Furnace) -> Self {
        let out = csv::Writer::from_writer(out);
        Self {
            out,
            furnace,
            control: Channel::default(),
            limit: Channel::default(),
            begun: false,
        }
    }

    /// Adds a row. A value that does not exist is an empty cell.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn row(&mut self, tick: &Tick) -> csv::Result<()> {
        let (inputs, outputs) = (tick.inputs(), named(&tick.outputs()));
        if !self.begun {
            self.begun = true;
            let outputs = outputs.iter().map(|(name, _)| *name);
            self.out.write_record(COLUMNS.into_iter().chain(outputs))?;
        }
        let control = self.control.read(self.furnace.control_sensor, inputs.control.as_ref());
        let limit = self.limit.read(self.furnace.limit_sensor, inputs.limit.as_ref());
        let text = |value: Option<String>| value.unwrap_or_default();
        let celsius = |celsius: f32| format!("{celsius:.2}");
        let mut row = vec![
            tick.number.to_string(),
            format!("{:.1}", tick.at_ms as f64 / 1e3),
            text(control.ok().map(|reading| celsius(reading.celsius.get()))),
            text(limit.ok().map(|reading| celsius(reading.celsius.get()))),
            text(inputs.pressure_pa.map(|pa| format!("{:.2}", f64::from(pa) / 1e2))),
            text(inputs.heater_current_ma.map(|ma| ma.to_string())),
        ];
        row.extend(outputs.iter().map(|(_, value)| value.to_string()));
        self.out.write_record(row)
    }

    /// The last of it.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn finish(self) -> std::io::Result<W> {
        self.out.into_inner().map_err(|error| error.into_error())
    }
}
