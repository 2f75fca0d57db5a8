//! The orders that exist, and that no message is too long for a frame.

use heapless::Vec;
use saggar_core::controller::SNAPSHOT_BYTES_MAX;
use saggar_core::controller::{Bookmark, StartError};
use saggar_core::events::EventKind;
use saggar_core::interlock::Cause;
use saggar_core::programme::{Violation, ViolationKind};
use saggar_core::sequencer::{Ending, Wait};
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{
    Answer, CHUNK_BYTES, Chunk, DeviceStatus, FrameKind, Hello, LogEntry, LogEvent, Notice,
    Order, Origin, Query, Refusal, Tick,
};

use super::client::{ask, frame};
use super::support::KEY;

/// An order of every kind.
pub(super) fn one_of_each_order() -> [Order<'static>; 6] {
    [
        Order::Begin { bytes: 0, digest: [0; 32], furnace: [0; 32] },
        Order::Chunk { offset: 0, data: &[] },
        Order::Commit { digest: [0; 32] },
        Order::Stop,
        Order::Pledge { hash: [0; 32] },
        Order::Reveal { number: [0; 16] },
    ]
}

/// A new order does not compile here, as a reminder that none may start heat, accept a trip, or change
/// the furnace's data.
#[test]
fn there_are_exactly_six_orders() {
    let all = one_of_each_order();
    let variant = |order: &Order<'_>| match order {
        Order::Begin { .. } => 0u8,
        Order::Chunk { .. } => 1,
        Order::Commit { .. } => 2,
        Order::Stop => 3,
        Order::Pledge { .. } => 4,
        Order::Reveal { .. } => 5,
    };
    let mut room = [0; 300];
    for (number, order) in (0u8..).zip(&all) {
        let bytes = postcard::to_slice(order, &mut room).unwrap();
        assert_eq!((variant(order), bytes[0]), (number, number));
    }
    for number in 6..=u8::MAX {
        let mut bytes = [1; 300];
        bytes[0] = number;
        assert!(postcard::from_bytes::<Order<'_>>(&bytes).is_err(), "{number}");
    }
}

fn longest_status() -> DeviceStatus {
    DeviceStatus {
        at_ms: u64::MAX,
        programme: Some([255; 4]),
        step: Some(255),
        setpoint_mc: Some(i32::MIN),
        reading_mc: Some(i32::MIN),
        pressure_pa: Some(u32::MAX),
        cycles: 255,
        cycles_per_tick: 255,
        operator_wanted: true,
        tripped: Some(Cause::ProgrammeChanged),
        ended: Some(Ending::Tripped(Cause::ProgrammeChanged)),
        log_next: u32::MAX,
        bad_frames: u32::MAX,
        damaged: true,
        steps: 64,
        limit_mc: Some(i32::MIN),
        shut: true,
        open: true,
        contactor_closed: true,
        heater_current_ma: Some(u32::MAX),
        may_open: true,
        waiting: Some(Wait::Vacuum),
        interrupted: Some(Bookmark {
            step: 63,
            gathered_s: u16::MAX,
            reading_c: i16::MIN,
            flags: u8::MAX,
        }),
        start_error: Some(StartError::Tripped(Cause::ProgrammeChanged)),
        heater_weak: true,
    }
}

fn refused() -> Refusal {
    let fault = ViolationKind::TooHot { to_mc: i32::MIN, max_mc: i32::MIN };
    Refusal::Forbidden { first: Violation { step: Some(255), kind: fault }, count: u16::MAX }
}

/// With every number at its longest encoding.
#[test]
fn the_longest_messages_fit() {
    let full = [255; CHUNK_BYTES];
    let piece = Chunk { offset: u16::MAX, total: u16::MAX, data: &full };
    let what = LogEvent::Core(EventKind::FiringEnded(Ending::Tripped(Cause::ProgrammeChanged)));
    let line = LogEntry { number: u32::MAX, boot: u32::MAX, at_s: u32::MAX, event: what };
    let entries: Vec<LogEntry, 8> = core::iter::repeat_n(line, 8).collect();
    let origin = Origin {
        number: u32::MAX,
        programme: Some([255; 32]),
        memory: &[255; SNAPSHOT_BYTES_MAX],
    };
    let hello = Hello {
        device: [255; 8],
        nonce: [255; 16],
        has_key: true,
        version: [255; 3],
        boot: u32::MAX,
        furnace: [255; 32],
        programme: Some([255; 32]),
        window: 255,
    };
    let channel = saggar_core::io::ThermocoupleSample {
        emf_nv: i32::MIN,
        cold_junction_mc: i32::MIN,
        open: true,
        age_ms: u16::MAX,
    };
    let inputs = saggar_core::Inputs {
        control: Some(channel),
        limit: Some(channel),
        pressure_pa: Some(u32::MAX),
        heater_current_ma: Some(u32::MAX),
        ..Default::default()
    };
    let tick = Tick::new(u32::MAX, u64::MAX, &inputs, &saggar_core::Outputs::default());
    let tells = [
        Notice::Hello(hello),
        Notice::Status(longest_status()),
        Notice::Origin(origin),
        Notice::Tick(tick),
        Notice::Log { next: u32::MAX, entries },
        Notice::Programme(piece),
        Notice::Furnace(piece),
        Notice::Refused(refused()),
    ];
    // `frame` panics if one does not fit.
    let lengths: std::vec::Vec<_> =
        tells.iter().map(|tell| frame(FrameKind::Notice, None, tell).len()).collect();
    println!("tells: {lengths:?}");
    let seal = DeviceKey::new(KEY).unwrap().session_key(&[0; 8], &[0; 16], &[0; 16]);
    let sealed = Some((u32::MAX, &seal));
    frame(FrameKind::Order, sealed, &Order::Chunk { offset: u16::MAX, data: &full });
    frame(
        FrameKind::Order,
        sealed,
        &Order::Begin { bytes: u16::MAX, digest: [255; 32], furnace: [255; 32] },
    );
    for answer in [Answer::Committed { digest: [255; 32] }, Answer::Refused(refused())] {
        frame(FrameKind::Answer, sealed, &answer);
    }
    ask(&Query::Hello { nonce: [255; 16] });
}

#[test]
fn tick_survives_packing_into_words() {
    let inputs = saggar_core::Inputs {
        control: Some(saggar_core::io::ThermocoupleSample {
            emf_nv: -1_234_567,
            cold_junction_mc: -9_000,
            open: true,
            age_ms: 65_535,
        }),
        limit: None,
        pressure_pa: Some(u32::MAX),
        heater_current_ma: Some(1),
        ..Default::default()
    };
    let outputs =
        saggar_core::Outputs { heater_cycles: 0xA5, buzzer: true, ..Default::default() };
    let tick = Tick::new(u32::MAX, u64::MAX - 7, &inputs, &outputs);
    let back = Tick::from_words(tick.words());
    assert_eq!(back, tick);
    assert_eq!((back.inputs(), back.outputs()), (inputs, outputs));
}
