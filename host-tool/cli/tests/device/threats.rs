//! Attacks over the link, with and without the key. The table in `docs/wire.md` names these tests.

use std::time::Duration;

use saggar_client::link::{
    FrameAssembler, OrderSequence, Session, Task, Timeouts, Transaction as _,
};
use saggar_core::Cause;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::units::Instant;
use saggar_device::store::Store;
use saggar_device::wire::seal::{DeviceKey, KEY_BYTES};
use saggar_device::wire::{
    Answer, FRAME_BYTES_MAX, FrameKind, Hello, LogEvent, NONCE_BYTES, Notice, Query, Refusal,
    decode_frame, encode_frame,
};
use saggar_device::{Device, DeviceSettings};
use saggar_schedule::FiringPlan;

use crate::bench::Bench;
use crate::flash::{Flash, layout};

const SECRET: [u8; KEY_BYTES] = *b"0123456789abcdef0123456789abcdef";

/// The device under attack.
struct Victim {
    device: Device<Flash>,
    flash: Flash,
    now_ms: u64,
    /// All frames that were sent to it.
    recorded: Vec<Vec<u8>>,
    firing: FiringPlan,
    /// Ticks in which the core saw the stop button pressed. No test presses it; accepted orders do.
    stops: usize,
}

impl Victim {
    fn new() -> Self {
        Self::with_salt(4)
    }

    /// A device with this salt.
    fn with_salt(salt: u8) -> Self {
        let bench = Bench::examples();
        let firing = FiringPlan::load(&bench.path("schedules/job.toml"), None).unwrap();
        let furnace = firing.profile.furnace.clone();
        let settings = DeviceSettings::new(*b"bench-7\0", Some(SECRET), [salt; 16], furnace);
        let mut flash = Flash::default();
        let mut buffer = [0; saggar_device::SETTINGS_BYTES_MAX];
        let bytes = settings.encode(&mut buffer).unwrap();
        Store::open(&mut flash, layout()).unwrap().write_settings(bytes).unwrap();
        let device = Device::boot(flash.clone(), layout(), || None).unwrap();
        Self { device, flash, now_ms: 0, recorded: Vec::new(), firing, stops: 0 }
    }

    /// Cuts the power and restores it.
    fn power_cut(&mut self) {
        self.device = Device::boot(self.flash.clone(), layout(), || None).unwrap();
        self.now_ms = 0;
    }

    /// Runs a tick; returns the core's outputs.
    fn tick(&mut self) -> Outputs {
        self.now_ms += 100;
        let now = Instant::from_millis(self.now_ms);
        let outputs = self.device.step(now, &Inputs::default(), |_| {});
        self.stops += usize::from(self.device.tick().inputs().buttons.stop);
        outputs
    }

    /// Sends bytes to the device; returns the frames that it sends.
    fn send(&mut self, bytes: &[u8]) -> Vec<Vec<u8>> {
        self.recorded.push(bytes.to_vec());
        self.device.receive(Instant::from_millis(self.now_ms), bytes);
        let mut replies = Vec::new();
        let mut frame = [0; FRAME_BYTES_MAX];
        while let Some(bytes) = self.device.transmit(&mut frame) {
            replies.push(frame[..bytes].to_vec());
        }
        replies
    }

    fn query(&mut self, query: &Query) -> Vec<Vec<u8>> {
        let mut frame = [0; FRAME_BYTES_MAX];
        let bytes = encode_frame(FrameKind::Query, None, query, &mut frame).unwrap();
        self.send(&frame[..bytes])
    }

    /// Says hello with this client nonce; returns the device's hello.
    fn hello(&mut self, nonce: u8) -> Hello {
        let replies = self.query(&Query::Hello { nonce: [nonce; NONCE_BYTES] });
        find_notice(&replies, |notice| {
            if let Notice::Hello(hello) = notice { Some(*hello) } else { None }
        })
        .expect("a hello")
    }

    /// Runs a task in a new session, until all its orders are answered.
    fn order(
        &mut self,
        nonce: u8,
        task: Task<'_>,
    ) -> Result<Answer, saggar_client::link::LinkError> {
        let hello = self.hello(nonce);
        let key = DeviceKey::new(SECRET).unwrap();
        let session = Session::of(&hello, &[nonce; NONCE_BYTES], &key)?;
        let mut orders =
            OrderSequence::new(session, task, Timeouts::for_baud(115_200)).unwrap();
        let mut frame = [0; FRAME_BYTES_MAX];
        let mut frames = FrameAssembler::default();
        loop {
            let now = Duration::from_millis(self.now_ms);
            let mut replies = Vec::new();
            while let Some(bytes) = orders.transmit(now, &mut frame) {
                replies.extend(self.send(&frame[..bytes]));
            }
            for bytes in replies {
                frames.push(&bytes, |frame| orders.receive(now, &decode_frame(frame).unwrap()));
            }
            if let Some(outcome) = orders.take_result() {
                self.tick();
                return outcome;
            }
            self.tick();
        }
    }

    fn upload(&mut self, nonce: u8) -> Result<Answer, saggar_client::link::LinkError> {
        let programme = self.firing.image.bytes().to_vec();
        let furnace = self.firing.profile.furnace.digest();
        self.order(nonce, Task::Upload { programme: &programme, furnace })
    }

    /// The frame of a stop order in a new session.
    fn stop(&mut self, nonce: u8, key: &DeviceKey) -> Vec<u8> {
        let hello = self.hello(nonce);
        let session = Session::of(&hello, &[nonce; NONCE_BYTES], key).unwrap();
        let mut orders =
            OrderSequence::new(session, Task::Stop, Timeouts::for_baud(115_200)).unwrap();
        let mut frame = [0; FRAME_BYTES_MAX];
        // The first frame is a hello.
        orders.transmit(Duration::ZERO, &mut frame).unwrap();
        let bytes = orders.transmit(Duration::ZERO, &mut frame).unwrap();
        frame[..bytes].to_vec()
    }

    /// The number of matching entries in the device's log.
    fn count_log_entries(&mut self, wanted: fn(&LogEvent) -> bool) -> usize {
        let (mut from, mut count) = (0, 0);
        loop {
            let replies = self.query(&Query::Log { from });
            let lines = find_notice(&replies, |notice| {
                if let Notice::Log { entries, .. } = notice {
                    Some(entries.clone())
                } else {
                    None
                }
            });
            let lines = lines.unwrap();
            let Some(last) = lines.last() else { return count };
            from = last.number + 1;
            count += lines.iter().filter(|line| wanted(&line.event)).count();
            self.tick();
        }
    }

    fn stops(&mut self) -> usize {
        self.tick();
        self.stops
    }
}

/// The first notice that `wanted` accepts.
fn find_notice<T>(
    replies: &[Vec<u8>],
    mut wanted: impl FnMut(&Notice<'_>) -> Option<T>,
) -> Option<T> {
    replies.iter().find_map(|bytes| {
        let mut frame = bytes[..bytes.len() - 1].to_vec();
        let body = decode_frame(&mut frame).unwrap();
        if body.kind == FrameKind::Notice { wanted(&body.message().unwrap()) } else { None }
    })
}

fn refusal(replies: &[Vec<u8>]) -> Option<Refusal> {
    find_notice(
        replies,
        |notice| if let Notice::Refused(why) = notice { Some(*why) } else { None },
    )
}

/// Even with the key: after an upload and a stop, and ten minutes without a button, there is no heat.
#[test]
fn no_frame_starts_heat() {
    let mut victim = Victim::new();
    victim.upload(1).unwrap();
    victim.order(2, Task::Stop).unwrap();
    for _ in 0..6000 {
        let outputs = victim.tick();
        assert_eq!((outputs.heater_cycles, outputs.contactor), (0, false));
    }
    assert_eq!(victim.device.controller().status().step, None);
    // The sensors of this furnace are missing, which trips; no order may clear that.
    let tripped = victim.device.controller().status().trip;
    victim.upload(3).unwrap();
    victim.order(4, Task::Stop).unwrap();
    victim.tick();
    assert_eq!(victim.device.controller().status().trip, tripped);
    assert!(tripped.is_none_or(|cause| Cause::ALL.contains(&cause)));
}

/// Each bit of a sealed order is flipped in turn, and the checksum corrected.
#[test]
fn an_altered_order_is_never_accepted() {
    let mut victim = Victim::new();
    let key = DeviceKey::new(SECRET).unwrap();
    let good = victim.stop(1, &key);
    let mut body = good[..good.len() - 1].to_vec();
    let length = cobs::decode_in_place(&mut body).unwrap();
    let signed = body[..length - 4].to_vec();
    let mut flipped = 0;
    for bit in 0..signed.len() * 8 {
        let mut other = signed.clone();
        other[bit / 8] ^= 1 << (bit % 8);
        let sum = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&other);
        other.extend(sum.to_le_bytes());
        let mut frame = vec![0; other.len() + 2];
        let coded = cobs::encode(&other, &mut frame);
        frame.truncate(coded);
        frame.push(0);
        victim.send(&frame);
        // Wait out a lock-out, so that only the seal is tested, but stay within the session's minute.
        victim.now_ms += 11_000;
        victim.tick();
        flipped += 1;
    }
    assert_eq!(victim.stops(), 0, "one of {flipped} altered orders was accepted");
    let good = victim.stop(2, &key);
    victim.send(&good);
    assert_eq!(victim.stops(), 1, "the unaltered order is accepted");
}

/// All frames of a client are sent again: to the same device, and to it after a restart.
#[test]
fn recorded_frames_are_worthless_to_an_attacker() {
    let mut victim = Victim::new();
    for nonce in 1..=20 {
        victim.upload(nonce).unwrap();
        victim.order(nonce + 100, Task::Stop).unwrap();
    }
    let recorded = victim.recorded.clone();
    let programmes = |victim: &mut Victim| {
        victim.count_log_entries(|entry| matches!(entry, LogEvent::Programme(_)))
    };
    let before = (victim.stops(), programmes(&mut victim));
    assert_eq!(before, (20, 20));
    for _ in 0..3 {
        for frame in &recorded {
            victim.send(frame);
            victim.tick();
        }
        victim.power_cut();
    }
    assert_eq!((victim.stops(), programmes(&mut victim)), before);
    // Another device with the same key and name, but another salt.
    let mut other = Victim::with_salt(5);
    for frame in &recorded {
        other.send(frame);
        other.tick();
    }
    assert_eq!((other.stops(), programmes(&mut other)), (0, 0));
}

/// Wrong seals cause a lock-out; orders with the right key are accepted nevertheless.
#[test]
fn guessed_seals_do_not_lock_out_the_right_key() {
    let mut victim = Victim::new();
    let other = DeviceKey::new([7, 8].repeat(16).try_into().unwrap()).unwrap();
    for guess in 0..5 {
        let frame = victim.stop(guess, &other);
        let replies = victim.send(&frame);
        let locked = matches!(refusal(&replies), Some(Refusal::LockedOut(_)));
        assert_eq!(locked, guess == 4, "guess {guess}: {:?}", refusal(&replies));
    }
    victim.upload(10).unwrap();
    victim.order(11, Task::Stop).unwrap();
    assert_eq!(victim.stops(), 1);
    let frame = victim.stop(12, &other);
    let replies = victim.send(&frame);
    assert!(
        matches!(refusal(&replies), Some(Refusal::LockedOut(1..=10))),
        "the lock-out persists"
    );
}

/// Under a flood of random bytes the device ticks on, and it accepts the next valid frame.
#[test]
fn a_flood_does_no_harm() {
    let mut victim = Victim::new();
    let mut state = 1u64;
    for _ in 0..2000 {
        let flood: Vec<u8> = (0..700)
            .map(|_| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                (state >> 56) as u8
            })
            .collect();
        victim.send(&flood);
        assert_eq!(victim.tick().heater_cycles, 0);
    }
    victim.tick();
    victim.send(&[0]);
    victim.hello(1);
    victim.upload(2).unwrap();
}
