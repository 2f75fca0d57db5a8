//! Everything of a furnace's controller but its board: the control core, the data in flash, and the
//! link to a client.
//!
//! * [`store`] keeps programmes, journal and settings in flash that may lose power at any byte.
//! * [`wire`] defines the messages between client and device; [`link`] is the device's end of it.
//! * [`Device`] joins core, flash and link.
//!
//! As in the core there is no clock, no heap and no panic.
#![no_std]

mod device;
pub mod link;
pub mod store;
pub mod wire;

pub use device::{
    Announcement, BootError, Device, DeviceSettings, IgnoredPress, PressError, ProgrammeStatus,
    RandomSource, SETTINGS_BYTES_MAX, SETTINGS_VERSION, WINDOW,
};

/// Version of the firmware as a greeting reports it: major, minor, patch.
pub const VERSION: [u8; 3] = [
    number(env!("CARGO_PKG_VERSION_MAJOR")),
    number(env!("CARGO_PKG_VERSION_MINOR")),
    number(env!("CARGO_PKG_VERSION_PATCH")),
];

const fn number(text: &str) -> u8 {
    match u8::from_str_radix(text, 10) {
        Ok(number) => number,
        Err(_) => u8::MAX,
    }
}
