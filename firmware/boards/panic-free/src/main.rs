//! Links core and device for a Cortex-M4F with a panic handler that calls an undefined function.
//!
//! Every value that reaches the device passes through `black_box`, which is opaque to the compiler, so
//! that no path is optimised away that a real board could take. If any remaining path can panic, the
//! handler is linked in, its symbol is missing, and the link fails. The image is never run.
#![no_std]
#![no_main]

mod flash;

use core::hint::black_box;
use core::mem::MaybeUninit;
use core::panic::PanicInfo;

use saggar_core::io::{Buttons, ClosureContacts, Inputs, Outputs, ThermocoupleSample};
use saggar_core::units::Instant;
use saggar_device::Device;
use saggar_device::wire::{FRAME_BYTES_MAX, RANDOM_BYTES};

use flash::MemoryFlash;

/// Words of a board's registers that become [`Inputs`]; the last holds all flags as bits.
const WORDS: usize = 7;

/// What a real board would have in memory and registers.
struct Mailbox {
    flash: [u8; flash::BYTES],
    millis: u64,
    words: [u32; WORDS],
    outputs: Outputs,
    received: [u8; 64],
    frame: [u8; FRAME_BYTES_MAX],
    index: usize,
}

#[unsafe(no_mangle)]
static mut MAILBOX: MaybeUninit<Mailbox> = MaybeUninit::zeroed();

/// A static, so that the symbol table shows its size.
#[unsafe(no_mangle)]
static mut DEVICE: MaybeUninit<Device<MemoryFlash>> = MaybeUninit::uninit();

unsafe extern "C" {
    /// Not defined anywhere: a link error that names it means that a panic is reachable.
    fn a_panic_can_be_reached() -> !;
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    // SAFETY: never linked, so never called.
    unsafe { a_panic_can_be_reached() }
}

#[unsafe(no_mangle)]
extern "C" fn start() -> ! {
    // SAFETY: all zeros is a valid mailbox, and one thread uses it.
    let mailbox = unsafe { &mut *(&raw mut MAILBOX).cast::<Mailbox>() };
    let Mailbox { flash, millis, words, outputs, received, frame, index } = mailbox;
    let flash = MemoryFlash { bytes: flash, error: None };
    let Ok(device) = Device::boot(flash, flash::layout(), random) else { halt() };
    let slot = &raw mut DEVICE;
    // SAFETY: written here before it is read, and reached from here only.
    let device = unsafe { (*slot).write(device) };
    black_box(device.programme_status());
    loop {
        let now = Instant::from_millis(*black_box(&mut *millis));
        let inputs = inputs(black_box(&*words));
        *outputs = device.step(now, &inputs, |event| {
            black_box(event);
        });
        black_box(&mut *outputs);
        device.receive(now, black_box(&*received));
        black_box(device.transmit(frame));
        black_box(&mut *frame);
        planted_bug(*black_box(&mut *index));
    }
}

/// Stands for a board's random number generator.
fn random() -> Option<[u8; RANDOM_BYTES]> {
    black_box(Some([0; RANDOM_BYTES]))
}

/// Builds inputs from registers as a board does, without linking a second message decoder.
fn inputs(words: &[u32; WORDS]) -> Inputs {
    let [emf, cold, other_emf, other_cold, pressure_pa, current_ma, bits] = *words;
    let bit = |index: u32| bits.wrapping_shr(index) & 1 == 1;
    let [age_ms, crossings, ..] = bits.to_be_bytes();
    let sample = |answered_bit: u32, emf: u32, cold: u32| {
        bit(answered_bit).then_some(ThermocoupleSample {
            emf_nv: emf.cast_signed(),
            cold_junction_mc: cold.cast_signed(),
            open: bit(answered_bit.wrapping_add(1)),
            age_ms: u16::from(age_ms),
        })
    };
    Inputs {
        control: sample(0, emf, cold),
        limit: sample(2, other_emf, other_cold),
        pressure_pa: bit(4).then_some(pressure_pa),
        closure: ClosureContacts { shut: bit(5), open: bit(6) },
        contactor_closed: bit(7),
        heater_current_ma: bit(8).then_some(current_ma),
        mains_crossings: bit(12).then_some(crossings),
        buttons: Buttons { start: bit(9), stop: bit(10), confirm: bit(11) },
    }
}

/// Does nothing without the feature; with it, indexes without a check.
#[cfg(not(feature = "planted-bug"))]
fn planted_bug(_: usize) {}

#[cfg(feature = "planted-bug")]
fn planted_bug(index: usize) {
    static TABLE: [u8; 2] = [1, 2];
    black_box(TABLE[index]);
}

fn halt() -> ! {
    loop {
        core::hint::spin_loop();
    }
}
