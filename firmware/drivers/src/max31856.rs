//! The limit thermocouple on a MAX31856 (Maxim, now Analog Devices): another maker's part than
//! the control's on purpose, so that one fault of design does not blind both.
//!
//! SPI mode 1. The part only measures the voltage (its voltage mode); linearisation is the core's.
//! Continuous conversion; one burst per tick reads all sixteen registers, so that the configuration is
//! verified with every sample. The data-ready pin shows whether there was a conversion since the last
//! burst; after more than [`STALE_TICKS_MAX`] ticks without one the chip is set up again.
//!
//! Full scale 78.125 mV at gain 8 and 19.531 mV at gain 32: Maxim, MAX31856 datasheet, electrical
//! characteristics, note 7. Scale (code = gain × 1.6 × 2¹⁷ × V) and the 19-bit code: that sheet's
//! page 20 as quoted on electronics.stackexchange.com, question 452503. Register addresses
//! and bits: as several published drivers have them. What the fault bits do in voltage mode, the conversion
//! times and that a masked fault still shows in SR: value from memory.
//! The crate `max31856` 0.0.1 is for embedded-hal 0.2 and reads temperatures only.

use embedded_hal::digital::InputPin;
use embedded_hal::spi::SpiDevice;
use saggar_core::io::ThermocoupleSample;
use saggar_core::sensors::ThermocoupleType;

use crate::TICK_MS;
use crate::ads1220::{rounded_shift, stood_still};

/// Writes go to the address with its top bit set.
const WRITE: u8 = 0x80;

/// CR0: continuous conversion; open-circuit detection (source below 5 kΩ); 50 Hz filter.
const CONTINUOUS: u8 = 0x80;
const DETECT_OPEN: u8 = 0x10;
const FILTER_50_HZ: u8 = 0x01;

/// From CR1 to CJTO: faults off the pin, thresholds out of the way, no cold-junction offset.
const REST: [u8; 8] = [0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80, 0x00, 0x00];

/// SR: cold junction out of range, input over or under the supply, open circuit.
const COLD_RANGE: u8 = 0x80;
const OVER_UNDER: u8 = 0x02;
const OPEN: u8 = 0x01;

/// Ticks without a conversion that are tolerated: a sample is then 500 ms old, the core's limit.
pub const STALE_TICKS_MAX: u8 = 3;

/// Age of a new sample (ms) from the start of its conversion, which takes about a tick and may have
/// been finished for another.
const FRESH_MS: u16 = 2 * TICK_MS;

/// Full scale as a code.
const RAIL: i32 = 0x1_FFFF;

/// Mains frequency that the filter rejects.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MainsFrequency {
    /// 50 Hz: five cycles per tick.
    Hz50,
    /// 60 Hz: six cycles per tick.
    Hz60,
}

impl MainsFrequency {
    /// Whole mains cycles in a tick.
    pub const fn cycles_per_tick(self) -> u8 {
        match self {
            Self::Hz50 => 5,
            Self::Hz60 => 6,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Max31856Gain {
    X8,
    X32,
}

impl Max31856Gain {
    const fn of(kind: ThermocoupleType) -> Self {
        match kind {
            ThermocoupleType::S | ThermocoupleType::R | ThermocoupleType::B => Self::X32,
            ThermocoupleType::K | ThermocoupleType::N => Self::X8,
        }
    }

    /// CR1: no averaging, voltage mode.
    const fn register(self) -> u8 {
        match self {
            Self::X8 => 0x08,
            Self::X32 => 0x0C,
        }
    }

    /// Nanovolts of a code: 1e9 / (gain × 1.6 × 2¹⁷) is 5¹⁰ / 2¹⁶ at 32, rounded to the nearest.
    fn nanovolts(self, code: i32) -> i32 {
        let shift = match self {
            Self::X8 => 14,
            Self::X32 => 16,
        };
        rounded_shift(i64::from(code).wrapping_mul(9_765_625), shift)
    }
}

/// The last conversion, and the ticks since then without a newer one.
#[derive(Clone, Copy, Debug)]
struct LastConversion {
    code: Option<i32>,
    stale: u8,
}

/// The chip and its data-ready pin.
#[derive(Debug)]
pub struct Max31856<S, R> {
    spi: S,
    ready: R,
    gain: Max31856Gain,
    cr0: u8,
    running: Option<LastConversion>,
}

impl<S: SpiDevice, R: InputPin> Max31856<S, R> {
    /// A chip on `spi` (mode 1) for this type of thermocouple and mains, with its data-ready pin
    /// (low when there is an unread conversion). Nothing is sent yet.
    pub const fn new(spi: S, ready: R, kind: ThermocoupleType, mains: MainsFrequency) -> Self {
        let filter = match mains {
            MainsFrequency::Hz50 => FILTER_50_HZ,
            MainsFrequency::Hz60 => 0,
        };
        let cr0 = CONTINUOUS | DETECT_OPEN | filter;
        Self { spi, ready, gain: Max31856Gain::of(kind), cr0, running: None }
    }

    /// Reads all registers; once a tick.
    ///
    /// The age counts from the start of the conversion, so it is an upper bound. `None` before the first
    /// conversion, when input or cold junction are out of range, and in any tick in which the bus
    /// failed or the chip did not answer as expected. After a bus error, or a data line that stood still,
    /// the next tick tries again; a chip whose registers are wrong, or that does not convert, is set up
    /// again in the same tick.
    pub fn read(&mut self) -> Option<ThermocoupleSample> {
        let Some(mut running) = self.running.take() else {
            self.running = self.start();
            return None;
        };
        let fresh = matches!(self.ready.is_low(), Ok(true));
        // The address, then the registers; the bytes sent behind the address are ignored.
        let mut frame = [0u8; 17];
        let sent = self.spi.transfer_in_place(&mut frame).is_ok();
        // A data line that stood still is no answer. It says nothing of the registers, which are then left
        // alone: writing them costs the conversion under way.
        let answered = sent && !stood_still(&frame);
        let [_, cr0, cr1, rest @ .., cj_high, cj_low, high, mid, low, sr] = frame;
        let as_set = cr0 == self.cr0 && cr1 == self.gain.register() && rest == REST;
        if answered && as_set && fresh {
            // 19 bits, in the upper part of 24.
            let code = i32::from_be_bytes([high, mid, low, 0]) >> 13;
            running = LastConversion { code: Some(code), stale: 0 };
        } else {
            running.stale = running.stale.saturating_add(1);
        }
        if answered && !as_set || running.stale > STALE_TICKS_MAX {
            self.running = self.start();
            return None;
        }
        self.running = Some(running);
        if !answered || sr & (COLD_RANGE | OVER_UNDER) != 0 {
            return None;
        }
        let code = running.code?;
        // 1/256 °C.
        let cold = i64::from(i16::from_be_bytes([cj_high, cj_low]));
        let stale_ms = u16::from(running.stale).saturating_mul(TICK_MS);
        Some(ThermocoupleSample {
            emf_nv: self.gain.nanovolts(code),
            cold_junction_mc: rounded_shift(cold.wrapping_mul(125), 5),
            open: sr & OPEN != 0 || code >= RAIL || code <= !RAIL,
            age_ms: FRESH_MS.saturating_add(stale_ms),
        })
    }

    /// Writes the configuration while conversion is off, since the filter may not be changed during it,
    /// and then switches conversion on.
    fn start(&mut self) -> Option<LastConversion> {
        let [r2, r3, r4, r5, r6, r7, r8, r9] = REST;
        let rest = self.cr0 & !CONTINUOUS;
        let cr1 = self.gain.register();
        let table = [WRITE, rest, cr1, r2, r3, r4, r5, r6, r7, r8, r9];
        self.spi.write(&table).ok()?;
        self.spi.write(&[WRITE, self.cr0]).ok()?;
        Some(LastConversion { code: None, stale: 0 })
    }
}
