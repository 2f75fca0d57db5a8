//! The pins and the flash layout in the wiring guide are those of the board's image.

use super::{quoted, read, table};

const BOARD: &str = "firmware/boards/nucleo-f446";
const GUIDE: &str = "docs/retrofit.md";

/// Signal, pin, kind and meaning, from a line of the list such as
/// `    heater: gpioc pc8 PC8 output, "relay";`.
fn pin(line: &str) -> Option<Vec<String>> {
    let (name, rest) = line.trim().split_once(": ")?;
    let (place, what) = rest.split_once(", \"")?;
    let what = what.strip_suffix("\";")?;
    let [port, field, pin, kind] = place.split_whitespace().collect::<Vec<_>>()[..] else {
        return None;
    };
    assert_eq!(port.strip_prefix("gpio"), field.strip_prefix('p').map(|f| &f[..1]), "{name}");
    assert_eq!(field.to_uppercase(), pin, "{name}");
    Some([name, pin, kind, what].map(str::to_owned).to_vec())
}

#[test]
fn the_guide_lists_the_pins_of_the_image() {
    let list = read(&format!("{BOARD}/src/pins.rs"));
    let (_, body) = list.split_once("\npins! {\n").expect("the list");
    let (body, _) = body.split_once("\n}").expect("its end");
    let listed: Vec<_> =
        body.lines().map(|l| pin(l).unwrap_or_else(|| panic!("{l}"))).collect();
    let mut told = table(&read(GUIDE), "signal");
    for row in &mut told {
        let name = quoted(&row[0]);
        assert_eq!(name.len(), 1, "{row:?}");
        row[0].clone_from(&name[0]);
    }
    assert_eq!(told, listed);
    let mut pins: Vec<_> = listed.iter().map(|row| &row[1]).collect();
    pins.sort_unstable();
    pins.dedup();
    assert_eq!(pins.len(), listed.len(), "a pin has two signals");
}

/// The settings begin right after the space for the image, and the guide gives the address.
#[test]
fn the_settings_follow_the_image() {
    let flash = read(&format!("{BOARD}/src/flash.rs")).replace('_', "");
    let (_, sectors) = flash.split_once("const SECTORS").expect("the sectors");
    let (sectors, _) = sectors.split_once("];").expect("their end");
    let last = sectors.rsplit("0x").next().expect("an address");
    let digits: String = last.chars().take_while(char::is_ascii_hexdigit).collect();
    let settings = u32::from_str_radix(&digits, 16).expect("hexadecimal");
    let memory = read(&format!("{BOARD}/memory.x"));
    let (_, length) = memory.split_once("LENGTH = ").expect("the flash");
    let (kib, _) = length.split_once('K').expect("in KiB");
    let kib: u32 = kib.parse().expect("a number");
    assert_eq!(settings, 0x0800_0000 + kib * 1024);
    assert!(read(GUIDE).contains(&format!("**0x{settings:08X}**")));
}
