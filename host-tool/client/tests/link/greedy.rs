//! Devices that answer questions without end: what is read of them, and for how long, is bounded.

use std::time::Duration;

use saggar_client::link::{
    FetchQuery, FetchTarget, LinkError, LogQuery, QueryTransaction, Timeouts, Transaction,
};
use saggar_device::wire::{
    Chunk, FRAME_BYTES_MAX, FrameKind, LogEntry, LogEvent, Notice, Query, decode_frame,
    encode_frame,
};

/// Runs an exchange with a device that answers every question after 0.9 seconds with what `answer`
/// makes of it. How long it took, how many answers there were, and what came of it.
fn run<E: Transaction>(
    exchange: &mut E,
    mut answer: impl FnMut(&Query) -> Vec<u8>,
) -> (Duration, u32, Result<E::Output, LinkError>) {
    let (mut now, mut answers) = (Duration::ZERO, 0);
    let mut frame = [0; FRAME_BYTES_MAX];
    loop {
        let asked = exchange.transmit(now, &mut frame);
        if let Some(outcome) = exchange.take_result() {
            return (now, answers, outcome);
        }
        let Some(bytes) = asked else {
            now = exchange.poll_at().max(now + Duration::from_millis(1));
            continue;
        };
        let ask = decode_frame(&mut frame[..bytes - 1]).unwrap().message::<Query>().unwrap();
        now += Duration::from_millis(900);
        let mut told = answer(&ask);
        let end = told.len() - 1;
        exchange.receive(now, &decode_frame(&mut told[..end]).unwrap());
        answers += 1;
        assert!(answers < 1_000_000, "it does not end");
    }
}

fn tell(tell: &Notice<'_>) -> Vec<u8> {
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes = encode_frame(FrameKind::Notice, None, tell, &mut frame).unwrap();
    frame[..bytes].to_vec()
}

#[test]
fn chunks_that_are_too_small_are_refused() {
    for what in [FetchTarget::Programme, FetchTarget::Furnace] {
        for (of, bytes) in [(1024u16, 1usize), (280, 239), (u16::MAX, 240), (4096, 240)] {
            let (took, answers, outcome) = run(
                &mut QueryTransaction::new(FetchQuery::new(what), Timeouts::for_baud(115_200)),
                |ask| {
                    let (Query::Programme { offset } | Query::Furnace { offset }) = *ask else {
                        panic!("{ask:?}");
                    };
                    let whole = vec![7; usize::from(of)];
                    let data = &whole[usize::from(offset)..];
                    let piece =
                        Chunk { offset, total: of, data: &data[..bytes.min(data.len())] };
                    match what {
                        FetchTarget::Programme => tell(&Notice::Programme(piece)),
                        FetchTarget::Furnace => tell(&Notice::Furnace(piece)),
                    }
                },
            );
            println!("{what:?}, {bytes} of {of}: {answers} answers, {took:?}, {outcome:?}");
            assert!(
                matches!(outcome, Err(LinkError::InvalidReply(_))),
                "{what:?} {of}: {outcome:?}"
            );
            assert!(answers == 1, "{what:?}, {bytes} of {of}: {answers} answers");
        }
    }
}

#[test]
fn an_endless_log_is_given_up() {
    for lines in [1, 8] {
        let mut log = QueryTransaction::new(LogQuery::new(0), Timeouts::for_baud(115_200));
        let (took, answers, outcome) = run(&mut log, |ask| {
            let Query::Log { from } = *ask else { panic!("{ask:?}") };
            let line = |number| LogEntry { number, boot: 1, at_s: 0, event: LogEvent::Booted };
            let lines = (from..from + lines).map(line).collect();
            tell(&Notice::Log { next: u32::MAX, lines })
        });
        println!("{lines} lines a frame: {answers} answers, {took:?}");
        assert!(
            matches!(outcome, Err(LinkError::InvalidReply(_))),
            "{:?}",
            outcome.map(|log| log.len())
        );
        assert!(answers * lines <= 16_400, "{answers} answers");
        assert!(took < Duration::from_secs(1300), "{took:?}");
    }
}
