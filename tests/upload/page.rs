//! The worked session of docs/wire.md: the device answers these bytes, the code encodes and decodes
//! them, and a client that was written from the page alone builds the same frames.

use std::process::Command;

use saggar_core::programme::{Action, ProgrammeImage};
use saggar_device::wire::seal::{DeviceKey, SessionKey};
use saggar_device::wire::{
    Answer, FrameBody, FrameKind, Notice, Order, Query, decode_frame, decode_sealed,
};

use super::client::{Client, ask, frame};
use super::support::{Bed, KEY, settings};
use crate::support::{image, ramp, soak, step};

/// The page.
pub(super) const PAGE: &str = include_str!("../../docs/wire.md");

/// One frame of the worked session: `>` to the device or `<` from it, and what it is.
#[derive(Debug, PartialEq)]
struct Frame {
    label: String,
    bytes: Vec<u8>,
}

fn unhex(text: &str) -> Vec<u8> {
    text.split_whitespace().map(|two| u8::from_str_radix(two, 16).expect("hex")).collect()
}

/// The fenced block of this language in the worked session.
fn block(language: &str) -> &'static str {
    let (_, section) = PAGE.split_once("\n## A worked session\n").expect("the section");
    let (_, block) = section.split_once(&format!("\n```{language}\n")).expect("the block");
    block.split("```").next().expect("its end")
}

fn page_session() -> Vec<Frame> {
    let mut frames: Vec<Frame> = Vec::new();
    for line in block("session").lines() {
        match frames.last_mut().filter(|_| line.starts_with(' ')) {
            Some(frame) => frame.bytes.extend(unhex(line)),
            None => frames.push(Frame { label: line.to_owned(), bytes: Vec::new() }),
        }
    }
    frames
}

fn programme() -> ProgrammeImage {
    image(&[step(ramp(900, 30)), step(soak(60)), step(Action::Cool { below_mc: 200_000 })])
}

/// The same session between a client and a device, two seconds after boot.
fn real_session() -> Vec<Frame> {
    let mut bed = Bed::of(&settings(), None);
    let mut client = Client::new(DeviceKey::new(KEY).expect("a key"));
    let mut frames = Vec::new();
    let mut exchange = |sent: Vec<u8>, label: &str, answer_label: &str| {
        let mut answers = bed.exchange(&sent);
        assert_eq!(answers.len(), 1, "{label}");
        let answer = answers.remove(0);
        frames.push(Frame { label: format!("> {label}"), bytes: sent });
        frames.push(Frame { label: format!("< {answer_label}"), bytes: answer.clone() });
        answer
    };
    let image = programme();
    let answer = exchange(client.hello(7), "Query Hello", "Notice Hello");
    let hello = client.accept_greeting(&[answer]);
    let upload = client.upload(&image, hello.furnace);
    let labels = [("Begin", "Begun"), ("Chunk", "Staged"), ("Commit", "Committed")];
    for (number, (sent, (order, answer))) in upload.into_iter().zip(labels).enumerate() {
        exchange(
            sent,
            &format!("Order {number} {order}"),
            &format!("Answer {number} {answer}"),
        );
    }
    exchange(ask(&Query::Status), "Query Status", "Notice Status");
    exchange(ask(&Query::Log { from: 0 }), "Query Log", "Notice Log");
    exchange(ask(&Query::Programme { offset: 0 }), "Query Programme", "Notice Programme");
    let again = client.order(&Order::Chunk { offset: 0, data: image.bytes() });
    exchange(again, "Order 3 Chunk", "Answer 3 Refused");
    let stop = client.order(&Order::Stop);
    exchange(stop, "Order 4 Stop", "Answer 4 Stopping");
    frames
}

/// A frame as the page writes it.
fn written(frame: &Frame) -> String {
    let line = |bytes: &[u8]| {
        let hex: Vec<_> = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        format!("  {}\n", hex.join(" "))
    };
    format!("{}\n{}", frame.label, frame.bytes.chunks(32).map(line).collect::<String>())
}

#[test]
fn the_device_answers_the_session_of_the_page() {
    let real = real_session();
    let text: String = real.iter().map(written).collect();
    assert!(real == page_session(), "the session is now:\n{text}");
    assert_eq!(unhex(block("text")), programme().bytes());
}

/// Decodes a frame and encodes the message again: what it is, and its bytes.
fn encode_again(body: &FrameBody<'_>, key: &SessionKey) -> (String, Vec<u8>) {
    let name = |debug: String| {
        debug.split(|c: char| !c.is_ascii_alphanumeric()).next().unwrap_or("").to_owned()
    };
    match body.kind {
        FrameKind::Query => {
            let query: Query = body.message().expect("a query");
            (format!("Query {}", name(format!("{query:?}"))), ask(&query))
        }
        FrameKind::Notice => {
            let notice: Notice<'_> = body.message().expect("a notice");
            let bytes = frame(FrameKind::Notice, None, &notice);
            (format!("Notice {}", name(format!("{notice:?}"))), bytes)
        }
        FrameKind::Order => {
            let (number, order) = decode_sealed::<Order<'_>>(body, key).expect("an order");
            let bytes = frame(FrameKind::Order, Some((number, key)), &order);
            (format!("Order {number} {}", name(format!("{order:?}"))), bytes)
        }
        FrameKind::Answer => {
            let (number, answer) = decode_sealed::<Answer>(body, key).expect("an answer");
            let bytes = frame(FrameKind::Answer, Some((number, key)), &answer);
            (format!("Answer {number} {}", name(format!("{answer:?}"))), bytes)
        }
    }
}

#[test]
fn every_frame_of_the_page_decodes_and_encodes_to_itself() {
    let frames = page_session();
    let mut client = Client::new(DeviceKey::new(KEY).expect("a key"));
    assert_eq!(client.hello(7), frames[0].bytes);
    client.accept_greeting(core::slice::from_ref(&frames[1].bytes));
    let key = client.seal.expect("a session");
    for Frame { label, bytes } in &frames {
        let mut inside = bytes[..bytes.len() - 1].to_vec();
        let body = decode_frame(&mut inside).expect("whole");
        let (name, again) = encode_again(&body, &key);
        assert_eq!((&label[2..], bytes), (name.as_str(), &again));
    }
}

/// Skipped without Python, but not where `CI` is set.
#[test]
fn a_client_written_from_the_page_builds_the_same_frames() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/upload/page_client.py");
    let page = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/wire.md");
    match Command::new("python3").args([folder, page]).output() {
        Ok(output) => {
            let told = String::from_utf8_lossy(&output.stderr).into_owned();
            assert!(output.status.success(), "{told}");
        }
        Err(error) => assert!(std::env::var_os("CI").is_none(), "python3: {error}"),
    }
}
