//! Drivers for the parts of a small vacuum furnace, over the traits of `embedded-hal` 1.0.
#![no_std]
