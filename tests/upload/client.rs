//! A client that knows nothing but the wire.

use saggar_core::programme::ProgrammeImage;
use saggar_device::wire::seal::{DeviceKey, SessionKey};
use saggar_device::wire::{
    Answer, CHUNK_BYTES, FRAME_BYTES_MAX, FrameBody, FrameKind, Hello, NONCE_BYTES, Notice,
    Order, Query, Refusal, decode_frame, decode_sealed, encode_frame,
};
use serde::Serialize;

/// A client.
#[derive(Clone)]
pub(super) struct Client {
    pub(super) key: DeviceKey,
    pub(super) seal: Option<SessionKey>,
    /// Sequence number of the next order.
    pub(super) next: u32,
    nonce: [u8; NONCE_BYTES],
}

/// Encodes a frame.
pub(super) fn frame(
    kind: FrameKind,
    sealed: Option<(u32, &SessionKey)>,
    what: &impl Serialize,
) -> Vec<u8> {
    let mut room = [0; FRAME_BYTES_MAX];
    let length = encode_frame(kind, sealed, what, &mut room).expect("fits");
    room[..length].to_vec()
}

/// Encodes a query.
pub(super) fn ask(what: &Query) -> Vec<u8> {
    frame(FrameKind::Query, None, what)
}

/// Decodes a frame.
pub(super) fn opened<R>(frame: &[u8], see: impl FnOnce(&FrameBody<'_>) -> R) -> R {
    let (last, rest) = frame.split_last().expect("bytes");
    assert_eq!(*last, 0);
    let mut rest = rest.to_vec();
    see(&decode_frame(&mut rest).expect("a device sends whole frames"))
}

/// What `see` finds in a notice.
pub(super) fn told<R>(frame: &[u8], see: impl FnOnce(Notice<'_>) -> Option<R>) -> Option<R> {
    opened(frame, |body| {
        if body.kind == FrameKind::Notice {
            see(body.message().expect("readable"))
        } else {
            None
        }
    })
}

/// The unsealed refusals among frames.
pub(super) fn refusals(frames: &[Vec<u8>]) -> Vec<Refusal> {
    let refused = |tell: Notice<'_>| {
        if let Notice::Refused(why) = tell { Some(why) } else { None }
    };
    frames.iter().filter_map(|frame| told(frame, refused)).collect()
}

impl Client {
    pub(super) fn new(key: DeviceKey) -> Self {
        Self { key, seal: None, next: 0, nonce: [0; NONCE_BYTES] }
    }

    /// A greeting with a nonce of equal bytes.
    pub(super) fn hello(&mut self, draw: u8) -> Vec<u8> {
        self.nonce = [draw; NONCE_BYTES];
        ask(&Query::Hello { nonce: self.nonce })
    }

    /// Derives the session from the reply to the greeting.
    pub(super) fn accept_greeting(&mut self, frames: &[Vec<u8>]) -> Hello {
        let hello = |tell: Notice<'_>| {
            if let Notice::Hello(hello) = tell { Some(hello) } else { None }
        };
        let hello = frames.iter().find_map(|frame| told(frame, hello)).expect("a greeting");
        self.seal = Some(self.key.session_key(&hello.device, &hello.nonce, &self.nonce));
        self.next = 0;
        hello
    }

    /// The next order.
    pub(super) fn order(&mut self, order: &Order<'_>) -> Vec<u8> {
        let frame = self.order_at(self.next, order);
        self.next += 1;
        frame
    }

    /// An order with any sequence number.
    pub(super) fn order_at(&self, sequence: u32, order: &Order<'_>) -> Vec<u8> {
        frame(FrameKind::Order, Some((sequence, self.seal.as_ref().expect("met"))), order)
    }

    /// All orders of an upload.
    pub(super) fn upload(&mut self, image: &ProgrammeImage, furnace: [u8; 32]) -> Vec<Vec<u8>> {
        self.upload_bytes(image.bytes(), image.digest(), furnace)
    }

    /// The same for arbitrary bytes.
    pub(super) fn upload_bytes(
        &mut self,
        bytes: &[u8],
        digest: [u8; 32],
        furnace: [u8; 32],
    ) -> Vec<Vec<u8>> {
        let length = u16::try_from(bytes.len()).expect("short");
        let mut frames = vec![self.order(&Order::Begin { bytes: length, digest, furnace })];
        for (offset, data) in (0..).step_by(CHUNK_BYTES).zip(bytes.chunks(CHUNK_BYTES)) {
            frames.push(self.order(&Order::Chunk { offset, data }));
        }
        frames.push(self.order(&Order::Commit { digest }));
        frames
    }

    /// Answers with this session's seal, with their sequence numbers.
    pub(super) fn answers(&self, frames: &[Vec<u8>]) -> Vec<(u32, Answer)> {
        let Some(seal) = &self.seal else { return Vec::new() };
        let answer = |frame: &Vec<u8>| {
            opened(frame, |body| {
                let sealed = (body.kind == FrameKind::Answer).then_some(body)?;
                decode_sealed::<Answer>(sealed, seal).ok()
            })
        };
        frames.iter().filter_map(answer).collect()
    }

    /// The last of them.
    pub(super) fn answer(&self, frames: &[Vec<u8>]) -> Option<Answer> {
        self.answers(frames).last().map(|(_, answer)| *answer)
    }
}
