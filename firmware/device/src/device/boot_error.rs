//! Why a device does not boot.

use crate::store::StoreError;

/// Why a device cannot boot. Its board then keeps all outputs off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum BootError {
    /// The flash cannot be used.
    Flash(StoreError),
    /// There are no readable settings in flash; they are written at the device.
    NoSettings,
    /// The settings in flash are of this version, which this firmware does not know: write them again
    /// with the tool of this firmware.
    OtherSettings(u8),
}
