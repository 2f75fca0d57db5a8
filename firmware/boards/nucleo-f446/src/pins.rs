//! Pin assignment, which is defined only here. A test compares the table in docs/retrofit.md with it.
//!
//! All outputs are active high and are low from the first instruction that touches them; before that,
//! and in reset, external pull-down resistors hold them low. A contact closes its pin to ground
//! against a pull-up.

use core::ptr;

use stm32f4xx_hal::gpio::{self, AnyPin, Input, Pin, PinState, PushPull};

/// An output.
pub type GpioOutput = AnyPin<gpio::Output<PushPull>>;
/// An input with its pull-up.
pub type GpioInput = AnyPin<Input>;

/// The ports of the pins below.
pub struct Ports {
    pub gpioa: gpio::gpioa::Parts,
    pub gpiob: gpio::gpiob::Parts,
    pub gpioc: gpio::gpioc::Parts,
}

/// Type of a pin by its kind.
macro_rules! pin_type {
    (output, $pin:ident) => {
        GpioOutput
    };
    (select, $pin:ident) => {
        GpioOutput
    };
    (input, $pin:ident) => {
        GpioInput
    };
    (bus, $pin:ident) => {
        gpio::$pin
    };
}

/// Configures a pin by its kind. A chip select idles high.
macro_rules! set_up {
    (output, $pin:expr) => {
        $pin.into_push_pull_output_in_state(PinState::Low).erase()
    };
    (select, $pin:expr) => {
        $pin.into_push_pull_output_in_state(PinState::High).erase()
    };
    (input, $pin:expr) => {
        $pin.into_pull_up_input().erase()
    };
    (bus, $pin:expr) => {
        $pin
    };
}

/// Port and number of an output, for [`all_outputs_low`].
macro_rules! output_pin {
    (output, $pin:ident) => {
        Some(<gpio::$pin as PinId>::PORT_AND_NUMBER)
    };
    ($other:ident, $pin:ident) => {
        None
    };
}

macro_rules! pins {
    ($($name:ident: $port:ident $field:ident $pin:ident $kind:ident, $what:literal;)*) => {
        /// The configured pins of the board.
        pub struct Pins { $(#[doc = $what] pub $name: pin_type!($kind, $pin),)* }

        impl Pins {
            /// Configures all pins; outputs low.
            pub fn new(ports: Ports) -> Self {
                $(let $name: gpio::$pin = ports.$port.$field;)*
                Self { $($name: set_up!($kind, $name),)* }
            }
        }

        /// Outputs, for [`all_outputs_low`].
        static OUTPUTS: [Option<(u8, u8)>; [$(stringify!($name)),*].len()] =
            [$(output_pin!($kind, $pin)),*];
    };
}

pins! {
    heater:          gpioc pc8  PC8  output, "solid-state relay of the heater";
    contactor:       gpioc pc6  PC6  output, "contactor in series with it";
    pump:            gpioc pc5  PC5  output, "pump";
    isolation_valve: gpioc pc9  PC9  output, "valve between chamber and pump";
    vent_valve:      gpioc pc4  PC4  output, "valve between chamber and air";
    to_open:         gpiob pb13 PB13 output, "lift towards open, or the lamp that asks for the door";
    to_shut:         gpiob pb14 PB14 output, "lift towards shut; not used with a door";
    lamp:            gpiob pb1  PB1  output, "lamp: a firing runs; blinks while a new programme waits for confirm";
    buzzer:          gpiob pb15 PB15 output, "buzzer: the operator is wanted; short sounds while a new programme waits for confirm";
    watchdog:        gpiob pb10 PB10 output, "external watchdog, an edge every tick";
    contactor_aux:   gpioc pc10 PC10 input, "auxiliary contact of the contactor";
    shut_contact:    gpioc pc11 PC11 input, "contact of the shut end";
    open_contact:    gpioc pc12 PC12 input, "contact of the open end";
    start:           gpioc pc2  PC2  input, "start button, closes";
    stop:            gpioc pc3  PC3  input, "stop button, opens";
    confirm:         gpiob pb7  PB7  input, "confirm button, closes";
    zero_crossing:   gpioc pc0  PC0  input, "mains detector, one rising edge a half-cycle";
    sck:             gpioa pa5  PA5  bus, "SPI1 clock, both thermocouples; the green LED flickers with it";
    miso:            gpioa pa6  PA6  bus, "SPI1 data from the converters";
    mosi:            gpioa pa7  PA7  bus, "SPI1 data to the converters";
    control_select:  gpiob pb6  PB6  select, "chip select of the ADS1220";
    control_ready:   gpioa pa10 PA10 input, "data-ready of the ADS1220";
    limit_select:    gpioc pc7  PC7  select, "chip select of the MAX31856";
    limit_ready:     gpioa pa8  PA8  input, "data-ready of the MAX31856";
    scl:             gpiob pb8  PB8  bus, "I2C clock, both ADS1115; 4.7 kΩ to 3.3 V";
    sda:             gpiob pb9  PB9  bus, "I2C data, both ADS1115; 4.7 kΩ to 3.3 V";
    link_tx:         gpioa pa2  PA2  bus, "link to the client, to the probe's virtual COM port";
    link_rx:         gpioa pa3  PA3  bus, "link from the client";
}

/// Port and number of a pin.
trait PinId {
    /// Port, counted from A, and number.
    const PORT_AND_NUMBER: (u8, u8);
}

impl<const P: char, const N: u8, M> PinId for Pin<P, N, M> {
    const PORT_AND_NUMBER: (u8, u8) = ((P as u8).wrapping_sub(b'A'), N);
}

const GPIOA: usize = 0x4002_0000;
const PORT_BYTES: usize = 0x400;
const SET_RESET: usize = 0x18;

/// Sets all outputs low by direct register writes, for a program in an unknown state. Chip selects are
/// left alone.
pub fn all_outputs_low() {
    for (port, number) in OUTPUTS.iter().flatten() {
        let at = GPIOA.wrapping_add(PORT_BYTES.wrapping_mul(usize::from(*port)));
        let at = at.wrapping_add(SET_RESET) as *mut u32;
        // SAFETY: the set-and-reset register of a port in the list; this write changes one pin only.
        unsafe { ptr::write_volatile(at, 0x1_0000u32.wrapping_shl(u32::from(*number))) };
    }
}
