//! Firmware for a board that exists only in an emulator: read, step, write, kick the watchdog, and
//! carry the bytes of the link. No decision is made here.
//!
//! The furnace is another process. Board and furnace take turns through a window of memory
//! ([`saggar_lockstep`]) through which the bytes of every bus pass, so that the drivers run as they do
//! on a real board.
#![no_std]
#![no_main]

mod flash;
mod logger;
mod meter;
mod parts;
mod serial;
mod stack;
mod window;

use core::mem::MaybeUninit;
use core::panic::PanicInfo;

use saggar_core::furnace::Furnace;
use saggar_core::units::Instant;
use saggar_device::Device;
use saggar_device::wire::FRAME_BYTES_MAX;
use saggar_drivers::Board;
use saggar_lockstep::{
    BOARD_STATE, DISPLAY_STATE, MAINS_CROSSINGS, MODE, MODE_COUNT, MODE_LINK_ONLY, MODE_SERIAL,
    NOW_MS, RX, RX_CAPACITY, RX_LEN, STACK_PEAK, STATE_RUNS, STATE_START_FAILED, TICK_RECORD,
    TURN_DONE, TURN_STARTED, TX, TX_CAPACITY, TX_LEN,
};

use flash::WindowFlash;
use meter::CycleMeter;
use parts::{WindowBus, WindowInput, WindowOutput, WindowWires};

type FurnaceBoard = Board<
    WindowBus<'static>,
    WindowBus<'static>,
    WindowBus<'static>,
    WindowInput<'static>,
    WindowOutput<'static>,
>;

/// A static, so that the symbol table shows its size.
#[unsafe(no_mangle)]
static mut DEVICE: MaybeUninit<Device<WindowFlash>> = MaybeUninit::uninit();

static WIRES: SharedWires = SharedWires(WindowWires::new());

struct SharedWires(WindowWires);

// SAFETY: this board has one thread and no interrupts.
unsafe impl Sync for SharedWires {}

unsafe extern "C" {
    /// Not defined anywhere: a link error that names it means that a panic is reachable.
    fn a_panic_can_be_reached() -> !;
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    // SAFETY: never linked, so never called.
    unsafe { a_panic_can_be_reached() }
}

/// Ticks between two measurements of the stack.
const STACK_TICKS: u32 = 4096;

#[cortex_m_rt::entry]
fn main() -> ! {
    stack::paint();
    serial::start();
    let wires = &WIRES.0;
    // The emulated machine has no source of random numbers.
    match Device::boot(WindowFlash, saggar_lockstep::flash_layout(), || None) {
        Ok(device) => {
            let slot = &raw mut DEVICE;
            // SAFETY: written here before it is read, and reached from here only.
            let device = unsafe { (*slot).write(device) };
            defmt::info!("up, {}", device.programme_status());
            window::publish(BOARD_STATE, STATE_RUNS);
            let mut board = board(wires, device.controller().furnace());
            board.safe();
            run(wires, &mut board, device)
        }
        Err(why) => {
            defmt::error!("not up: {}", why);
            logger::flush();
            window::publish(BOARD_STATE, STATE_START_FAILED);
            loop {
                cortex_m::asm::nop();
            }
        }
    }
}

/// Assembles the board on its wires.
fn board(wires: &'static WindowWires, furnace: &Furnace) -> FurnaceBoard {
    let bus = |part| WindowBus { part, wires };
    let parts = saggar_lockstep::board_parts(
        furnace,
        bus,
        |pin| WindowInput(pin, wires),
        |pin| WindowOutput(pin, wires),
    );
    Board::new(parts, &saggar_lockstep::board_settings(furnace))
}

/// The main loop: runs the ticks and serves the link between them.
fn run(wires: &WindowWires, board: &mut FurnaceBoard, device: &mut Device<WindowFlash>) -> ! {
    let mut meter = CycleMeter::start(window::read(MODE) & MODE_COUNT != 0);
    let mut turn = 0;
    let mut ticks = 0u32;
    loop {
        turn = wait(turn, device);
        let now = now();
        if window::read(MODE) & MODE_LINK_ONLY != 0 {
            serve_window_link(now, device, &mut meter);
            publish_announcement(device);
            logger::flush();
            window::publish(TURN_DONE, turn);
            continue;
        }
        ticks = ticks.wrapping_add(1);
        wires.begin();
        meter.begin();
        let inputs = board.read();
        meter.end(0);
        let outputs = device.step(now, &inputs, |event| defmt::info!("{}", event));
        meter.end(1);
        match board.write(&outputs) {
            // If its pin fails, the watchdog trips.
            Ok(token) => {
                let _ = board.kick(token);
            }
            Err(errors) => defmt::error!("outputs failed: {}", errors),
        }
        for _ in 0..window::read(MAINS_CROSSINGS) {
            board.zero_crossing();
            wires.half_cycle();
        }
        meter.end(2);
        serve_window_link(now, device, &mut meter);
        planted_bug(turn as usize);
        wires.end();
        publish_tick(device);
        publish_announcement(device);
        meter.show();
        // Soon after the start, for short runs; later rarely, because it takes long.
        if ticks % STACK_TICKS == 64 {
            window::write(STACK_PEAK, stack::deepest());
        }
        logger::flush();
        window::publish(TURN_DONE, turn);
    }
}

fn now() -> Instant {
    let (low, high) = (window::read(NOW_MS), window::read(const { NOW_MS + 4 }));
    Instant::from_millis(u64::from(low) | u64::from(high) << 32)
}

fn has_serial_link() -> bool {
    window::read(MODE) & MODE_SERIAL != 0
}

/// Waits for the furnace's turn to end, and serves a serial link meanwhile.
fn wait(last: u32, device: &mut Device<WindowFlash>) -> u32 {
    loop {
        let turn = window::read(TURN_STARTED);
        if turn != last {
            return turn;
        }
        if has_serial_link() {
            let now = now();
            while let Some(byte) = serial::take() {
                device.receive(now, &[byte]);
            }
            let mut frame = [0; FRAME_BYTES_MAX];
            if let Some(bytes) = device.transmit(&mut frame) {
                for byte in frame.iter().take(bytes) {
                    serial::put(*byte);
                }
            }
        }
    }
}

/// Serves the link through the window: received bytes in, pending frames out.
#[inline(never)]
fn serve_window_link(now: Instant, device: &mut Device<WindowFlash>, meter: &mut CycleMeter) {
    if has_serial_link() {
        return;
    }
    let came = (window::read(RX_LEN) as usize).min(RX_CAPACITY);
    for at in 0..came {
        device.receive(now, &[window::byte(RX.wrapping_add(at))]);
    }
    let mut used = 0usize;
    let mut frame = [0; FRAME_BYTES_MAX];
    while used <= const { TX_CAPACITY - FRAME_BYTES_MAX } {
        meter.begin();
        let Some(bytes) = device.transmit(&mut frame) else { break };
        meter.end(3);
        for byte in frame.iter().take(bytes) {
            window::set_byte(TX.wrapping_add(used), *byte);
            used = used.wrapping_add(1);
        }
    }
    window::write(TX_LEN, used as u32);
}

/// Publishes the tick, which the furnace's side compares with its own core.
fn publish_tick(device: &Device<WindowFlash>) {
    for (index, word) in device.tick().words().iter().enumerate() {
        window::write(TICK_RECORD.wrapping_add(index << 2), *word);
    }
}

/// Publishes what a display would announce.
fn publish_announcement(device: &Device<WindowFlash>) {
    let announcement = device.announcement();
    let commits = u32::from(announcement.commits) << 1;
    window::write(DISPLAY_STATE, commits | u32::from(announcement.unconfirmed));
}

/// Does nothing without the feature; with it, indexes without a check.
#[cfg(not(feature = "planted-bug"))]
fn planted_bug(_: usize) {}

#[cfg(feature = "planted-bug")]
fn planted_bug(index: usize) {
    static TABLE: [u8; 2] = [1, 2];
    core::hint::black_box(TABLE[index]);
}
