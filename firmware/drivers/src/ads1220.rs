//! The control thermocouple on an ADS1220 (Texas Instruments): 24 bit, internal 2.048 V
//! reference, its own temperature sensor for the cold junction.
//!
//! SPI mode 1. Single-shot conversions at 20 per second, which take about 51 ms and reject 50 and
//! 60 Hz together: each tick fetches the conversion that the tick before started. One transaction per
//! tick fetches the result, reads all registers back, selects the next input and starts the next
//! conversion. The register that is read back shows which input the result is from.
//!
//! External high-value resistors pull an open circuit to full scale, so that a code at either rail
//! means open. The data-ready pin must be low before the transaction and high after it, which detects
//! a chip that has stopped and a broken wire of the pin.
//!
//! Commands and register map: Texas Instruments SBAS683B (ADS1120-Q1, the 16-bit sister with the
//! same map); 24-bit data and temperature in its upper 14 bits: the maker's words in its forum on
//! the ADS1220. Field values of register 2 and the conversion time: value from memory.
//! There is no maintained crate for this part, hence this driver.

use embedded_hal::digital::InputPin;
use embedded_hal::spi::SpiDevice;
use saggar_core::io::ThermocoupleSample;
use saggar_core::sensors::ThermocoupleType;

use crate::TICK_MS;

/// Read data by command; its argument bits are free.
const RDATA: u8 = 0x10;
/// Read four registers from the first.
const READ_ALL: u8 = 0x23;
/// Write four registers from the first.
const WRITE_ALL: u8 = 0x43;
/// Write the second register.
const WRITE_MODE: u8 = 0x44;
/// Start one conversion.
const START: u8 = 0x08;

/// Register 1: 20 per second, normal mode, single shot; input or temperature sensor.
const MODE_EMF: u8 = 0x00;
const MODE_TERMINALS: u8 = 0x02;
/// Register 2: internal reference, 50 and 60 Hz rejected together.
const REFERENCE: u8 = 0x10;
/// Register 3: no current sources, data-ready on its own pin.
const SOURCES: u8 = 0x00;

/// Ticks from one reading of the cold junction to the next.
const COLD_TICKS: u8 = 10;

/// Ticks for which a reading of the cold junction is used: the next one or two may fail.
const COLD_HOLDS_TICKS: u8 = 25;

/// Ticks without an answer after which the chip is set up anew. A voltage that is then repeated, because the
/// results are of the cold junction, is up to 500 ms old; the core takes none that is older.
const MISSED_MAX: u8 = 2;

const RAIL_HIGH: i32 = 0x7F_FFFF;
const RAIL_LOW: i32 = -0x80_0000;

/// Gain of the amplifier in front of the converter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ads1220Gain {
    /// ±64 mV.
    X32,
    /// ±32 mV.
    X64,
}

impl Ads1220Gain {
    const fn of(kind: ThermocoupleType) -> Self {
        match kind {
            ThermocoupleType::S | ThermocoupleType::R | ThermocoupleType::B => Self::X64,
            ThermocoupleType::K | ThermocoupleType::N => Self::X32,
        }
    }

    /// Register 0: inputs AIN0 and AIN1, amplifier on.
    const fn register(self) -> u8 {
        match self {
            Self::X32 => 0x0A,
            Self::X64 => 0x0C,
        }
    }

    /// Nanovolts of a code: 2.048e9 / (gain × 2²³) is 15625 / 2¹² at 64, rounded to the nearest.
    fn nanovolts(self, code: i32) -> i32 {
        let shift = match self {
            Self::X32 => 11,
            Self::X64 => 12,
        };
        rounded_shift(i64::from(code).wrapping_mul(15_625), shift)
    }
}

/// Shifts right, rounding to the nearest. The result must fit.
pub(crate) fn rounded_shift(value: i64, shift: u32) -> i32 {
    let half = 1i64.wrapping_shl(shift.wrapping_sub(1));
    let result = value.wrapping_add(half).wrapping_shr(shift);
    i32::try_from(result).unwrap_or(if result < 0 { i32::MIN } else { i32::MAX })
}

/// True if the data line stood still during a transaction: no chip answered.
pub(crate) fn stood_still(frame: &[u8]) -> bool {
    frame.iter().all(|byte| *byte == 0x00) || frame.iter().all(|byte| *byte == 0xFF)
}

/// The input of a conversion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Quantity {
    Emf,
    Terminals,
}

impl Quantity {
    const fn mode(self) -> u8 {
        match self {
            Self::Emf => MODE_EMF,
            Self::Terminals => MODE_TERMINALS,
        }
    }
}

/// One measured voltage.
#[derive(Clone, Copy, Debug)]
struct EmfReading {
    nanovolts: i32,
    open: bool,
    age_ms: u16,
}

/// Temperature of the terminals, and the ticks for which it may still be used.
#[derive(Clone, Copy, Debug)]
struct ColdJunction {
    mc: i32,
    ticks_left: u8,
}

impl ColdJunction {
    /// The same a tick later; `None` once it is too old.
    fn aged(self) -> Option<Self> {
        Some(Self { ticks_left: self.ticks_left.checked_sub(1)?, ..self })
    }
}

/// State of a chip that was set up.
#[derive(Clone, Copy, Debug)]
struct ConversionState {
    converting: Quantity,
    ticks_to_cold: u8,
    emf: Option<EmfReading>,
    /// Ticks in a row without an answer. The conversion that is then fetched may be as much older.
    missed: u8,
}

impl ConversionState {
    /// The same after a tick without an answer; `None` after too many.
    fn missed(self) -> Option<Self> {
        let missed = self.missed.saturating_add(1);
        (missed <= MISSED_MAX).then_some(Self { missed, ..self })
    }

    /// Time by which a result may be older than usual (ms).
    fn missed_ms(self) -> u16 {
        u16::from(self.missed).saturating_mul(TICK_MS)
    }
}

/// What came back from the chip in one transaction.
enum Reply {
    /// A result, with the state that it leads to.
    Result(ConversionState),
    /// The data line stood still: nothing is known of the chip.
    Silence,
    /// The chip is not as it was set up, or does not convert.
    Wrong,
}

/// The chip and its data-ready pin.
#[derive(Debug)]
pub struct Ads1220<S, R> {
    spi: S,
    ready: R,
    gain: Ads1220Gain,
    /// Kept when the chip is set up again: its terminals do not change in a few ticks.
    cold: Option<ColdJunction>,
    running: Option<ConversionState>,
}

impl<S: SpiDevice, R: InputPin> Ads1220<S, R> {
    /// A chip on `spi` (mode 1) for this type of thermocouple, with its data-ready pin (low when
    /// a conversion is done). Nothing is sent yet.
    pub const fn new(spi: S, ready: R, kind: ThermocoupleType) -> Self {
        Self { spi, ready, gain: Ads1220Gain::of(kind), cold: None, running: None }
    }

    /// Fetches the last conversion and starts the next; once a tick.
    ///
    /// The age counts from the start of the conversion, so it is an upper bound. `None` while voltage or
    /// cold junction are not known yet, and in any tick in which the chip did not answer as expected;
    /// it is then set up again in the same tick, so that one disturbance costs one sample. Only a data line
    /// that stood still says nothing of the chip, which is then asked again in the next tick.
    pub fn read(&mut self) -> Option<ThermocoupleSample> {
        self.cold = self.cold.and_then(ColdJunction::aged);
        self.running = match self.running.take() {
            None => self.start().ok(),
            Some(running) => match self.tick(running) {
                Reply::Result(new) => Some(new),
                Reply::Silence => running.missed(),
                Reply::Wrong => match self.start() {
                    Ok(new) => Some(new),
                    Err(Reply::Silence) => running.missed(),
                    Err(Reply::Wrong | Reply::Result(_)) => None,
                },
            },
        };
        let running = self.running.filter(|running| running.missed == 0)?;
        let emf = running.emf?;
        Some(ThermocoupleSample {
            emf_nv: emf.nanovolts,
            cold_junction_mc: self.cold?.mc,
            open: emf.open,
            age_ms: emf.age_ms,
        })
    }

    /// Writes all registers, reads them back, and starts a conversion: of the cold junction, or of the
    /// voltage if the cold junction is known.
    fn start(&mut self) -> Result<ConversionState, Reply> {
        let (converting, ticks_to_cold) = match self.cold {
            None => (Quantity::Terminals, COLD_TICKS),
            Some(_) => (Quantity::Emf, 1),
        };
        let [r0, r1, r2, r3] = self.registers(converting);
        let mut frame = [WRITE_ALL, r0, r1, r2, r3, READ_ALL, 0, 0, 0, 0, START];
        self.spi.transfer_in_place(&mut frame).map_err(|_| Reply::Wrong)?;
        let [_, _, _, _, _, _, b0, b1, b2, b3, _] = frame;
        let is_set_up = self.registers(converting) == [b0, b1, b2, b3] && self.is_converting();
        if is_set_up {
            Ok(ConversionState { converting, ticks_to_cold, emf: None, missed: 0 })
        } else {
            Err(if stood_still(&frame) { Reply::Silence } else { Reply::Wrong })
        }
    }

    fn tick(&mut self, running: ConversionState) -> Reply {
        if !matches!(self.ready.is_low(), Ok(true)) {
            return Reply::Wrong;
        }
        let left = running.ticks_to_cold.saturating_sub(1);
        let next = if left == 0 { Quantity::Terminals } else { Quantity::Emf };
        let mut frame = [RDATA, 0, 0, 0, READ_ALL, 0, 0, 0, 0, WRITE_MODE, next.mode(), START];
        if self.spi.transfer_in_place(&mut frame).is_err() {
            return Reply::Wrong;
        }
        if stood_still(&frame) {
            return Reply::Silence;
        }
        let [_, high, mid, low, _, b0, b1, b2, b3, _, _, _] = frame;
        let Some(converted) = self.quantity_of([b0, b1, b2, b3], running) else {
            return Reply::Wrong;
        };
        let code = i32::from_be_bytes([high, mid, low, 0]) >> 8;
        let ticks_to_cold = if left == 0 { COLD_TICKS } else { left };
        let mut new = ConversionState { converting: next, ticks_to_cold, missed: 0, ..running };
        match converted {
            Quantity::Emf => {
                let open = code == RAIL_HIGH || code == RAIL_LOW;
                let nanovolts = self.gain.nanovolts(code);
                let age_ms = TICK_MS.saturating_add(running.missed_ms());
                new.emf = Some(EmfReading { nanovolts, open, age_ms });
            }
            Quantity::Terminals => {
                // The upper 14 bits, 1/32 °C each.
                let mc = rounded_shift(i64::from(code >> 10).wrapping_mul(125), 2);
                self.cold = Some(ColdJunction { mc, ticks_left: COLD_HOLDS_TICKS });
                if let Some(emf) = &mut new.emf {
                    let older_ms = TICK_MS.saturating_add(running.missed_ms());
                    emf.age_ms = emf.age_ms.saturating_add(older_ms);
                }
            }
        }
        Reply::Result(new)
    }

    /// What the result is of, if the registers are as written and the data-ready pin shows that a
    /// conversion runs. After a tick without an answer the chip may have heard the order for the next
    /// conversion or not; the register that is read back shows which.
    fn quantity_of(
        &mut self,
        read_back: [u8; 4],
        running: ConversionState,
    ) -> Option<Quantity> {
        let either = [Quantity::Emf, Quantity::Terminals];
        let quantity = either.into_iter().find(|it| read_back == self.registers(*it))?;
        let expected = running.missed > 0 || quantity == running.converting;
        (expected && self.is_converting()).then_some(quantity)
    }

    const fn registers(&self, converting: Quantity) -> [u8; 4] {
        [self.gain.register(), converting.mode(), REFERENCE, SOURCES]
    }

    /// Whether the data-ready pin shows that a conversion runs.
    fn is_converting(&mut self) -> bool {
        matches!(self.ready.is_high(), Ok(true))
    }
}
