//! A device in a thread, at a simulated furnace, faster than real time.

use std::collections::VecDeque;
use std::convert::Infallible;
use std::io::{ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use embedded_storage::nor_flash::NorFlash as _;
use saggar_bench::firmware::Firmware;
use saggar_bench::{Bench, World};
use saggar_core::Controller;
use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::units::Instant;
use saggar_device::Device;
use saggar_device::wire::FRAME_BYTES_MAX;
use saggar_schedule::FiringPlan;

use crate::flash::{Flash, layout};

/// What a test sets or reads while the device runs.
#[derive(Default)]
pub(crate) struct TestControls {
    /// Press start once.
    pub(crate) start: AtomicBool,
    /// The code on its display.
    pub(crate) code: AtomicU32,
    /// Number of the device's next frames to drop.
    pub(crate) frames_to_drop: AtomicU32,
    /// Break the control thermocouple.
    pub(crate) control_open: AtomicBool,
    /// Cut the power once, and with it the connection.
    pub(crate) reboot: AtomicBool,
    end: AtomicBool,
}

impl TestControls {
    /// The code on its display. It shows one in the tick after the upload, which a busy machine may
    /// run later than the client ends.
    pub(crate) fn shown_code(&self) -> u32 {
        let mut tries = (0..1000).map(|_| {
            thread::sleep(Duration::from_millis(10));
            self.code.load(Ordering::Relaxed)
        });
        let shown = tries.find(|code| *code != u32::MAX);
        shown.expect("the display shows no code")
    }
}

/// A running device.
pub(crate) struct TestDevice {
    pub(crate) at: SocketAddr,
    pub(crate) controls: Arc<TestControls>,
    thread: Option<JoinHandle<()>>,
}

impl TestDevice {
    /// A device with these settings at the furnace of a schedule. A tick takes `pace` of the
    /// test's time.
    pub(crate) fn with(settings: &[u8], schedule: &Path, pace: Duration) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        listener.set_nonblocking(true).unwrap();
        let at = listener.local_addr().unwrap();
        let controls = Arc::new(TestControls::default());
        let firing = FiringPlan::load(schedule, None).unwrap();
        let settings = settings.to_vec();
        let shared = Arc::clone(&controls);
        let run = move || run(&listener, &shared, &settings, &firing, pace);
        Self { at, controls, thread: Some(thread::spawn(run)) }
    }

    /// Its port, for the option `--port`.
    pub(crate) fn port(&self) -> String {
        format!("tcp:{}", self.at)
    }
}

impl Drop for TestDevice {
    fn drop(&mut self) {
        self.controls.end.store(true, Ordering::Relaxed);
        let ended = self.thread.take().map(JoinHandle::join);
        assert!(thread::panicking() || ended.is_none_or(|ended| ended.is_ok()));
    }
}

fn run(
    listener: &TcpListener,
    controls: &TestControls,
    settings: &[u8],
    firing: &FiringPlan,
    pace: Duration,
) {
    let mut flash = Flash::default();
    // The settings are written with a debug probe.
    flash.write(layout().settings.at, settings).unwrap();
    let FiringPlan { profile, work, .. } = firing;
    let world = World::new(&profile.spec, work, 1, Vec::new()).unwrap();
    let device = Device::boot(flash.clone(), layout(), || Some([7; 16])).unwrap();
    let board = Board {
        device,
        controls,
        now: Instant::default(),
        booted_ms: 0,
        events: VecDeque::new(),
    };
    let mut bench = Bench::new(world, board, (), ());
    let mut connection: Option<TcpStream> = None;
    // The device runs on after a firing.
    while !controls.end.load(Ordering::Relaxed) {
        if let Ok((stream, _)) = listener.accept() {
            stream.set_nonblocking(true).unwrap();
            stream.set_nodelay(true).unwrap();
            connection = Some(stream);
        }
        if controls.reboot.swap(false, Ordering::Relaxed) {
            bench.firmware.device =
                Device::boot(flash.clone(), layout(), || Some([7; 16])).unwrap();
            bench.firmware.booted_ms += bench.firmware.now.millis();
            connection = None;
        }
        let now = bench.firmware.now;
        transfer(&mut connection, &mut bench.firmware.device, now, controls);
        let _ = bench.step();
        let board = &mut bench.firmware;
        transfer(&mut connection, &mut board.device, board.now, controls);
        let code = board.device.announcement().code.unwrap_or(u32::MAX);
        controls.code.store(code, Ordering::Relaxed);
        thread::sleep(pace);
    }
}

/// The device, with inputs overridden by the test.
struct Board<'a> {
    device: Device<Flash>,
    controls: &'a TestControls,
    /// Time since its last boot.
    now: Instant,
    /// Bench time at its last boot (ms).
    booted_ms: u64,
    events: VecDeque<Event>,
}

impl Firmware for Board<'_> {
    type Error = Infallible;

    fn tick(&mut self, at: Instant, inputs: &mut Inputs) -> Result<Outputs, Infallible> {
        let controls = self.controls;
        self.now = Instant::from_millis(at.millis() - self.booted_ms);
        if let Some(sample) = &mut inputs.control {
            sample.open |= controls.control_open.load(Ordering::Relaxed);
        }
        // An unconfirmed programme is confirmed first; every other tick, so that it is a press and not a
        // button held down.
        let unconfirmed = self.device.announcement().unconfirmed;
        let start = controls.start.load(Ordering::Relaxed);
        inputs.buttons.confirm =
            start && unconfirmed && self.device.tick().number.is_multiple_of(2);
        inputs.buttons.start = start && !unconfirmed;
        controls.start.store(start && unconfirmed, Ordering::Relaxed);
        let events = &mut self.events;
        Ok(self.device.step(self.now, inputs, |event| events.push_back(*event)))
    }

    fn core(&self) -> &Controller {
        self.device.controller()
    }

    fn take_event(&mut self) -> Option<Event> {
        self.events.pop_front()
    }
}

/// Transfers pending bytes in both directions.
fn transfer(
    connection: &mut Option<TcpStream>,
    device: &mut Device<Flash>,
    now: Instant,
    controls: &TestControls,
) {
    let Some(stream) = connection else { return };
    let mut buffer = [0; 512];
    let mut closed = false;
    match stream.read(&mut buffer) {
        Ok(0) => closed = true,
        Ok(bytes) => {
            // Frame by frame, as on a board that polls its link often.
            for piece in buffer[..bytes].split_inclusive(|byte| *byte == 0) {
                device.receive(now, piece);
                closed |= !send_pending(stream, device, controls);
            }
        }
        Err(error) if error.kind() == ErrorKind::WouldBlock => {}
        Err(_) => closed = true,
    }
    closed |= !send_pending(stream, device, controls);
    if closed {
        *connection = None;
    }
}

/// Sends the device's pending frames; false if the client has disconnected.
fn send_pending(
    stream: &mut TcpStream,
    device: &mut Device<Flash>,
    controls: &TestControls,
) -> bool {
    let mut frame = [0; FRAME_BYTES_MAX];
    while let Some(bytes) = device.transmit(&mut frame) {
        let drops = controls.frames_to_drop.load(Ordering::Relaxed);
        if drops > 0 {
            controls.frames_to_drop.store(drops - 1, Ordering::Relaxed);
            continue;
        }
        let mut left = &frame[..bytes];
        while !left.is_empty() {
            match stream.write(left) {
                Ok(written) => left = &left[written..],
                Err(error) if error.kind() == ErrorKind::WouldBlock => {
                    thread::sleep(Duration::from_millis(1));
                }
                Err(_) => return false,
            }
        }
    }
    true
}
