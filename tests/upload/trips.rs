//! A trip outlives the power, whatever the log is filled with, until somebody at the device
//! accepts it.

use saggar_core::Cause;
use saggar_core::events::EventKind;
use saggar_core::programme::Action;
use saggar_core::units::Instant;
use saggar_device::link::{LOCK_OUT_MS, WRONG_SEALS_MAX};
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{LogEvent, Order};

use super::desk::Desk;
use super::support::{Bed, OTHER_KEY, second_programme};
use crate::support::{image, ramp, step};

/// A device that tripped: its control channel was pulled out.
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
fn the_power_clears_no_trip() {
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
fn no_order_clears_a_trip() {
    let mut bed = tripped();
    let (mut desk, hello) = bed.desk();
    let image = second_programme();
    let mut frames = desk.upload(&image, hello.furnace);
    frames.push(desk.order(&Order::Stop));
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

/// The journal has two regions and forgets one at a turn; a restart writes lines too.
#[test]
fn restarts_push_no_trip_out_of_the_log() {
    let mut bed = tripped();
    let lines = 16 * 128 / 16;
    for _ in 0..3 * lines {
        bed = Bed::boot(bed.chip.clone()).unwrap();
        assert_eq!(bed.tripped(), Some(Cause::SensorOpen));
    }
    // With ticks, in which room is made.
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

/// A stranger without the key can have a line written, and none behind it.
#[test]
fn a_stranger_pushes_no_trip_out_of_the_log() {
    let mut bed = tripped();
    bed.desk();
    let mut stranger = Desk::new(DeviceKey::new(OTHER_KEY).expect("a key"));
    let greeting = stranger.hello(3);
    let before = bed.log().last().map(|line| line.number).unwrap();
    let locks = 600;
    for _ in 0..locks {
        let heard = bed.exchange(&greeting);
        stranger.meet(&heard);
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

/// A cut at any moment of the restarts that turn the journal.
#[test]
fn cuts_push_no_trip_out_of_the_log() {
    let mut bed = tripped();
    bed = Bed::boot(bed.chip.clone()).unwrap();
    let (mut cuts, mut last) = (0, 0);
    for round in 0..3000u64 {
        // Half a dozen lines of 16 bytes, and the erase of a region now and then.
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
        let hello = whole.desk().1;
        assert!(hello.boot > last, "round {round}: a boot's number came twice");
        last = hello.boot;
    }
    println!("{cuts} restarts of 3000 were cut");
    assert!(cuts > 500);
}

/// A firing leaves room for its own end: when it trips, nothing is erased before heat is off.
#[test]
fn a_trip_waits_for_no_erase() {
    // The last are more than the log has room for.
    for questions in [0, 20, 60] {
        let asks = (0..questions)
            .map(|_| Action::Hold { timeout_ms: 600_000, continue_on_timeout: false });
        let steps = [ramp(40, 30)].into_iter().chain(asks).chain([ramp(900, 30)]);
        let steps: Vec<_> = steps.map(step).collect();
        let mut bed = Bed::of(&super::support::settings(), Some(&image(&steps)));
        for _ in 0..150 {
            // Until both regions were used.
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
