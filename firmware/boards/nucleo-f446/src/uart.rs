//! The link to a client: USART2, which the board's probe carries to USB. 115,200 baud, 8 bits, no parity.
//!
//! DMA writes received bytes into a ring buffer, also while the processor stalls for the flash. It has
//! space for the [`saggar_device::WINDOW`] orders that a client may have under way.

use core::sync::atomic::{AtomicU8, Ordering};

use saggar_device::WINDOW;
use saggar_device::wire::FRAME_BYTES_MAX;
use stm32f4xx_hal::dma::config::Priority;
use stm32f4xx_hal::dma::traits::Stream;
use stm32f4xx_hal::dma::{DmaChannel, DmaDataSize, DmaDirection, Stream5, StreamsTuple};
use stm32f4xx_hal::gpio::{PA2, PA3};
use stm32f4xx_hal::pac::{DMA1, USART2};
use stm32f4xx_hal::prelude::*;
use stm32f4xx_hal::rcc::Rcc;
use stm32f4xx_hal::serial::config::{Config, DmaConfig};
use stm32f4xx_hal::serial::{Serial, Tx};

/// Size of the ring buffer: a power of two.
const RING_BYTES: usize = 8192;
const _: () = assert!(RING_BYTES.is_power_of_two() && RING_BYTES < 0x1_0000);
const _: () = assert!(RING_BYTES > FRAME_BYTES_MAX * (WINDOW as usize + 1));

/// Written by DMA, read by the processor.
static RING: [AtomicU8; RING_BYTES] = [const { AtomicU8::new(0) }; RING_BYTES];

/// Address of the port's data register.
const DATA: u32 = 0x4000_4404;

/// Both directions of the link.
pub struct UartLink {
    tx: Tx<USART2>,
    /// Its counter shows where DMA will write next, counting down.
    fill: Stream5<DMA1>,
    /// Index of the next byte to take.
    next: usize,
    frame: [u8; FRAME_BYTES_MAX],
    sent: usize,
    length: usize,
}

impl UartLink {
    /// Starts the port and its DMA. `None` if the clock does not allow the baud rate.
    pub fn new(port: USART2, dma: DMA1, tx: PA2, rx: PA3, rcc: &mut Rcc) -> Option<Self> {
        let config = Config::default().baudrate(115_200.bps()).dma(DmaConfig::Rx);
        let serial: Serial<USART2> = Serial::new(port, (tx, rx), config, rcc).ok()?;
        let (tx, _) = serial.split();
        let mut fill = StreamsTuple::new(dma, rcc).5;
        fill.set_channel(DmaChannel::Channel4);
        fill.set_direction(DmaDirection::PeripheralToMemory);
        fill.set_peripheral_address(DATA);
        fill.set_memory_address(RING.as_ptr() as u32);
        fill.set_number_of_transfers(RING_BYTES as u16);
        fill.set_memory_increment(true);
        fill.set_peripheral_increment(false);
        fill.set_circular_mode(true);
        fill.set_priority(Priority::High);
        // SAFETY: circular DMA of single bytes from the port's data register into the ring, which is
        // a static of atomics and so may change at any time.
        unsafe {
            fill.set_memory_size(DmaDataSize::Byte);
            fill.set_peripheral_size(DmaDataSize::Byte);
            fill.enable();
        }
        Some(Self { tx, fill, next: 0, frame: [0; FRAME_BYTES_MAX], sent: 0, length: 0 })
    }

    /// The next received byte.
    pub fn take(&mut self) -> Option<u8> {
        let left = usize::from(self.fill.number_of_transfers());
        let filled = RING_BYTES.wrapping_sub(left) & const { RING_BYTES - 1 };
        if self.next == filled {
            return None;
        }
        let byte = RING.get(self.next)?.load(Ordering::Relaxed);
        self.next = self.next.wrapping_add(1) & const { RING_BYTES - 1 };
        Some(byte)
    }

    /// Passes a byte of the current frame to the port, if it can take one.
    pub fn send(&mut self) {
        if self.sent < self.length
            && let Some(byte) = self.frame.get(self.sent)
            && self.tx.write(*byte).is_ok()
        {
            self.sent = self.sent.wrapping_add(1);
        }
    }

    /// Fetches the next frame, once the last one is sent.
    pub fn refill(&mut self, next: impl FnOnce(&mut [u8; FRAME_BYTES_MAX]) -> Option<usize>) {
        if self.sent >= self.length {
            self.sent = 0;
            self.length = next(&mut self.frame).unwrap_or(0);
        }
    }
}
