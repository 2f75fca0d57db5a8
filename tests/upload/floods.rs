//! Strangers who greet and guess without end, and the owner who comes through all the same.

use saggar_device::link::{BYTES_PER_TICK, LOCK_OUT_MS, WRONG_SEALS_MAX};
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{Answer, Order, Refusal};

use super::desk::{Desk, refusals};
use super::raw;
use super::seals::two;
use super::support::{Bed, KEY, OTHER_KEY, second_programme};

/// Frames of strangers in a tick: a line of 115,200 bit/s is full with 46 greetings.
const FRAMES: usize = 46;

/// What strangers send between two frames of the owner.
#[derive(Clone, Copy, Debug)]
enum Flood {
    Greetings,
    WrongSeals,
    Both,
}

const FLOODS: [Flood; 3] = [Flood::Greetings, Flood::WrongSeals, Flood::Both];

/// A tick's worth of it, and the tick. Nobody reads what the device says to them.
fn flood(bed: &mut Bed, kind: Flood, draw: &mut u8) {
    let mut stranger = Desk::new(DeviceKey::new(OTHER_KEY).expect("a key"));
    let mut sent = 0;
    for frame in 0..FRAMES {
        *draw = draw.wrapping_add(1).max(1);
        let greets = match kind {
            Flood::Greetings => true,
            Flood::WrongSeals => false,
            Flood::Both => frame % 2 == 0,
        };
        let greeting = stranger.hello(*draw);
        let frame = if greets {
            greeting
        } else {
            // An order of no session at all.
            raw::framed(&[&[1, 2][..], &[0; 4], &[3], &[*draw; 16]].concat())
        };
        sent += frame.len();
        bed.exchange(&frame);
    }
    assert!(sent < usize::from(BYTES_PER_TICK), "{sent} bytes leave the owner no room");
    bed.tick();
}

/// The owner greets, hears the answer a tick later, and then says each frame in a tick of its own,
/// with the flood before it. The first order comes right behind the greeting, said once more.
fn through(bed: &mut Bed, kind: Flood, orders: &[Order<'_>]) -> Vec<Answer> {
    let mut draw = 1;
    flood(bed, kind, &mut draw);
    let mut desk = Desk::new(DeviceKey::new(KEY).expect("a key"));
    let greeting = desk.hello(0);
    let heard = bed.exchange(&greeting);
    desk.meet(&heard);
    let mut answers = Vec::new();
    for (index, order) in orders.iter().enumerate() {
        flood(bed, kind, &mut draw);
        let mut frames = if index == 0 { greeting.clone() } else { Vec::new() };
        frames.extend(desk.order(order));
        let heard = bed.exchange(&frames);
        answers.extend(desk.answer(&heard));
    }
    answers
}

/// Whatever comes over the line, a rightly sealed stop ends the firing.
#[test]
fn a_stop_comes_through_every_flood() {
    for kind in FLOODS {
        let mut bed = Bed::new();
        bed.fire();
        assert_eq!(through(&mut bed, kind, &[Order::Stop]), [Answer::Stopping], "{kind:?}");
        bed.tick();
        assert!(bed.device.controller().status().step.is_none(), "{kind:?}");
    }
}

/// Nor do they keep a programme out.
#[test]
fn an_upload_comes_through_every_flood() {
    let image = second_programme();
    let (bytes, digest) = (image.bytes(), image.digest());
    for kind in FLOODS {
        let mut bed = Bed::new();
        let furnace = bed.furnace();
        let length = u16::try_from(bytes.len()).unwrap();
        let mut orders = vec![Order::Begin { bytes: length, digest, furnace }];
        let pieces = (0u16..).step_by(240).zip(bytes.chunks(240));
        orders.extend(pieces.map(|(offset, data)| Order::Chunk { offset, data }));
        orders.push(Order::Commit { digest });
        let answers = through(&mut bed, kind, &orders);
        assert_eq!(answers.last(), Some(&Answer::Committed { digest }), "{kind:?}");
        assert_eq!(bed.device.controller().programme(), Some(&image), "{kind:?}");
    }
}

/// A desk that does not greet again, with a few strangers between its greeting and its order.
#[test]
fn a_few_greetings_take_no_offer_away() {
    for strangers in 0..=2 {
        let mut bed = Bed::new();
        let (mut desk, _) = bed.desk();
        for draw in 1..=strangers {
            let greeting = Desk::new(DeviceKey::new(OTHER_KEY).expect("a key")).hello(draw);
            bed.exchange(&greeting);
        }
        let stop = desk.order(&Order::Stop);
        let heard = bed.exchange(&stop);
        assert_eq!(desk.answer(&heard), Some(Answer::Stopping), "{strangers} strangers");
    }
}

/// The same greeting again is the same session, until an order was taken in it.
#[test]
fn a_greeting_that_comes_twice_is_one_session() {
    let mut bed = Bed::new();
    let mut desk = Desk::new(DeviceKey::new(KEY).expect("a key"));
    let greeting = desk.hello(5);
    let heard = bed.exchange(&greeting);
    let first = desk.meet(&heard);
    let heard = bed.exchange(&greeting);
    assert_eq!(desk.meet(&heard).nonce, first.nonce);
    let stop = desk.order(&Order::Stop);
    let heard = bed.exchange(&stop);
    assert_eq!(desk.answer(&heard), Some(Answer::Stopping));
    let heard = bed.exchange(&greeting);
    let mut again = desk.clone();
    assert_ne!(again.meet(&heard).nonce, first.nonce, "a used number is never told again");
    // And the order of the first session acts no second time.
    bed.tick();
    bed.fire();
    bed.exchange(&stop);
    bed.tick();
    assert!(bed.device.controller().status().step.is_some(), "an old stop");
}

/// A lock-out is for those whose seals are wrong.
#[test]
fn the_owner_is_obeyed_during_a_lock_out() {
    let mut bed = Bed::new();
    let (mut right, mut wrong, furnace) = two(&mut bed);
    let image = second_programme();
    for frame in right.upload(&image, furnace) {
        let mut said = Vec::new();
        for _ in 0..2 * WRONG_SEALS_MAX {
            let guess = wrong.order(&Order::Stop);
            said.extend(refusals(&bed.exchange(&guess)));
        }
        let locked = |why: &Refusal| matches!(why, Refusal::LockedOut(_));
        assert!(said.iter().any(locked), "{said:?}");
        let heard = bed.exchange(&frame);
        assert!(!matches!(right.answer(&heard), None | Some(Answer::Refused(_))));
        bed.millis += LOCK_OUT_MS / 20;
        bed.tick();
    }
    assert_eq!(bed.device.controller().programme(), Some(&image));
}
