//! What happens when the program cannot go on: everything off, then the watchdog resets the board.

#[cfg(not(feature = "panic-proof"))]
use core::panic::PanicInfo;

use cortex_m_rt::{ExceptionFrame, exception};
use stm32f4xx_hal::pac::IWDG;

use crate::pins;

/// Starts the watchdog if it is not running yet; with its settings after reset it then fires within
/// half a second (value from memory).
const START: u32 = 0xCCCC;

/// Sets all outputs low, repeatedly, until the watchdog fires. Relies on no interrupt, no driver, and no
/// memory but a list in flash.
pub fn halt() -> ! {
    cortex_m::interrupt::disable();
    pins::all_outputs_low();
    // SAFETY: the key register takes any value, and nothing else writes it any more.
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

/// The crystal has stopped, or an unexpected interrupt came.
#[exception]
unsafe fn DefaultHandler(_: i16) -> ! {
    halt()
}

#[cfg(feature = "panic-proof")]
mod proof {
    //! As in the emulated image: a handler that calls an undefined symbol.

    unsafe extern "C" {
        fn a_panic_can_be_reached() -> !;
    }

    #[panic_handler]
    fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
        // SAFETY: never linked, so never called.
        unsafe { a_panic_can_be_reached() }
    }
}
