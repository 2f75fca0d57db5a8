//! Devices that answer queries without end: the client bounds the replies it takes and the time.

use std::time::Duration;

use saggar_client::link::{
    FetchQuery, FetchTarget, LinkError, LogQuery, QueryTransaction, Timeouts, Transaction,
};
use saggar_device::wire::{
    Chunk, FRAME_BYTES_MAX, FrameKind, LogEntry, LogEvent, Notice, Query, decode_frame,
    encode_frame,
};

/// Runs a transaction with a device that replies to every query after 0.9 s with the frame that
/// `answer` returns. Returns the time, the number of replies and the result.
fn run<E: Transaction>(
    transaction: &mut E,
    mut answer: impl FnMut(&Query) -> Vec<u8>,
) -> (Duration, u32, Result<E::Output, LinkError>) {
    let (mut now, mut answers) = (Duration::ZERO, 0);
    let mut frame = [0; FRAME_BYTES_MAX];
    loop {
        let sent = transaction.transmit(now, &mut frame);
        if let Some(outcome) = transaction.take_result() {
            return (now, answers, outcome);
        }
        let Some(bytes) = sent else {
            now = transaction.poll_at().max(now + Duration::from_millis(1));
            continue;
        };
        let query = decode_frame(&mut frame[..bytes - 1]).unwrap().message::<Query>().unwrap();
        now += Duration::from_millis(900);
        let mut reply = answer(&query);
        let end = reply.len() - 1;
        transaction.receive(now, &decode_frame(&mut reply[..end]).unwrap());
        answers += 1;
        assert!(answers < 1_000_000, "it does not end");
    }
}

fn notice(notice: &Notice<'_>) -> Vec<u8> {
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes = encode_frame(FrameKind::Notice, None, notice, &mut frame).unwrap();
    frame[..bytes].to_vec()
}

#[test]
fn chunks_that_are_too_small_are_refused() {
    for target in [FetchTarget::Programme, FetchTarget::Furnace] {
        for (of, bytes) in [(1024u16, 1usize), (280, 239), (u16::MAX, 240), (4096, 240)] {
            let (took, answers, outcome) = run(
                &mut QueryTransaction::new(
                    FetchQuery::new(target),
                    Timeouts::for_baud(115_200),
                ),
                |query| {
                    let (Query::Programme { offset } | Query::Furnace { offset }) = *query
                    else {
                        panic!("{query:?}");
                    };
                    let whole = vec![7; usize::from(of)];
                    let data = &whole[usize::from(offset)..];
                    let chunk =
                        Chunk { offset, total: of, data: &data[..bytes.min(data.len())] };
                    match target {
                        FetchTarget::Programme => notice(&Notice::Programme(chunk)),
                        FetchTarget::Furnace => notice(&Notice::Furnace(chunk)),
                    }
                },
            );
            println!("{target:?}, {bytes} of {of}: {answers} answers, {took:?}, {outcome:?}");
            assert!(
                matches!(outcome, Err(LinkError::InvalidReply(_))),
                "{target:?} {of}: {outcome:?}"
            );
            assert!(answers == 1, "{target:?}, {bytes} of {of}: {answers} answers");
        }
    }
}

#[test]
fn an_endless_log_is_given_up() {
    for entries in [1, 8] {
        let mut log = QueryTransaction::new(LogQuery::new(0), Timeouts::for_baud(115_200));
        let (took, answers, outcome) = run(&mut log, |query| {
            let Query::Log { from } = *query else { panic!("{query:?}") };
            let line = |number| LogEntry { number, boot: 1, at_s: 0, event: LogEvent::Booted };
            let entries = (from..from + entries).map(line).collect();
            notice(&Notice::Log { next: u32::MAX, entries })
        });
        println!("{entries} entries a frame: {answers} answers, {took:?}");
        assert!(
            matches!(outcome, Err(LinkError::InvalidReply(_))),
            "{:?}",
            outcome.map(|log| log.len())
        );
        assert!(answers * entries <= 16_400, "{answers} answers");
        assert!(took < Duration::from_secs(1400), "{took:?}");
    }
}
