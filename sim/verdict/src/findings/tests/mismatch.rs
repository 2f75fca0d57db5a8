//! Cooling mismatch: compression is a note, too much tension fails.

use super::*;

/// The finding for a glass that expands by so many millionths per kelvin.
fn found(millionths: f64) -> Finding {
    let mut work = coated();
    work.coat.as_mut().unwrap().glass.expansion_per_k = millionths * 1e-6;
    verdict(&work, 1120.0, 2700, 5000.0).find(is!(Mismatch)).unwrap().clone()
}

#[test]
fn the_glass_of_the_library_is_in_compression() {
    let note = found(6.997);
    assert_eq!(note.outcome, Outcome::Note);
    let line = note.line(Scale::Celsius);
    let end = "compression of 21 MPa in the skin of glass once it is cold; a first approximation, from \
               expansions of 7.00 (glass) and 7.30 (infiltrated body) millionths per kelvin below \
               635 °C.";
    assert_eq!(line, format!("Cooling mismatch: {end}"));
}

#[test]
fn tension_beyond_half_the_strength_fails() {
    // 48.1 MPa over 85 GPa / 0.75 and 615 K: 0.69 millionths.
    let (some, much) = (found(7.3 + 0.68), found(7.3 + 0.70));
    assert_eq!((some.outcome, much.outcome), (Outcome::Pass, Outcome::Fail));
    let line = some.line(Scale::Celsius);
    assert!(line.contains("tension of 47 MPa in the skin"), "{line}");
    assert!(line.contains("48 MPa is allowed (strength 96 MPa, safety factor 2)"), "{line}");
    let line = much.line(Scale::Celsius);
    assert!(line.ends_with("use a glass that expands less than the body."), "{line}");
}

#[test]
fn the_body_counts_as_it_is_once_infiltrated() {
    // The porous body expands by 8.1 millionths and the filled one by 7.3: 7.6 is tension.
    assert_eq!(found(7.6).outcome, Outcome::Pass);
    let body = BodySpec::named("alumina-infiltrated").unwrap();
    let own = BodySpec { expansion_per_k: 9.0e-6, ..body };
    let work = WorkSpec { infiltrated: true, body: own, ..coated() };
    let stress = verdict(&work, 800.0, 300, ATMOSPHERE_PA);
    let found = stress.find(is!(Mismatch)).unwrap();
    let Subject::Mismatch(Mismatch { body_per_k, .. }) = found.subject else { panic!() };
    assert!((body_per_k - 9.0e-6).abs() < 1e-12);
}

#[test]
fn without_a_softened_glass_there_is_none() {
    assert_eq!(verdict(&bare(), 1120.0, 60, ATMOSPHERE_PA).find(is!(Mismatch)), None);
    assert_eq!(verdict(&coated(), 600.0, 60, ATMOSPHERE_PA).find(is!(Mismatch)), None);
}
