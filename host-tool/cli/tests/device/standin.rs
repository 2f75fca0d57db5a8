//! A device in a thread, with a simulated furnace around it and time that runs fast.

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

/// What a test does to a device meanwhile.
#[derive(Default)]
pub(crate) struct Hands {
    /// Press start once.
    pub(crate) start: AtomicBool,
    /// The code on its display.
    pub(crate) code: AtomicU32,
    /// Swallow so many ticks' worth of what the device says.
    pub(crate) deaf: AtomicU32,
    /// Break the control thermocouple.
    pub(crate) control_open: AtomicBool,
    /// Cut the power once, and with it the line.
    pub(crate) reboot: AtomicBool,
    end: AtomicBool,
}

/// A device that runs.
pub(crate) struct Standin {
    pub(crate) at: SocketAddr,
    pub(crate) hands: Arc<Hands>,
    thread: Option<JoinHandle<()>>,
}

impl Standin {
    /// A device with these settings at the furnace of a schedule. A tick takes `pace` of the
    /// test's time.
    pub(crate) fn with(settings: &[u8], schedule: &Path, pace: Duration) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        listener.set_nonblocking(true).unwrap();
        let at = listener.local_addr().unwrap();
        let hands = Arc::new(Hands::default());
        let firing = FiringPlan::load(schedule, None).unwrap();
        let settings = settings.to_vec();
        let theirs = Arc::clone(&hands);
        let run = move || run(&listener, &theirs, &settings, &firing, pace);
        Self { at, hands, thread: Some(thread::spawn(run)) }
    }

    /// Its port as the tool takes it.
    pub(crate) fn port(&self) -> String {
        format!("tcp:{}", self.at)
    }
}

impl Drop for Standin {
    fn drop(&mut self) {
        self.hands.end.store(true, Ordering::Relaxed);
        let ended = self.thread.take().map(JoinHandle::join);
        assert!(thread::panicking() || ended.is_none_or(|ended| ended.is_ok()));
    }
}

fn run(
    listener: &TcpListener,
    hands: &Hands,
    settings: &[u8],
    firing: &FiringPlan,
    pace: Duration,
) {
    let mut flash = Flash::default();
    // As a probe writes them.
    flash.write(layout().settings.at, settings).unwrap();
    let FiringPlan { profile, work, .. } = firing;
    let world = World::new(&profile.spec, work, 1, Vec::new()).unwrap();
    let device = Device::boot(flash.clone(), layout(), || Some([7; 16])).unwrap();
    let board =
        Board { device, hands, now: Instant::default(), booted_ms: 0, events: VecDeque::new() };
    let mut bench = Bench::new(world, board, (), ());
    let mut line: Option<TcpStream> = None;
    // More firings follow one that is over.
    while !hands.end.load(Ordering::Relaxed) {
        if let Ok((stream, _)) = listener.accept() {
            stream.set_nonblocking(true).unwrap();
            stream.set_nodelay(true).unwrap();
            line = Some(stream);
        }
        if hands.reboot.swap(false, Ordering::Relaxed) {
            bench.firmware.device =
                Device::boot(flash.clone(), layout(), || Some([7; 16])).unwrap();
            bench.firmware.booted_ms += bench.firmware.now.millis();
            line = None;
        }
        let now = bench.firmware.now;
        carry(&mut line, &mut bench.firmware.device, now, hands);
        let _ = bench.step();
        let board = &mut bench.firmware;
        carry(&mut line, &mut board.device, board.now, hands);
        let code = board.device.announcement().code.unwrap_or(u32::MAX);
        hands.code.store(code, Ordering::Relaxed);
        thread::sleep(pace);
    }
}

/// The device, told what it is told by hand.
struct Board<'a> {
    device: Device<Flash>,
    hands: &'a Hands,
    /// Its own time, and how much of the bench's it has not lived through.
    now: Instant,
    booted_ms: u64,
    events: VecDeque<Event>,
}

impl Firmware for Board<'_> {
    type Error = Infallible;

    fn tick(&mut self, at: Instant, inputs: &mut Inputs) -> Result<Outputs, Infallible> {
        let hands = self.hands;
        self.now = Instant::from_millis(at.millis() - self.booted_ms);
        if let Some(sample) = &mut inputs.control {
            sample.open |= hands.control_open.load(Ordering::Relaxed);
        }
        // Whoever starts confirms the programme first: a press, not a button held down.
        let unseen = self.device.announcement().unconfirmed;
        let hand = hands.start.load(Ordering::Relaxed);
        inputs.buttons.confirm = hand && unseen && self.device.tick().number.is_multiple_of(2);
        inputs.buttons.start = hand && !unseen;
        hands.start.store(hand && unseen, Ordering::Relaxed);
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

/// Bytes in both directions, as far as there are any.
fn carry(
    line: &mut Option<TcpStream>,
    device: &mut Device<Flash>,
    now: Instant,
    hands: &Hands,
) {
    let Some(stream) = line else { return };
    let mut room = [0; 512];
    let mut gone = false;
    match stream.read(&mut room) {
        Ok(0) => gone = true,
        Ok(bytes) => {
            // Frame by frame, as a board does that looks at its line often.
            for piece in room[..bytes].split_inclusive(|byte| *byte == 0) {
                device.receive(now, piece);
                gone |= !say(stream, device, hands);
            }
        }
        Err(error) if error.kind() == ErrorKind::WouldBlock => {}
        Err(_) => gone = true,
    }
    gone |= !say(stream, device, hands);
    if gone {
        *line = None;
    }
}

/// Says what there is to say; false if nobody is there any more.
fn say(stream: &mut TcpStream, device: &mut Device<Flash>, hands: &Hands) -> bool {
    let mut frame = [0; FRAME_BYTES_MAX];
    while let Some(bytes) = device.transmit(&mut frame) {
        let deaf = hands.deaf.load(Ordering::Relaxed);
        if deaf > 0 {
            hands.deaf.store(deaf - 1, Ordering::Relaxed);
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
