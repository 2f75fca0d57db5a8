//! A device behind a pair of pseudo-terminals, which the tool takes for a serial port.

use std::fs::File;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::thread;
use std::time::Duration;

use nix::pty::openpty;
use nix::sys::termios::{SetArg, cfmakeraw, tcgetattr, tcsetattr};
use nix::unistd::ttyname;

use crate::bench::Bench;

#[test]
fn a_pseudo_terminal_works_as_a_serial_port() {
    let bench = Bench::new();
    let device = bench.device(Duration::from_millis(1));
    let pair = openpty(None, None).unwrap();
    let mut raw = tcgetattr(&pair.slave).unwrap();
    cfmakeraw(&mut raw);
    tcsetattr(&pair.slave, SetArg::TCSANOW, &raw).unwrap();
    let port = ttyname(&pair.slave).unwrap();
    let tcp = TcpStream::connect(device.at).unwrap();
    let (mut from_tcp, mut to_tcp) = (tcp.try_clone().unwrap(), tcp);
    let master = File::from(pair.master);
    let (mut from_pty, mut to_pty) = (master.try_clone().unwrap(), master);
    let copy = move || {
        let mut room = [0; 512];
        while let Ok(bytes @ 1..) = from_pty.read(&mut room) {
            if to_tcp.write_all(&room[..bytes]).is_err() {
                break;
            }
        }
    };
    thread::spawn(copy);
    thread::spawn(move || {
        let mut room = [0; 512];
        while let Ok(bytes @ 1..) = from_tcp.read(&mut room) {
            if to_pty.write_all(&room[..bytes]).is_err() {
                break;
            }
        }
    });
    let port = port.to_str().unwrap();
    for _ in 0..2 {
        let result = bench.run(&["device", "info", "--port", port]);
        assert_eq!((result.code, result.err.as_str()), (0, ""), "{result:#?}");
        assert!(result.out.starts_with("bench-7: idle\n"), "{}", result.out);
    }
    let stop = bench.run(&["device", "stop", "--key", "bench.key", "--port", port]);
    assert_eq!(stop.code, 0, "{stop:#?}");
    drop(pair.slave);
}
