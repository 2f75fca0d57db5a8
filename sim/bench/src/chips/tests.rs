//! Checks the models against values printed in the data sheets.

use super::ads1115::Ads1115Model;
use super::ads1220::Ads1220Model;
use super::max31856::Max31856Model;
use super::{ChipFault, Terminals};

fn ads1220(sent: &[u8], chip: &mut Ads1220Model) -> Vec<u8> {
    let mut received = vec![0; sent.len()];
    chip.transfer(sent, &mut received);
    received
}

fn max31856(sent: &[u8], chip: &mut Max31856Model) -> Vec<u8> {
    let mut received = vec![0; sent.len()];
    chip.transfer(sent, &mut received);
    received
}

/// Texas Instruments SBAS683B, table of temperatures and codes.
#[test]
fn ads1220_reads_the_temperatures_of_the_data_sheet() {
    for (cold_mc, printed) in [
        (128_000, 0x1000),
        (100_000, 0x0C80),
        (75_000, 0x0960),
        (25_000, 0x0320),
        (250, 0x0008),
        (0, 0x0000),
        (-250, 0x3FF8),
        (-25_000, 0x3CE0),
        (-40_000, 0x3B00),
    ] {
        let mut chip = Ads1220Model::default();
        chip.set(Terminals { cold_mc, ..Terminals::default() }, ChipFault::None);
        ads1220(&[0x44, 0x02, 0x08], &mut chip);
        assert!(!chip.data_ready_low());
        chip.tick();
        assert!(chip.data_ready_low());
        let received = ads1220(&[0x10, 0, 0, 0], &mut chip);
        assert!(!chip.data_ready_low());
        let code = u32::from_be_bytes([0, received[1], received[2], received[3]]);
        assert_eq!(code >> 10, printed, "{cold_mc}");
    }
}

/// All registers are 0 after power-on and reset; a write changes only the registers that it addresses.
#[test]
fn ads1220_keeps_its_registers() {
    let mut chip = Ads1220Model::default();
    assert_eq!(ads1220(&[0x23, 0, 0, 0, 0], &mut chip), [0; 5]);
    ads1220(&[0x43, 1, 2, 3, 4], &mut chip);
    ads1220(&[0x49, 7, 8], &mut chip);
    assert_eq!(ads1220(&[0x23, 0, 0, 0, 0], &mut chip), [0, 1, 2, 7, 8]);
    assert_eq!(ads1220(&[0x25, 0, 0, 0x20, 0], &mut chip)[1..], [2, 7, 0, 1]);
    ads1220(&[0x06], &mut chip);
    assert_eq!(ads1220(&[0x23, 0, 0, 0, 0], &mut chip), [0; 5]);
}

/// Single-shot mode converts once, continuous mode until it is powered down; neither without a start.
#[test]
fn ads1220_converts_only_after_a_start_command() {
    let mut chip = Ads1220Model::default();
    let new_results = |chip: &mut Ads1220Model| {
        (0..3)
            .map(|_| {
                chip.tick();
                let new = chip.data_ready_low();
                ads1220(&[0x10, 0, 0, 0], chip);
                new
            })
            .collect::<Vec<_>>()
    };
    assert_eq!(new_results(&mut chip), [false, false, false]);
    ads1220(&[0x08], &mut chip);
    assert_eq!(new_results(&mut chip), [true, false, false]);
    ads1220(&[0x44, 0x04, 0x08], &mut chip);
    assert_eq!(new_results(&mut chip), [true, true, true]);
    ads1220(&[0x02], &mut chip);
    assert_eq!(new_results(&mut chip), [false, false, false]);
}

/// The full scale of the data sheet's note 7 is 2¹⁷ codes; addresses wrap around; result registers are
/// read-only.
#[test]
fn max31856_reads_full_scale_and_keeps_its_registers() {
    for (cr1, emf_nv) in [(0x08, 78_125_000), (0x0C, 19_531_250)] {
        for (sign, printed) in [(1, [0x3F, 0xFF, 0xE0]), (-1, [0xC0, 0x00, 0x00])] {
            let mut chip = Max31856Model::default();
            let emf_nv = sign * emf_nv;
            chip.set(Terminals { emf_nv, ..Terminals::default() }, ChipFault::None);
            max31856(&[0x81, cr1], &mut chip);
            max31856(&[0x80, 0x80], &mut chip);
            chip.tick();
            assert!(!chip.data_ready_low(), "the first conversion takes longer");
            chip.tick();
            assert!(chip.data_ready_low());
            assert_eq!(max31856(&[0x0C, 0, 0, 0], &mut chip)[1..], printed);
            assert!(!chip.data_ready_low());
        }
    }
    let mut chip = Max31856Model::default();
    max31856(&[0x8C, 1, 2, 3, 4, 0x30, 5], &mut chip);
    let all = max31856(&[0x00; 17], &mut chip);
    assert_eq!(all[1..5], [0x30, 5, 0xFF, 0x7F]);
    assert_eq!(all[13..], [0, 0, 0, 0]);
}

/// Cold junction: 1/64 °C, in the upper 14 of 16 bits, with its offset and thresholds.
#[test]
fn max31856_reads_the_cold_junction() {
    let cold = |cold_mc, settings: &[u8]| {
        let mut chip = Max31856Model::default();
        chip.set(Terminals { cold_mc, ..Terminals::default() }, ChipFault::None);
        max31856(settings, &mut chip);
        max31856(&[0x80, 0x80], &mut chip);
        chip.tick();
        chip.tick();
        let reply = max31856(&[0x0A, 0, 0, 0, 0, 0, 0], &mut chip);
        (reply[1], reply[2], reply[6])
    };
    assert_eq!(cold(25_500, &[]), (0x19, 0x80, 0x00));
    assert_eq!(cold(-15, &[]), (0xFF, 0xFC, 0x00));
    assert_eq!(cold(20_000, &[0x89, 0x10]), (0x15, 0x00, 0x00));
    assert_eq!(cold(20_000, &[0x83, 0x13]), (0x14, 0x00, 0x20));
    assert_eq!(cold(-20_000, &[0x84, 0xF6]), (0xEC, 0x00, 0x10));
}

/// Texas Instruments SBAS444E: default 8583h; the top bit starts one conversion.
#[test]
fn ads1115_converts_only_when_started() {
    let mut chip = Ads1115Model::default();
    chip.set(1024.0, ChipFault::None);
    let mut reply = [0; 2];
    let mut read = |chip: &mut Ads1115Model, register| {
        chip.write_read(&[register], &mut reply).unwrap();
        u16::from_be_bytes(reply)
    };
    assert_eq!(read(&mut chip, 1), 0x8583);
    chip.tick();
    assert_eq!(read(&mut chip, 0), 0);
    chip.write(&[1, 0xC5, 0x83]).unwrap();
    assert_eq!(read(&mut chip, 1), 0x4583);
    chip.tick();
    assert_eq!(read(&mut chip, 1), 0xC583);
    assert_eq!(read(&mut chip, 0), 0x4000);
    chip.set(5000.0, ChipFault::None);
    chip.tick();
    assert_eq!(read(&mut chip, 0), 0x4000);
    chip.write(&[1, 0x42, 0x23]).unwrap();
    chip.tick();
    assert_eq!(read(&mut chip, 0), 0x7FFF);
    assert_eq!(read(&mut chip, 1), 0x4223);
    chip.set(0.0, ChipFault::Silent(0));
    chip.write(&[0]).unwrap_err();
}
