//! A trip survives power failures, whatever fills the log, until it is accepted at the device.

use saggar_core::Cause;
use saggar_core::events::EventKind;
use saggar_core::programme::Action;
use saggar_core::units::Instant;
use saggar_device::link::{LOCK_OUT_MS, WRONG_SEALS_MAX};
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{LogEvent, Order};

use super::client::Client;
use super::support::{Bed, OTHER_KEY, second_programme};
use crate::support::{image, ramp, step};

/// A device that tripped because its control thermocouple was unplugged.
fn tripped() -> Bed {
    let mut bed = Bed::new();
    bed.fire();
    bed.unplugged = true;
    bed.run(50);
    bed.unplugged = false;
    bed.run(10);
    assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
    bed
}

fn accept(bed: &mut Bed) {
    bed.press(|buttons| buttons.confirm = true);
    assert_eq!(bed.tripped(), None);
}

#[test]
fn power_failure_does_not_clear_a_trip() {
    let mut bed = tripped();
    for _ in 0..3 {
        bed.reboot();
        assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
        bed.press(|buttons| buttons.start = true);
        bed.run(20);
        assert!(bed.out.heater_cycles == 0 && bed.device.controller().status().step.is_none());
    }
    accept(&mut bed);
    bed.fire();
    bed.reboot();
    assert_eq!(bed.tripped(), None, "accepted once is accepted");
}

#[test]
fn orders_do_not_clear_a_trip() {
    let mut bed = tripped();
    let (mut client, hello) = bed.connect();
    let image = second_programme();
    let mut frames = client.upload(&image, hello.furnace);
    frames.push(client.order(&Order::Stop));
    for frame in frames {
        bed.send(&frame);
        bed.tick();
        assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
    }
    assert_eq!(bed.device.controller().programme(), Some(&image));
    bed.reboot();
    assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
    accept(&mut bed);
}

/// Boots are recorded as well, and the journal erases one of its two regions at each rotation.
#[test]
fn restarts_do_not_displace_a_trip_from_the_log() {
    let mut bed = tripped();
    let lines = 16 * 128 / 16;
    for _ in 0..3 * lines {
        bed = Bed::boot(bed.chip.clone()).unwrap();
        assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
    }
    // With ticks, in which the journal is rotated early.
    for _ in 0..2 * lines {
        bed = Bed::boot(bed.chip.clone()).unwrap();
        bed.run(2);
    }
    assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
    bed.run(20);
    accept(&mut bed);
    for _ in 0..3 * lines {
        bed = Bed::boot(bed.chip.clone()).unwrap();
        assert_eq!(bed.tripped(), None);
    }
}

/// Without the key one can cause one entry, but no second one after it.
#[test]
fn lock_outs_do_not_displace_a_trip_from_the_log() {
    let mut bed = tripped();
    bed.connect();
    let mut stranger = Client::new(DeviceKey::new(OTHER_KEY).expect("a key"));
    let greeting = stranger.hello(3);
    let before = bed.log().last().map(|line| line.number).unwrap();
    let locks = 600;
    for _ in 0..locks {
        let replies = bed.exchange(&greeting);
        stranger.accept_greeting(&replies);
        for _ in 0..WRONG_SEALS_MAX + 20 {
            let guess = stranger.order(&Order::Stop);
            bed.send(&guess);
        }
        bed.tick();
        bed.millis += LOCK_OUT_MS;
        bed.tick();
    }
    let last = bed.log().last().copied().unwrap();
    assert_eq!(last.number, before + 1);
    assert!(matches!(last.event, LogEvent::LockOuts(count) if count > 300), "{last:?}");
    bed.reboot();
    assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
}

/// The power fails at any moment of the boots that rotate the journal.
#[test]
fn power_failures_do_not_displace_a_trip_from_the_log() {
    let mut bed = tripped();
    bed = Bed::boot(bed.chip.clone()).unwrap();
    let (mut cuts, mut last) = (0, 0);
    for round in 0..3000u64 {
        // Half a dozen records of 16 bytes, and now and then the erase of a region.
        bed.chip.0.borrow_mut().revive(round * 37 % 230);
        match Bed::boot(bed.chip.clone()) {
            Ok(mut up) => {
                assert_eq!(up.tripped(), Some(Cause::SensorOpen), "round {round}");
                up.device.step(Instant::from_millis(100), &Default::default(), |_| {});
            }
            Err(why) => panic!("round {round}: {why:?}"),
        }
        cuts += u32::from(bed.chip.spent() == round * 37 % 230);
        bed.chip.0.borrow_mut().revive(u64::MAX);
        let mut whole = Bed::boot(bed.chip.clone()).unwrap();
        assert_eq!(whole.tripped(), Some(Cause::SensorOpen), "round {round}");
        let hello = whole.connect().1;
        assert!(hello.boot > last, "round {round}: a boot's number came twice");
        last = hello.boot;
    }
    println!("{cuts} restarts of 3000 were cut");
    assert!(cuts > 500);
}

/// A firing keeps log entries free for its end, so that a trip erases nothing before heat is off.
#[test]
fn no_erase_delays_a_trip() {
    // The last programmes have more steps than the log has space.
    for questions in [0, 20, 60] {
        let asks = (0..questions)
            .map(|_| Action::Hold { timeout_ms: 600_000, continue_on_timeout: false });
        let steps = [ramp(40, 30)].into_iter().chain(asks).chain([ramp(900, 30)]);
        let steps: Vec<_> = steps.map(step).collect();
        let mut bed = Bed::of(&super::support::settings(), Some(&image(&steps)));
        for _ in 0..150 {
            // Until both regions are used.
            bed.reboot();
        }
        bed.fire();
        let answered = Some(questions + 1);
        for _ in 0..2000 {
            if bed.device.controller().status().step != answered {
                bed.press(|buttons| buttons.confirm = true);
            }
        }
        assert_eq!(bed.device.controller().status().step, answered);
        let erases = |bed: &Bed| bed.chip.0.borrow().erases.iter().sum::<u32>();
        let before = erases(&bed);
        bed.unplugged = true;
        while bed.tripped().is_none() {
            bed.tick();
        }
        assert_eq!(erases(&bed), before, "after {questions} questions it waited for an erase");
        bed.unplugged = false;
        let cause = Cause::SensorOpen;
        assert_eq!(bed.logged(LogEvent::Core(EventKind::Tripped(cause))), 1);
        let lost = bed.log().iter().any(|line| matches!(line.event, LogEvent::EntriesLost(_)));
        assert_eq!(lost, questions == 60, "what had no room is counted");
        bed.reboot();
        assert_eq!(bed.tripped(), Some(cause));
    }
}
