//! Makes text from a device safe to print.

use saggar_files::sanitized;

/// Longest text that is printed.
const CHARS_MAX: usize = 32;

/// The name of a device, without its padding of zeros. Control characters are escaped, so that no
/// device can control a terminal.
pub fn printable_name(bytes: &[u8]) -> String {
    let end = bytes.iter().rposition(|byte| *byte != 0).map_or(0, |last| last + 1);
    let text = String::from_utf8_lossy(bytes.get(..end).unwrap_or(bytes));
    sanitized(&text, CHARS_MAX)
}

#[cfg(test)]
mod tests {
    use super::printable_name;

    #[test]
    fn control_characters_of_a_device_name_are_escaped() {
        assert_eq!(printable_name(b"kiln-7\0\0"), "kiln-7");
        assert_eq!(printable_name(b"\x1b[2J\0\0\0\0"), "\\u{1b}[2J");
        assert_eq!(printable_name(&[0xff; 3]), "\u{fffd}\u{fffd}\u{fffd}");
    }
}
