//! What somebody on the line can try, with and without the key. The table in `docs/wire.md` names
//! these tests.

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

/// A device, its time, and all that went to it.
struct Victim {
    device: Device<Flash>,
    flash: Flash,
    now_ms: u64,
    heard: Vec<Vec<u8>>,
    firing: FiringPlan,
    /// Ticks in which the core was told that stop is pressed; nobody presses it here.
    stops: usize,
}

impl Victim {
    fn new() -> Self {
        Self::salted(4)
    }

    /// With this in place of a drawn salt.
    fn salted(salt: u8) -> Self {
        let bench = Bench::examples();
        let firing = FiringPlan::load(&bench.path("schedules/job.toml"), None).unwrap();
        let furnace = firing.profile.furnace.clone();
        let settings = DeviceSettings::new(*b"bench-7\0", Some(SECRET), [salt; 16], furnace);
        let mut flash = Flash::default();
        let mut room = [0; saggar_device::SETTINGS_BYTES_MAX];
        let bytes = settings.encode(&mut room).unwrap();
        Store::open(&mut flash, layout()).unwrap().write_settings(bytes).unwrap();
        let device = Device::boot(flash.clone(), layout(), || None).unwrap();
        Self { device, flash, now_ms: 0, heard: Vec::new(), firing, stops: 0 }
    }

    /// The power goes and comes back.
    fn power_cut(&mut self) {
        self.device = Device::boot(self.flash.clone(), layout(), || None).unwrap();
        self.now_ms = 0;
    }

    /// A tick; what the core answered.
    fn tick(&mut self) -> Outputs {
        self.now_ms += 100;
        let now = Instant::from_millis(self.now_ms);
        let outputs = self.device.step(now, &Inputs::default(), |_| {});
        self.stops += usize::from(self.device.tick().inputs().buttons.stop);
        outputs
    }

    /// Bytes to the device; what it tells and answers.
    fn send(&mut self, bytes: &[u8]) -> Vec<Vec<u8>> {
        self.heard.push(bytes.to_vec());
        self.device.receive(Instant::from_millis(self.now_ms), bytes);
        let mut said = Vec::new();
        let mut frame = [0; FRAME_BYTES_MAX];
        while let Some(bytes) = self.device.transmit(&mut frame) {
            said.push(frame[..bytes].to_vec());
        }
        said
    }

    fn ask(&mut self, ask: &Query) -> Vec<Vec<u8>> {
        let mut frame = [0; FRAME_BYTES_MAX];
        let bytes = encode_frame(FrameKind::Query, None, ask, &mut frame).unwrap();
        self.send(&frame[..bytes])
    }

    /// Greets, with the desk's number.
    fn hello(&mut self, nonce: u8) -> Hello {
        let said = self.ask(&Query::Hello { nonce: [nonce; NONCE_BYTES] });
        tells(&said, |tell| if let Notice::Hello(hello) = tell { Some(*hello) } else { None })
            .expect("a greeting")
    }

    /// The frames of a task in a session that is opened for it, until they are all answered.
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
            let mut said = Vec::new();
            while let Some(bytes) = orders.transmit(now, &mut frame) {
                said.extend(self.send(&frame[..bytes]));
            }
            for bytes in said {
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

    /// The frame of a stop in a session of its own.
    fn stop(&mut self, nonce: u8, key: &DeviceKey) -> Vec<u8> {
        let hello = self.hello(nonce);
        let session = Session::of(&hello, &[nonce; NONCE_BYTES], key).unwrap();
        let mut orders =
            OrderSequence::new(session, Task::Stop, Timeouts::for_baud(115_200)).unwrap();
        let mut frame = [0; FRAME_BYTES_MAX];
        // A greeting goes before it.
        orders.transmit(Duration::ZERO, &mut frame).unwrap();
        let bytes = orders.transmit(Duration::ZERO, &mut frame).unwrap();
        frame[..bytes].to_vec()
    }

    /// How often the log has this line.
    fn logged(&mut self, wanted: fn(&LogEvent) -> bool) -> usize {
        let (mut from, mut count) = (0, 0);
        loop {
            let said = self.ask(&Query::Log { from });
            let lines = tells(&said, |tell| {
                if let Notice::Log { lines, .. } = tell { Some(lines.clone()) } else { None }
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

/// The first thing told that is wanted.
fn tells<T>(said: &[Vec<u8>], mut wanted: impl FnMut(&Notice<'_>) -> Option<T>) -> Option<T> {
    said.iter().find_map(|bytes| {
        let mut frame = bytes[..bytes.len() - 1].to_vec();
        let body = decode_frame(&mut frame).unwrap();
        if body.kind == FrameKind::Notice { wanted(&body.message().unwrap()) } else { None }
    })
}

fn refusal(said: &[Vec<u8>]) -> Option<Refusal> {
    tells(said, |tell| if let Notice::Refused(why) = tell { Some(*why) } else { None })
}

/// Even with the key: a programme is put into the device, questions are asked, a stop is ordered,
/// and for ten minutes nobody presses a button.
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

/// Every bit of a sealed order is turned, and the checksum made to fit again.
#[test]
fn an_altered_order_is_never_accepted() {
    let mut victim = Victim::new();
    let key = DeviceKey::new(SECRET).unwrap();
    let good = victim.stop(1, &key);
    let mut body = good[..good.len() - 1].to_vec();
    let length = cobs::decode_in_place(&mut body).unwrap();
    let signed = body[..length - 4].to_vec();
    let mut turned = 0;
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
        // Past any lock, so that it is the seal that refuses, and within the session's minute.
        victim.now_ms += 11_000;
        victim.tick();
        turned += 1;
    }
    assert_eq!(victim.stops(), 0, "one of {turned} altered orders was taken");
    let good = victim.stop(2, &key);
    victim.send(&good);
    assert_eq!(victim.stops(), 1, "and the order as it was made is");
}

/// All that a desk ever said is said again: to the same device, and to it after it came up anew.
#[test]
fn recorded_frames_are_worthless_to_an_attacker() {
    let mut victim = Victim::new();
    for nonce in 1..=20 {
        victim.upload(nonce).unwrap();
        victim.order(nonce + 100, Task::Stop).unwrap();
    }
    let recorded = victim.heard.clone();
    let programmes =
        |victim: &mut Victim| victim.logged(|entry| matches!(entry, LogEvent::Programme(_)));
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
    // Another device with the same key and name; its settings were made at another time.
    let mut other = Victim::salted(5);
    for frame in &recorded {
        other.send(frame);
        other.tick();
    }
    assert_eq!((other.stops(), programmes(&mut other)), (0, 0));
}

/// Wrong seals make a lock-out; whoever has the right key is obeyed all the same.
#[test]
fn guessed_seals_do_not_lock_out_the_right_key() {
    let mut victim = Victim::new();
    let other = DeviceKey::new([7, 8].repeat(16).try_into().unwrap()).unwrap();
    for guess in 0..5 {
        let frame = victim.stop(guess, &other);
        let said = victim.send(&frame);
        let locked = matches!(refusal(&said), Some(Refusal::LockedOut(_)));
        assert_eq!(locked, guess == 4, "guess {guess}: {:?}", refusal(&said));
    }
    victim.upload(10).unwrap();
    victim.order(11, Task::Stop).unwrap();
    assert_eq!(victim.stops(), 1);
    let frame = victim.stop(12, &other);
    let said = victim.send(&frame);
    assert!(matches!(refusal(&said), Some(Refusal::LockedOut(1..=10))), "the lock-out goes on");
}

/// Bytes without end, frames without end, and halves: the device ticks on, and hears the next
/// good frame.
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
