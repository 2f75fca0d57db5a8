//! Throughput of a client and a device: encoding, decoding, sealing and verifying frames, in multiples of a
//! serial link at 115,200 baud, which carries 11,520 bytes per second.

#![allow(clippy::print_stdout, reason = "a bench prints")]

use std::hint::black_box;
use std::time::Instant as Clock;

use saggar_core::io::{Inputs, Outputs, ThermocoupleSample};
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{
    CHUNK_BYTES, FRAME_BYTES_MAX, FrameKind, Notice, Order, Tick, decode_frame, decode_sealed,
    encode_frame,
};

/// Bytes per second at 115,200 baud with eight data bits, no parity, one stop bit.
const LINK_BYTES_PER_SECOND: f64 = 11_520.0;

/// Rounds of a measurement; the fastest counts.
const ROUNDS: u32 = 20;

/// Time of one call (s), in the fastest of [`ROUNDS`].
fn best(calls: u32, mut call: impl FnMut()) -> f64 {
    let round = |call: &mut dyn FnMut()| {
        let since = Clock::now();
        for _ in 0..calls {
            call();
        }
        since.elapsed().as_secs_f64() / f64::from(calls)
    };
    (0..ROUNDS).map(|_| round(&mut call)).fold(f64::INFINITY, f64::min)
}

fn print(name: &str, bytes: usize, seconds: f64) {
    let rate = bytes as f64 / seconds;
    println!(
        "{name:34} {bytes:4} bytes {:8.2} us {:9.1} MB/s {:9.0} links of 115,200 baud",
        seconds * 1e6,
        rate / 1e6,
        rate / LINK_BYTES_PER_SECOND
    );
}

fn main() {
    let sample = ThermocoupleSample {
        emf_nv: 11_951_000,
        cold_junction_mc: 25_125,
        open: false,
        age_ms: 100,
    };
    let inputs = Inputs {
        control: Some(sample),
        limit: Some(sample),
        pressure_pa: Some(5_000),
        heater_current_ma: Some(4_250),
        ..Inputs::default()
    };
    let tick = Notice::Tick(Tick::new(72_000, 7_200_000, &inputs, &Outputs::default()));
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes = encode_frame(FrameKind::Notice, None, &tick, &mut frame).unwrap_or(0);
    let encoded = best(20_000, || {
        black_box(encode_frame(FrameKind::Notice, None, black_box(&tick), &mut frame));
    });
    print("a tick, encoded", bytes, encoded);
    let decoded = best(20_000, || {
        let mut copy = frame;
        let body = decode_frame(copy.get_mut(..bytes.saturating_sub(1)).unwrap_or(&mut []));
        black_box(body.and_then(|body| body.message::<Notice<'_>>()).is_ok());
    });
    print("a tick, decoded", bytes, decoded);

    let Some(key) = DeviceKey::new(std::array::from_fn(|i| i as u8)) else { return };
    let seal = key.session_key(b"bench   ", &[1; 16], &[2; 16]);
    let data = [0xA5; CHUNK_BYTES];
    let order = Order::Chunk { offset: 240, data: &data };
    let bytes =
        encode_frame(FrameKind::Order, Some((7, &seal)), &order, &mut frame).unwrap_or(0);
    let encoded = best(5_000, || {
        black_box(encode_frame(
            FrameKind::Order,
            Some((7, &seal)),
            black_box(&order),
            &mut frame,
        ));
    });
    print("a chunk of a programme, sealed", bytes, encoded);
    let decoded = best(5_000, || {
        let mut copy = frame;
        let body = decode_frame(copy.get_mut(..bytes.saturating_sub(1)).unwrap_or(&mut []));
        let order = body.map(|body| decode_sealed::<Order<'_>>(&body, &seal).is_ok());
        black_box(order == Ok(true));
    });
    print("a chunk of a programme, verified", bytes, decoded);
    println!("share of programme bytes in a frame: {:.3}", CHUNK_BYTES as f64 / bytes as f64);
}
