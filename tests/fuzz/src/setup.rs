//! A device with a simple model of a furnace, and the guarantee that every target checks: no heat without
//! a press of the start button since the device booted.

use saggar_core::io::{Buttons, ClosureContacts, ThermocoupleSample};
use saggar_core::units::Instant;
use saggar_core::{Inputs, Outputs};
use saggar_device::store::Store;
use saggar_device::wire::seal::{DEVICE_ID_BYTES, DeviceKey, KEY_BYTES};
use saggar_device::wire::{FRAME_BYTES_MAX, RANDOM_BYTES};
use saggar_device::{BootError, Device, DeviceSettings, SETTINGS_BYTES_MAX};

use crate::example::{IMAGES, PROFILE};
use crate::memory::{Flash, layout};

const KEY: [u8; KEY_BYTES] = *b"the key of the device under test";
const DEVICE_ID: [u8; DEVICE_ID_BYTES] = *b"fuzzbeds";

/// Heat capacity (J/K) and loss (W/K) of the furnace, and the ambient temperature (°C).
const CAPACITY_J_PER_K: f64 = 600.0;
const LOSS_W_PER_K: f64 = 0.8;
const AMBIENT_C: f64 = 20.0;
const ATMOSPHERE_PA: u32 = 101_325;

/// Flash with settings, optionally with the first example as its programme.
pub(crate) fn provisioned(with_programme: bool) -> Flash {
    let flash = Flash::new(Vec::new());
    let mut store = Store::open(flash.clone(), layout()).expect("blank flash opens");
    let settings = DeviceSettings::new(DEVICE_ID, Some(KEY), [7; 16], PROFILE.furnace.clone());
    let mut buffer = [0; SETTINGS_BYTES_MAX];
    store.write_settings(settings.encode(&mut buffer).expect("fits")).expect("writes");
    if with_programme {
        let image = &IMAGES[0];
        store.begin_upload(image.bytes().len() as u16).expect("erases");
        store.write_chunk(0, image.bytes()).expect("writes");
        store.commit(&image.digest()).expect("commits");
    }
    flash
}

pub(crate) fn key() -> DeviceKey {
    DeviceKey::new(KEY).expect("neither blank nor zero")
}

fn random() -> Option<[u8; RANDOM_BYTES]> {
    Some([0x5A; RANDOM_BYTES])
}

/// A device and its furnace.
pub(crate) struct Setup {
    pub(crate) device: Device<Flash>,
    pub(crate) flash: Flash,
    /// The control thermocouple is connected.
    pub(crate) plugged: bool,
    millis: u64,
    celsius: f64,
    outputs: Outputs,
    /// The start button was pressed since the device booted.
    started: bool,
}

impl Setup {
    pub(crate) fn boot(flash: Flash) -> Result<Self, BootError> {
        let device = Device::boot(flash.clone(), layout(), random)?;
        let outputs = Outputs::default();
        Ok(Self {
            device,
            flash,
            plugged: true,
            millis: 0,
            celsius: AMBIENT_C,
            outputs,
            started: false,
        })
    }

    /// Cuts the power and restores it.
    pub(crate) fn reboot(&mut self) {
        let celsius = self.celsius;
        *self = Self::boot(self.flash.clone()).expect("boots again");
        self.celsius = celsius;
    }

    pub(crate) fn now(&self) -> Instant {
        Instant::from_millis(self.millis)
    }

    /// Lets time pass without a tick.
    pub(crate) fn wait(&mut self, millis: u64) {
        self.millis += millis;
    }

    pub(crate) fn tick(&mut self, buttons: Buttons) {
        let inputs = self.inputs(buttons);
        self.started |= buttons.start;
        self.millis += 100;
        self.outputs = self.device.step(self.now(), &inputs, |_| {});
        assert!(self.started || self.outputs.heater_cycles == 0, "heat without a start");
        let heat_w = f64::from(PROFILE.furnace.heater.rated_w) * self.share()
            - LOSS_W_PER_K * (self.celsius - AMBIENT_C);
        self.celsius += heat_w / CAPACITY_J_PER_K * 0.1;
    }

    /// The frames that the device has to send.
    pub(crate) fn transmit(&mut self) -> Vec<Vec<u8>> {
        let mut buffer = [0; FRAME_BYTES_MAX];
        let device = &mut self.device;
        std::iter::from_fn(|| {
            device.transmit(&mut buffer).map(|length| buffer[..length].to_vec())
        })
        .collect()
    }

    fn share(&self) -> f64 {
        f64::from(self.outputs.heater_cycles.count_ones()) / 5.0
    }

    fn inputs(&self, buttons: Buttons) -> Inputs {
        let open = self.outputs.open_closure;
        let reading = |kind: saggar_core::sensors::ThermocoupleType| {
            let junction_mc = 25_000;
            let emf_uv = |celsius| kind.emf_uv(celsius).unwrap_or_default();
            let emf_nv = (emf_uv(self.celsius) - emf_uv(25.0)) * 1000.0;
            ThermocoupleSample {
                emf_nv: emf_nv.round() as i32,
                cold_junction_mc: junction_mc,
                open: false,
                age_ms: 0,
            }
        };
        Inputs {
            control: self.plugged.then(|| reading(PROFILE.furnace.control_sensor.kind)),
            limit: Some(reading(PROFILE.furnace.limit_sensor.kind)),
            pressure_pa: Some(ATMOSPHERE_PA),
            closure: ClosureContacts { shut: !open, open },
            contactor_closed: self.outputs.contactor,
            heater_current_ma: Some((self.share().sqrt() * 10_000.0) as u32),
            mains_crossings: Some(10),
            buttons,
        }
    }
}
