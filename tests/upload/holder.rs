//! An attacker who holds the key. They can upload any programme that this furnace may run, and stop a
//! firing. They cannot start heat, clear a trip or raise a limit.

use saggar_core::Cause;
use saggar_core::programme::{Action, DIGEST_BYTES, ProgrammeImage, Step, VacuumStage, verify};
use saggar_device::wire::{Answer, CHUNK_BYTES, Order, Query, Refusal, Subscription, pledge};
use sha2::{Digest, Sha256};

use super::client::{Client, ask};
use super::support::{Bed, Dice};
use crate::support::{furnace, image};

/// State of the furnace when they connect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Moment {
    Idle,
    Firing,
    Tripped,
    Ended,
}

/// What a campaign covered, so that it cannot pass without effect.
#[derive(Debug, Default)]
struct Seen {
    cases: u32,
    orders: u32,
    committed: u32,
    forbidden: u32,
    no_programme: u32,
    firing: u32,
    stopped: u32,
    compared: u32,
    /// Start was pressed with an unconfirmed programme.
    unseen: u32,
}

/// Bytes of a programme that may run, of one that may not, or of none.
fn programme(dice: &mut Dice) -> Vec<u8> {
    let steps: Vec<Step> = (0..1 + dice.below(8)).map(|_| any_step(dice)).collect();
    let mut bytes = image(&steps).bytes().to_vec();
    match dice.below(5) {
        0 => {
            let at = dice.below(bytes.len());
            bytes[at] = dice.roll() as u8;
        }
        1 => bytes = (0..1 + dice.below(1024)).map(|_| dice.roll() as u8).collect(),
        _ => {}
    }
    bytes
}

fn any_step(dice: &mut Dice) -> Step {
    let to_mc = match dice.below(12) {
        0 => i32::MAX,
        1 => 1_181_000,
        2 => -300_000,
        _ => 100_000 + dice.below(1000) as i32 * 1000,
    };
    let fast = if dice.below(10) == 0 { u32::MAX } else { 30_000 };
    let long = if dice.below(10) == 0 { u32::MAX } else { 60_000 };
    let action = match dice.below(8) {
        0..4 => Action::Ramp { to_mc, rate_mk_per_min: fast },
        4 => Action::Soak { duration_ms: long, band_mk: 10_000, band_timeout_ms: 60_000 },
        5 => Action::Cool { below_mc: to_mc },
        6 => Action::MoveClosure { open: dice.below(2) == 0, dwell_ms: 1000 },
        _ => Action::Hold { timeout_ms: long, continue_on_timeout: dice.below(2) == 0 },
    };
    let stage = VacuumStage { from_mc: to_mc, to_pa: 5000, within_ms: 30_000 };
    Step::new(action, (dice.below(6) == 0).then_some(stage))
}

fn digest(bytes: &[u8]) -> [u8; DIGEST_BYTES] {
    Sha256::digest(bytes).into()
}

/// The refusal that the client's own check predicts; `None` if the programme may run.
fn expected(bytes: &[u8], name: &[u8; DIGEST_BYTES]) -> Option<Refusal> {
    match ProgrammeImage::from_bytes_with_digest(bytes, name) {
        Err(why) => Some(Refusal::BadProgramme(why)),
        Ok(image) => {
            let findings = verify(&image, &furnace());
            let count = findings.list.len() as u16 + findings.dropped;
            findings.list.first().map(|first| Refusal::Forbidden { first: *first, count })
        }
    }
}

fn at(moment: Moment, programme: &ProgrammeImage) -> Bed {
    let mut bed = Bed::of(&super::support::settings(), Some(programme));
    match moment {
        Moment::Idle => {}
        Moment::Firing => bed.fire(),
        Moment::Tripped => {
            bed.fire();
            bed.unplugged = true;
            bed.run(40);
            bed.unplugged = false;
            bed.run(5);
        }
        Moment::Ended => {
            bed.fire();
            bed.press(|buttons| buttons.stop = true);
        }
    }
    bed
}

/// One attacker at one device.
struct Case<'a> {
    moment: Moment,
    bed: Bed,
    /// The same device without a client, until the attacker stops the firing.
    calm: Option<Bed>,
    client: Client,
    seen: &'a mut Seen,
}

impl Case<'_> {
    fn tick(&mut self) {
        let out = self.bed.tick();
        if let Some(calm) = &mut self.calm {
            assert_eq!(out, calm.tick(), "the line changed an output");
            self.seen.compared += 1;
        }
        if self.moment != Moment::Firing {
            assert_eq!(out.heater_cycles, 0, "heat without the button");
            let announced = self.bed.device.announcement().unconfirmed;
            assert!(!out.contactor && (announced || !out.lamp));
        }
        if self.moment == Moment::Tripped {
            assert_eq!(self.bed.tripped(), Some(Cause::SensorOpen));
        }
    }

    /// Sends an order in sequence and returns the answer.
    fn order(&mut self, order: &Order<'_>) -> Answer {
        // No more than a tick's budget.
        self.tick();
        let replies = self.bed.exchange(&self.client.clone().order(order));
        self.client.next += 1;
        self.seen.orders += 1;
        let answer = self.client.answer(&replies).expect("well sealed, in its place");
        let upload = !matches!(order, Order::Stop);
        if upload && self.bed.device.controller().status().step.is_some() {
            assert_eq!(answer, Answer::Refused(Refusal::FiringRunning), "{order:?}");
            self.seen.firing += 1;
        }
        answer
    }

    fn upload(&mut self, dice: &mut Dice) {
        let bytes = programme(dice);
        let mut name = digest(&bytes);
        if dice.below(10) == 0 {
            name[dice.below(32)] ^= 1;
        }
        let furnace = self.bed.furnace();
        let length = bytes.len() as u16;
        let begun = self.order(&Order::Begin { bytes: length, digest: name, furnace });
        let mut offset = 0;
        for data in bytes.chunks(CHUNK_BYTES) {
            self.order(&Order::Chunk { offset, data });
            offset += data.len() as u16;
        }
        let before = self.bed.device.controller().programme().cloned();
        let answer = self.order(&Order::Commit { digest: name });
        if begun != Answer::Begun {
            return;
        }
        match expected(&bytes, &name) {
            None => {
                assert_eq!(answer, Answer::Committed { digest: name });
                self.seen.committed += 1;
            }
            Some(why) => {
                assert_eq!(answer, Answer::Refused(why), "not what the client's check says");
                assert_eq!(self.bed.device.controller().programme(), before.as_ref());
                let forbidden = matches!(why, Refusal::Forbidden { .. });
                self.seen.forbidden += u32::from(forbidden);
                self.seen.no_programme += u32::from(!forbidden);
            }
        }
    }

    fn stop(&mut self) {
        assert_eq!(self.order(&Order::Stop), Answer::Stopping);
        self.calm = None;
        self.bed.tick();
        assert!(self.bed.device.controller().status().step.is_none());
        self.moment = if self.moment == Moment::Firing { Moment::Ended } else { self.moment };
        self.seen.stopped += 1;
    }

    /// Sends anything else.
    fn anything(&mut self, dice: &mut Dice) {
        let data: Vec<u8> = (0..dice.below(240)).map(|_| dice.roll() as u8).collect();
        let name = digest(&data);
        match dice.below(11) {
            0 => drop(self.order(&Order::Chunk { offset: dice.roll() as u16, data: &data })),
            1 => drop(self.order(&Order::Commit { digest: name })),
            2 => {
                let (bytes, furnace) = (dice.roll() as u16, self.bed.furnace());
                self.order(&Order::Begin { bytes, digest: name, furnace });
            }
            3 => {
                let begin = Order::Begin { bytes: 100, digest: name, furnace: name };
                self.order(&begin);
            }
            4 => {
                let far = self.client.next.wrapping_add(dice.roll() as u32 | 1);
                self.bed.exchange(&self.client.order_at(far, &Order::Commit { digest: name }));
            }
            5 => self.client = self.bed.connect().0,
            6 => drop(self.order(&Order::Pledge { hash: pledge(&[1; 16]) })),
            7 => drop(self.order(&Order::Reveal { number: [dice.below(2) as u8; 16] })),
            _ => {
                let question = match dice.below(5) {
                    0 => Query::Status,
                    1 => Query::Subscribe(Subscription { ticks: true, status: true }),
                    2 => Query::Log { from: dice.roll() as u32 },
                    3 => Query::Programme { offset: dice.roll() as u16 },
                    _ => Query::Furnace { offset: dice.roll() as u16 },
                };
                self.bed.exchange(&ask(&question));
            }
        }
    }
}

fn case(dice: &mut Dice, moment: Moment, programme: &ProgrammeImage, seen: &mut Seen) {
    let mut bed = at(moment, programme);
    let calm = (moment == Moment::Firing).then(|| at(moment, programme));
    let (client, hello) = bed.connect();
    let settings = bed.chip.bytes().split_off(50 * 128);
    seen.cases += 1;
    let mut case = Case { moment, bed, calm, client, seen };
    for _ in 0..2 + dice.below(10) {
        match dice.below(8) {
            0..3 => case.upload(dice),
            3 if dice.below(3) == 0 => case.stop(),
            4 => (0..dice.below(20)).for_each(|_| case.tick()),
            _ => case.anything(dice),
        }
        case.tick();
    }
    assert_eq!(case.bed.furnace(), hello.furnace);
    assert_eq!(case.bed.chip.bytes()[50 * 128..], settings, "settings");
    if case.bed.device.announcement().unconfirmed {
        case.bed.press(|buttons| buttons.start = true);
        case.tick();
        case.seen.unseen += 1;
    }
    if moment == Moment::Tripped {
        case.bed.reboot();
        assert_eq!(case.bed.tripped(), Some(Cause::SensorOpen));
    }
    if let Some(image) = case.bed.device.controller().programme() {
        assert!(verify(image, &furnace()).is_empty());
    }
}

#[test]
fn holder_of_the_key_cannot_start_heat() {
    let mut dice = Dice(0xbad_deed);
    let mut seen = Seen::default();
    let programme = super::support::first_programme();
    for _ in 0..1000 {
        for moment in [Moment::Idle, Moment::Firing, Moment::Tripped, Moment::Ended] {
            case(&mut dice, moment, &programme, &mut seen);
        }
    }
    println!("{seen:?}");
    let Seen { committed, forbidden, no_programme, firing, stopped, compared, unseen, .. } =
        seen;
    let all = [committed, forbidden, no_programme, firing, stopped, compared / 10, unseen];
    assert!(all.into_iter().all(|count| count > 500), "{all:?}");
}
