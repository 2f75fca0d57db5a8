//! Replay of everything that a client ever sent.

use saggar_device::DeviceSettings;
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{Answer, FrameKind, LogEvent, Order};

use super::client::{Client, opened};
use super::support::{Bed, Dice, ID, KEY, OTHER_KEY, SALT, first_programme, second_programme};
use crate::support::furnace;

/// Sessions that are recorded.
const SESSIONS: usize = 1000;

/// Their frames, and the device that received them.
fn recorded() -> (Bed, Vec<Vec<Vec<u8>>>) {
    let mut dice = Dice(0xda7a);
    let mut bed = Bed::new();
    let images = [first_programme(), second_programme()];
    let mut sessions = Vec::new();
    for session in 0..SESSIONS {
        if session % 100 == 99 {
            bed.reboot();
        }
        let mut client = Client::new(DeviceKey::new(KEY).expect("a key"));
        let greeting = client.hello((session % 251) as u8);
        let replies = bed.exchange(&greeting);
        let hello = client.accept_greeting(&replies);
        let mut frames = vec![greeting];
        if dice.below(4) > 0 {
            frames.extend(client.upload(&images[session % 2], hello.furnace));
        }
        if dice.below(3) == 0 {
            frames.push(client.order(&Order::Stop));
        }
        for frame in &frames[1..] {
            let replies = bed.exchange(frame);
            assert!(!matches!(client.answer(&replies), None | Some(Answer::Refused(_))));
        }
        bed.tick();
        sessions.push(frames);
    }
    (bed, sessions)
}

/// Replays all of it, which must have no effect.
fn again(what: &str, bed: &mut Bed, sessions: &[Vec<Vec<u8>>]) {
    let programme = bed.device.controller().programme().cloned();
    let last = bed.log().last().map_or(0, |line| line.number);
    let (mut answers, mut orders) = (0, 0);
    let spent = bed.chip.spent();
    for frames in sessions {
        for frame in frames {
            orders += u64::from(opened(frame, |body| body.kind == FrameKind::Order));
            for said in bed.exchange(frame) {
                answers += u64::from(opened(&said, |body| body.kind == FrameKind::Answer));
            }
        }
        bed.millis += 10_000;
        assert_eq!(bed.tick().heater_cycles, 0);
    }
    let spent = bed.chip.spent() - spent;
    println!("{what}: {orders} orders again, {answers} answers, {spent} bytes of flash");
    assert_eq!(answers, 0, "{what}");
    assert_eq!(bed.device.controller().programme(), programme.as_ref(), "{what}");
    // At most a log entry on lock-outs.
    let mut lines = bed.log();
    lines.retain(|line| line.number > last);
    assert!(lines.iter().all(|line| matches!(line.event, LogEvent::LockOuts(_))), "{what}");
    assert!(spent <= 16, "{what}: {spent}");
}

#[test]
fn replayed_sessions_have_no_effect() {
    let (mut bed, sessions) = recorded();
    let orders: usize = sessions.iter().map(|frames| frames.len() - 1).sum();
    println!("{} sessions, {orders} orders", sessions.len());
    // The last session is still open: its orders are known and have no effect.
    let last = sessions.last().unwrap();
    let spent = bed.chip.spent();
    for frame in last {
        bed.exchange(frame);
    }
    assert_eq!(bed.chip.spent(), spent);
    again("the same device", &mut bed, &sessions[..SESSIONS - 1]);
    bed.reboot();
    again("after a restart", &mut bed, &sessions);

    let other = |key, salt| DeviceSettings::new(ID, Some(key), salt, furnace());
    let mut fresh = Bed::of(&other(OTHER_KEY, SALT), Some(&first_programme()));
    again("another key", &mut fresh, &sessions);
    // An erased flash restarts the boot counter, but the salt drawn with the key is a new one.
    let mut renewed = Bed::of(&other(KEY, *b"drawn once again"), Some(&first_programme()));
    again("the same key, set again on a new flash", &mut renewed, &sessions);
    bed.chip.provision(&other(KEY, *b"drawn a 3rd time"));
    bed.reboot();
    again("the same key, set again", &mut bed, &sessions);
}
