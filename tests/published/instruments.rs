//! The simulated front end against NIST Standard Reference Database 60 (ITS-90), which IEC 60584-1
//! tabulates, over the whole range of every type. It is compared with the table of `thermocouple`, and
//! with round temperatures and fixed points, evaluated from the same coefficients with a
//! general-purpose library.

use rand_core::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use saggar_core::furnace::SensorData;
use saggar_core::sensors::{ChannelReader, ThermocoupleType};
use saggar_plant::instruments::Thermocouple;
use saggar_plant::spec::SensorSpec;

use super::thermocouple::table;

/// °C, then the voltages (µV) of S, R, B, K and N with the reference junction at 0 °C.
const POINTS: [(f64, [f64; 5]); 9] = [
    (25.0, [142.598, 140.579, -2.493, 1000.242, 658.646]),
    (100.0, [645.913, 647.396, 33.204, 4096.230, 2774.124]),
    (300.0, [2323.042, 2400.552, 430.648, 12208.566, 9341.152]),
    (600.0, [5238.690, 5583.451, 1791.868, 24905.467, 20613.107]),
    (961.78, [9148.382, 10003.433, 4490.666, 39778.119, 34776.132]),
    (1000.0, [9587.098, 10505.958, 4834.339, 41275.606, 36255.538]),
    (1084.62, [10574.801, 11640.430, 5629.978, 44535.131, 39501.630]),
    (1100.0, [10756.545, 11849.642, 5779.517, 45118.736, 40086.606]),
    (1200.0, [11950.549, 13227.965, 6786.427, 48838.238, 43846.360]),
];

/// Maximum temperatures of the types (°C), in the order of [`ThermocoupleType::ALL`].
const HOTTEST_C: [f64; 5] = [1768.1, 1768.1, 1820.0, 1372.0, 1300.0];

/// The finest step of a simulated converter (µV).
const STEP_UV: f64 = 0.001;

/// A sensor without noise, with its terminals at 0 °C.
struct Ideal {
    instrument: Thermocouple,
    rng: Xoshiro256PlusPlus,
}

impl Ideal {
    fn of(kind: ThermocoupleType) -> Self {
        let spec = SensorSpec {
            kind,
            element_view: 0.0,
            lag_s: 1.0,
            noise_uv: 0.0,
            step_uv: STEP_UV,
            offset_k: 0.0,
            tolerance_k: 1.0,
        };
        let rng = Xoshiro256PlusPlus::seed_from_u64(1);
        Self { instrument: Thermocouple::new(&spec, 0.0, 0.0), rng }
    }

    /// The measured voltage (µV).
    fn emf_uv(&mut self, celsius: f64) -> f64 {
        f64::from(self.instrument.sample(celsius, &mut self.rng).emf_nv) / 1000.0
    }

    /// The temperature that the core reads with it (°C).
    fn read_c(&mut self, kind: ThermocoupleType, celsius: f64) -> f64 {
        let sample = self.instrument.sample(celsius, &mut self.rng);
        let reading = ChannelReader::default()
            .read(&SensorData::new(kind), Some(&sample))
            .expect("a reading");
        f64::from(reading.celsius.get())
    }
}

#[test]
fn the_front_end_gives_the_published_voltages() {
    for (kind, celsius, expected) in table().into_iter().filter(|row| row.1 >= 0.0) {
        let emf_uv = Ideal::of(kind).emf_uv(celsius);
        let off = (emf_uv - expected).abs();
        assert!(off < 0.002, "{} at {celsius} °C: {emf_uv} µV", kind.letter());
    }
    for (celsius, row) in POINTS {
        for (kind, expected) in ThermocoupleType::ALL.into_iter().zip(row) {
            let emf_uv = Ideal::of(kind).emf_uv(celsius);
            let off = (emf_uv - expected).abs();
            assert!(off < 0.002, "{} at {celsius} °C: {emf_uv} µV", kind.letter());
        }
    }
}

/// An instrument swept over the range is as exact as a new one at each temperature.
#[test]
fn a_sweep_stays_on_the_reference_function() {
    for (kind, hottest_c) in ThermocoupleType::ALL.into_iter().zip(HOTTEST_C) {
        let mut instrument = Ideal::of(kind);
        let mut worst: (f64, f64) = (0.0, 0.0);
        for i in 0..=20_000 {
            let celsius = hottest_c * f64::from(i) / 20_000.0;
            let expected = kind.emf_uv(celsius).expect("in the range");
            let off = (instrument.emf_uv(celsius) - expected).abs();
            worst = if off > worst.0 { (off, celsius) } else { worst };
        }
        let (off, celsius) = worst;
        println!("{}: off by {off:.4} µV at {celsius} °C", kind.letter());
        assert!(off < 0.002, "{}: off by {off} µV at {celsius} °C", kind.letter());
    }
}

/// Compares the core's reading with the temperature of the simulated sensor, to the end of its range.
/// Regression: an instrument model that ended at 1290 °C read 9.7 K low with type S at 1700 °C.
#[test]
fn the_core_reads_the_true_temperature() {
    for (kind, hottest_c) in ThermocoupleType::ALL.into_iter().zip(HOTTEST_C) {
        let mut instrument = Ideal::of(kind);
        let points =
            [260.0, 700.0, 1120.0, 1250.0, 1299.0, 1371.0, 1500.0, 1600.0, 1700.0, 1767.0];
        for celsius in points.into_iter().filter(|celsius| *celsius < hottest_c) {
            let read_c = instrument.read_c(kind, celsius);
            let off = (read_c - celsius).abs();
            assert!(off < 0.065, "{} at {celsius} °C reads {read_c} °C", kind.letter());
        }
    }
}
