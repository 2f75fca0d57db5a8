//! Builds the measured part of a row from the inputs and outputs of a controller.

use saggar_core::controller::ControllerStatus;
use saggar_core::furnace::{Furnace, SensorData};
use saggar_core::io::{Inputs, Outputs};
use saggar_core::sensors::ChannelReader;

use super::Measurements;

/// Reads a furnace's channels for a trace.
#[derive(Clone, Debug)]
pub struct MeasurementReader {
    control: (SensorData, ChannelReader),
    limit: (SensorData, ChannelReader),
    /// Mains cycles of one tick.
    cycles: f64,
}

impl MeasurementReader {
    /// A reader for the channels of this furnace.
    pub fn new(furnace: &Furnace) -> Self {
        let channel = |sensor| (sensor, ChannelReader::default());
        Self {
            control: channel(furnace.control_sensor),
            limit: channel(furnace.limit_sensor),
            cycles: f64::from(furnace.heater.mains_hz) / 10.0,
        }
    }

    /// Share of the mains cycles of one tick that conduct, 0 to 1.
    pub fn duty(&self, outputs: &Outputs) -> f64 {
        f64::from(outputs.heater_cycles.count_ones()) / self.cycles
    }

    /// The measured values of a tick, with this duty; `status` is the core's status after it, if a core ran.
    pub fn read(
        &mut self,
        tick: u64,
        inputs: &Inputs,
        outputs: &Outputs,
        duty: f64,
        status: Option<&ControllerStatus>,
    ) -> Measurements {
        let (sensor, channel) = &mut self.limit;
        let limit = channel.read(sensor, inputs.limit.as_ref());
        let sensor_c = match status {
            Some(status) => status.reading_c.map(f64::from),
            None => {
                let (sensor, channel) = &mut self.control;
                let control = channel.read(sensor, inputs.control.as_ref());
                control.ok().map(|reading| f64::from(reading.celsius.get()))
            }
        };
        let setpoint = status.and_then(|status| status.setpoint);
        Measurements {
            tick,
            step: status.and_then(|status| status.step),
            setpoint_c: setpoint.map(|setpoint| f64::from(setpoint.celsius)),
            sensor_c,
            limit_c: limit.ok().map(|reading| f64::from(reading.celsius.get())),
            duty,
            inputs: *inputs,
            outputs: *outputs,
        }
    }
}
