//! Links the whole control core for a Cortex-M4F, with a panic handler that does not exist.
//!
//! Every value that reaches the core comes through `black_box`, which the compiler does not look
//! into, so that no path is optimised away for a reason that a real board would not have. If any
//! path that is left can panic, the handler is linked in, its symbol is missing, and the link
//! fails. The image is never run.
#![no_std]
#![no_main]

use core::hint::black_box;
use core::mem::MaybeUninit;
use core::panic::PanicInfo;

use saggar_core::controller::SNAPSHOT_BYTES_MAX;
use saggar_core::furnace::Furnace;
use saggar_core::programme::DIGEST_BYTES;
use saggar_core::units::Instant;
use saggar_core::{Cause, Controller, Inputs, Outputs};

/// What a board would have in its memory and registers.
struct Mailbox {
    furnace: [u8; 512],
    programme: [u8; 1024],
    programme_bytes: usize,
    digest: [u8; DIGEST_BYTES],
    millis: u64,
    cause: usize,
    inputs: [u8; 64],
    outputs: Outputs,
    snapshot: [u8; SNAPSHOT_BYTES_MAX],
}

#[unsafe(no_mangle)]
static mut MAILBOX: MaybeUninit<Mailbox> = MaybeUninit::zeroed();

/// In a static so that the symbol table shows its size.
#[unsafe(no_mangle)]
static mut CONTROLLER: MaybeUninit<Controller> = MaybeUninit::uninit();

unsafe extern "C" {
    /// Nobody defines it. A link error that names it means that a panic can be reached.
    fn a_panic_can_be_reached() -> !;
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    // SAFETY: never linked, so never called.
    unsafe { a_panic_can_be_reached() }
}

/// The entry.
#[unsafe(no_mangle)]
extern "C" fn start() -> ! {
    // SAFETY: all zeros is a valid mailbox, and one thread uses it.
    let mailbox = unsafe { &mut *(&raw mut MAILBOX).cast::<Mailbox>() };
    match postcard::from_bytes::<Furnace>(&black_box(&mut *mailbox).furnace) {
        Ok(furnace) => run(mailbox, furnace),
        Err(_) => halt(),
    }
}

/// One board: load what is there, then tick for ever.
fn run(mailbox: &mut Mailbox, furnace: Furnace) -> ! {
    black_box(furnace.digest());
    // SAFETY: written here before it is read, and reached from here only.
    let controller = unsafe { (*(&raw mut CONTROLLER)).write(Controller::new(furnace)) };
    loop {
        let seen = black_box(&mut *mailbox);
        let programme = seen.programme.get(..seen.programme_bytes).unwrap_or(&[]);
        black_box(controller.load(programme, &seen.digest).is_ok());
        if let Ok(admitted) = black_box(controller.admit(programme, &seen.digest)) {
            black_box(controller.take(admitted).is_ok());
        }
        if let Some(cause) = Cause::ALL.get(seen.cause) {
            controller.retrip(*cause);
        }
        let inputs = postcard::from_bytes::<Inputs>(&seen.inputs).unwrap_or_default();
        seen.outputs = controller.step(Instant::from_millis(seen.millis), &inputs);
        black_box(controller.status());
        black_box(controller.take_event());
        black_box(controller.save(&mut seen.snapshot));
        planted(seen.programme_bytes);
    }
}

/// Without the feature nothing; with it an index that nothing checks.
#[cfg(not(feature = "planted-bug"))]
fn planted(_: usize) {}

#[cfg(feature = "planted-bug")]
fn planted(index: usize) {
    static TABLE: [u8; 2] = [1, 2];
    black_box(TABLE[index]);
}

fn halt() -> ! {
    loop {
        core::hint::spin_loop();
    }
}
