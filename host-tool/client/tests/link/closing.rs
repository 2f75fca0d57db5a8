//! A device that sends frames and disconnects: all of them are received.

use std::io::{Read as _, Write as _};
use std::net::TcpListener;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use saggar_client::link::port::{PortAddress, PortConfig};
use saggar_client::link::{Link as _, LinkError, PortLink, Transaction};
use saggar_device::wire::{
    DeviceStatus, FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Query, encode_frame,
};

/// Frames that the device sends before it disconnects: more than one read returns.
const FRAMES: u32 = 400;

/// Sends queries without pause once the device has disconnected, and counts the replies.
struct SendAfterDisconnect {
    disconnect: Receiver<()>,
    disconnected: bool,
    received: u32,
}

impl Transaction for SendAfterDisconnect {
    type Output = ();

    fn transmit(&mut self, _: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if !self.disconnected {
            self.disconnect.recv().unwrap();
            self.disconnected = true;
        }
        encode_frame(FrameKind::Query, None, &Query::Status, frame)
    }

    fn receive(&mut self, _: Duration, _: &FrameBody<'_>) {
        self.received += 1;
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
    let address = PortAddress::Tcp(listener.local_addr().unwrap());
    let at = PortConfig { address, baud: 115_200 };
    let (disconnected, disconnect) = channel();
    let device = std::thread::spawn(move || {
        let (mut stream, _) = listener.accept().unwrap();
        // The zero byte that a client sends first, to end any incomplete frame.
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
        disconnected.send(()).unwrap();
    });
    let mut transaction = SendAfterDisconnect { disconnect, disconnected: false, received: 0 };
    let error = PortLink::new(&at).run(&mut transaction).unwrap_err();
    device.join().unwrap();
    assert!(error.is_connection_failure(), "{error}");
    assert_eq!(transaction.received, FRAMES);
}
