//! A device that says its last and is gone: what it said is heard all the same.

use std::io::{Read as _, Write as _};
use std::net::TcpListener;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use saggar_client::link::port::{PortAddress, PortConfig};
use saggar_client::link::{Link as _, LinkError, PortLink, Transaction};
use saggar_device::wire::{
    DeviceStatus, FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Query, encode_frame,
};

/// Frames that the device says before it is gone: more than are read at once.
const FRAMES: u32 = 400;

/// Says something as often as it may, once the device is gone.
struct Talking {
    gone: Receiver<()>,
    is_gone: bool,
    heard: u32,
}

impl Transaction for Talking {
    type Output = ();

    fn transmit(&mut self, _: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if !self.is_gone {
            self.gone.recv().unwrap();
            self.is_gone = true;
        }
        encode_frame(FrameKind::Query, None, &Query::Status, frame)
    }

    fn receive(&mut self, _: Duration, _: &FrameBody<'_>) {
        self.heard += 1;
    }

    fn poll_at(&self) -> Duration {
        Duration::ZERO
    }

    fn take_result(&mut self) -> Option<Result<(), LinkError>> {
        None
    }
}

#[test]
fn replies_sent_before_a_disconnect_are_received() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let place = PortAddress::Tcp(listener.local_addr().unwrap());
    let at = PortConfig { address: place, baud: 115_200 };
    let (told, gone) = channel();
    let device = std::thread::spawn(move || {
        let (mut stream, _) = listener.accept().unwrap();
        // The zero with which a line is cleared.
        stream.read_exact(&mut [0]).unwrap();
        let mut frame = [0; FRAME_BYTES_MAX];
        let bytes = encode_frame(
            FrameKind::Notice,
            None,
            &Notice::Status(DeviceStatus::default()),
            &mut frame,
        )
        .unwrap();
        for _ in 0..FRAMES {
            stream.write_all(&frame[..bytes]).unwrap();
        }
        drop(stream);
        told.send(()).unwrap();
    });
    let mut talking = Talking { gone, is_gone: false, heard: 0 };
    let failed = PortLink::new(&at).run(&mut talking).unwrap_err();
    device.join().unwrap();
    assert!(failed.is_connection_failure(), "{failed}");
    assert_eq!(talking.heard, FRAMES);
}
