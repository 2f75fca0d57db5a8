//! Text that a device sent, fit for a terminal.

use saggar_files::sanitized;

/// Most characters of a text of a device.
const CHARS_MAX: usize = 32;

/// A name of a device: what is no plain letter, digit or sign is written out, so that no device
/// can make a terminal do something. Zeros at the end fill it up and are not shown.
pub fn printable_name(bytes: &[u8]) -> String {
    let end = bytes.iter().rposition(|byte| *byte != 0).map_or(0, |last| last + 1);
    let text = String::from_utf8_lossy(bytes.get(..end).unwrap_or(bytes));
    sanitized(&text, CHARS_MAX)
}

#[cfg(test)]
mod tests {
    use super::printable_name;

    #[test]
    fn nothing_of_a_device_reaches_a_terminal_raw() {
        assert_eq!(printable_name(b"kiln-7\0\0"), "kiln-7");
        assert_eq!(printable_name(b"\x1b[2J\0\0\0\0"), "\\u{1b}[2J");
        assert_eq!(printable_name(&[0xff; 3]), "\u{fffd}\u{fffd}\u{fffd}");
    }
}
