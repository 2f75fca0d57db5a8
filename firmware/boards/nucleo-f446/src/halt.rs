//! The end of a program that cannot go on: everything off, then the watchdog resets the board.

#[cfg(not(feature = "panic-proof"))]
use core::panic::PanicInfo;

use cortex_m_rt::{ExceptionFrame, exception};
use stm32f4xx_hal::pac::IWDG;

use crate::pins;

/// Starts the watchdog, if it does not run yet; with what it has after reset it bites in half a
/// second (value from memory).
const START: u32 = 0xCCCC;

/// All outputs off, again and again, until the watchdog bites. Nothing else is relied on: no
/// interrupt, no memory but a list in flash, no driver.
pub fn halt() -> ! {
    cortex_m::interrupt::disable();
    pins::all_outputs_low();
    // SAFETY: the key register takes any value, and nobody writes it any more.
    unsafe { (*IWDG::ptr()).kr().write(|w| w.bits(START as _)) };
    loop {
        pins::all_outputs_low();
    }
}

#[cfg(not(feature = "panic-proof"))]
#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    halt()
}

#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    halt()
}

/// The crystal stopped, or an interrupt that nobody asked for.
#[exception]
unsafe fn DefaultHandler(_: i16) -> ! {
    halt()
}

#[cfg(feature = "panic-proof")]
mod proof {
    //! As in the emulated image: a handler whose symbol nobody defines.

    unsafe extern "C" {
        fn a_panic_can_be_reached() -> !;
    }

    #[panic_handler]
    fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
        // SAFETY: never linked, so never called.
        unsafe { a_panic_can_be_reached() }
    }
}
