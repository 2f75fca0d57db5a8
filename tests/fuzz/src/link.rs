//! Target `link`: arbitrary traffic from a stranger or from a client with the key, while an operator
//! presses buttons.

use arbitrary::{Arbitrary, Unstructured};
use saggar_core::checksum::CRC;
use saggar_core::io::Buttons;
use saggar_core::programme::ProgrammeImage;
use saggar_device::wire::seal::SessionKey;
use saggar_device::wire::{
    CHUNK_BYTES, FRAME_BYTES_MAX, FrameKind, Hello, NONCE_BYTES, Notice, Order, Query,
    decode_frame, encode_frame,
};
use serde::Serialize;

use crate::example::IMAGES;
use crate::setup::{Setup, key, provisioned};

/// Maximum number of events in one run, which bounds its time.
const EVENTS_MAX: usize = 64;

/// One event of a run.
#[derive(Debug, Arbitrary)]
enum Event<'a> {
    /// Raw bytes.
    Bytes(&'a [u8]),
    /// A frame with a valid checksum around arbitrary bytes.
    Framed(&'a [u8]),
    /// An unsealed query, if the bytes form one.
    Query(&'a [u8]),
    /// A greeting, which opens a new session for the orders after it.
    Hello(u8),
    /// An order with the seal of the session, if the bytes form one.
    Order(&'a [u8]),
    /// An order with a changed number.
    Reordered(u8, &'a [u8]),
    /// All orders of an upload.
    Upload(bool),
    /// Ticks without a button.
    Ticks(u8),
    /// A tick with arbitrary buttons.
    Press(u8),
    /// Time without a tick (s).
    Wait(u8),
    Plug(bool),
    Reboot,
}

/// The client at the other end of the link.
#[derive(Default)]
struct Client {
    session: Option<SessionKey>,
    sequence: u32,
    /// Digest of the furnace's data, as the device reports it.
    furnace: [u8; 32],
}

pub(crate) fn frame(
    kind: FrameKind,
    sealed: Option<(u32, &SessionKey)>,
    message: &impl Serialize,
) -> Vec<u8> {
    let mut buffer = [0; FRAME_BYTES_MAX];
    let length = encode_frame(kind, sealed, message, &mut buffer).unwrap_or(0);
    buffer[..length].to_vec()
}

/// A frame with a valid checksum around these bytes.
fn to_frame(body: &[u8]) -> Vec<u8> {
    let mut bytes = body.to_vec();
    bytes.extend(CRC.checksum(body).to_le_bytes());
    let mut frame = vec![0; cobs::max_encoding_length(bytes.len()) + 1];
    let length = cobs::encode(&bytes, &mut frame);
    frame.truncate(length + 1);
    frame
}

impl Client {
    fn order(&mut self, order: &Order<'_>) -> Vec<u8> {
        let Some(session) = &self.session else { return Vec::new() };
        let frame = frame(FrameKind::Order, Some((self.sequence, session)), order);
        self.sequence = self.sequence.wrapping_add(1);
        frame
    }

    /// Opens a session from the device's answer to a greeting.
    fn open_session(&mut self, hello: &Hello, nonce: &[u8; NONCE_BYTES]) {
        self.session = Some(key().session_key(&hello.device, &hello.nonce, nonce));
        self.sequence = 0;
        self.furnace = hello.furnace;
    }

    fn upload(&mut self, image: &ProgrammeImage) -> Vec<u8> {
        let (bytes, digest, furnace) = (image.bytes(), image.digest(), self.furnace);
        let mut frames =
            self.order(&Order::Begin { bytes: bytes.len() as u16, digest, furnace });
        for (index, data) in bytes.chunks(CHUNK_BYTES).enumerate() {
            let offset = (index * CHUNK_BYTES) as u16;
            frames.extend(self.order(&Order::Chunk { offset, data }));
        }
        frames.extend(self.order(&Order::Commit { digest }));
        frames
    }
}

/// Passes bytes to the device, checks its frames, and returns the reply to a greeting.
fn exchange(setup: &mut Setup, bytes: &[u8]) -> Option<Hello> {
    setup.device.receive(setup.now(), bytes);
    let mut greeting = None;
    for mut frame in setup.transmit() {
        assert_eq!(frame.pop(), Some(0), "a frame ends with a zero");
        let body = decode_frame(&mut frame).expect("the device sends valid frames");
        if body.kind == FrameKind::Notice
            && let Notice::Hello(hello) = body.message().expect("a notice")
        {
            greeting = Some(hello);
        }
    }
    greeting
}

fn buttons(bits: u8) -> Buttons {
    Buttons { start: bits & 1 != 0, stop: bits & 2 != 0, confirm: bits & 4 != 0 }
}

fn apply(setup: &mut Setup, client: &mut Client, event: Event<'_>) {
    let bytes = match event {
        Event::Bytes(bytes) => bytes.to_vec(),
        Event::Framed(body) => to_frame(body),
        Event::Query(bytes) => match postcard::from_bytes::<Query>(bytes) {
            Ok(query) => frame(FrameKind::Query, None, &query),
            Err(_) => return,
        },
        Event::Hello(draw) => {
            let nonce = [draw; NONCE_BYTES];
            let query = frame(FrameKind::Query, None, &Query::Hello { nonce });
            if let Some(hello) = exchange(setup, &query) {
                client.open_session(&hello, &nonce);
            }
            return;
        }
        Event::Order(bytes) => match postcard::from_bytes::<Order<'_>>(bytes) {
            Ok(order) => client.order(&order),
            Err(_) => return,
        },
        Event::Reordered(by, bytes) => match postcard::from_bytes::<Order<'_>>(bytes) {
            Ok(order) => {
                client.sequence = client.sequence.wrapping_add(u32::from(by));
                client.order(&order)
            }
            Err(_) => return,
        },
        Event::Upload(second) => client.upload(&IMAGES[usize::from(second)]),
        Event::Ticks(count) => {
            (0..count).for_each(|_| setup.tick(Buttons::default()));
            Vec::new()
        }
        Event::Press(bits) => {
            setup.tick(buttons(bits));
            Vec::new()
        }
        Event::Wait(seconds) => {
            setup.wait(u64::from(seconds) * 1000);
            Vec::new()
        }
        Event::Plug(plugged) => {
            setup.plugged = plugged;
            Vec::new()
        }
        Event::Reboot => {
            setup.reboot();
            Vec::new()
        }
    };
    exchange(setup, &bytes);
}

/// For any traffic the device sends only valid frames, never heats without a press of start, and replies
/// to the next greeting.
pub fn link(input: &[u8]) {
    let mut setup = Setup::boot(provisioned(true)).expect("boots");
    let mut client = Client::default();
    let mut input = Unstructured::new(input);
    for _ in 0..EVENTS_MAX {
        if input.is_empty() {
            break;
        }
        let Ok(event) = Event::arbitrary(&mut input) else { break };
        apply(&mut setup, &mut client, event);
    }
    // A zero ends an incomplete frame; after it the device must reply again.
    setup.wait(60_000);
    exchange(&mut setup, &[0]);
    setup.tick(Buttons::default());
    let query = frame(FrameKind::Query, None, &Query::Hello { nonce: [1; NONCE_BYTES] });
    assert!(exchange(&mut setup, &query).is_some(), "no reply to a greeting");
}
