//! A client without the key can read and change nothing.

use saggar_device::link::LOCK_OUT_MS;
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{FrameKind, Order, PROTOCOL, Query, Refusal, Subscription};

use super::client::{Client, ask, opened, refusals};
use super::raw;
use super::support::{Bed, Dice, OTHER_KEY, first_programme, second_programme};

/// One frame that a client without the key may send.
fn attempt(dice: &mut Dice, bed: &mut Bed, client: &mut Client, furnace: [u8; 32]) -> Vec<u8> {
    match dice.below(8) {
        0 => client.hello(dice.roll() as u8),
        1 => {
            let greeting = client.hello(dice.roll() as u8);
            let replies = bed.exchange(&greeting);
            client.accept_greeting(&replies);
            vec![0]
        }
        2 => client.order(&Order::Stop),
        3 => client.upload(&second_programme(), furnace).concat(),
        4 => {
            let sequence = dice.roll() as u32;
            client.order_at(sequence, &Order::Stop)
        }
        5 => ask(&match dice.below(4) {
            0 => Query::Subscribe(Subscription { ticks: true, status: true }),
            1 => Query::Log { from: dice.roll() as u32 },
            2 => Query::Programme { offset: dice.roll() as u16 },
            _ => Query::Furnace { offset: dice.roll() as u16 },
        }),
        6 => {
            let mut body = vec![PROTOCOL, 1 + dice.below(5) as u8];
            body.extend((0..dice.below(290)).map(|_| dice.roll() as u8));
            raw::framed(&body)
        }
        _ => (0..dice.below(400)).map(|_| dice.roll() as u8).collect(),
    }
}

/// Outputs are as without it and flash is not written: lock-outs are only counted.
#[test]
fn client_without_the_key_changes_nothing() {
    let mut dice = Dice(0x57a6);
    let (mut attempts, mut locks) = (0, 0);
    for case in 0..1500 {
        let (mut bed, mut calm) = (Bed::new(), Bed::new());
        if case % 3 == 0 {
            bed.fire();
            calm.fire();
        }
        let mut client = Client::new(DeviceKey::new(OTHER_KEY).unwrap());
        let (_, hello) = bed.connect();
        let greeting = client.hello(1);
        let replies = bed.exchange(&greeting);
        client.accept_greeting(&replies);
        let before = bed.chip.spent();
        for _ in 0..20 {
            let bytes = attempt(&mut dice, &mut bed, &mut client, hello.furnace);
            bed.send(&bytes);
            bed.send(&[0]);
            attempts += 1;
            let replies = bed.replies();
            for said in &replies {
                assert!(opened(said, |body| body.kind == FrameKind::Notice), "an answer");
            }
            locks += u64::from(refusals(&replies).contains(&Refusal::LockedOut(10)));
            assert_eq!(bed.tick(), calm.tick());
            if case % 3 != 0 {
                bed.millis += LOCK_OUT_MS / 4;
                calm.millis += LOCK_OUT_MS / 4;
            }
        }
        assert_eq!(bed.chip.spent(), before);
        assert_eq!(bed.device.controller().programme(), Some(&first_programme()));
    }
    println!("{attempts} attempts, {locks} locks");
    assert!(locks > 1000);
}
