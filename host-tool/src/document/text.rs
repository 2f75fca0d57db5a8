//! Text that is safe to show.

use std::fmt::Write as _;

/// A character that no name may have: one that a terminal acts on, that reorders the text
/// around it, or that nobody can see.
pub fn forbidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}'
            | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// A text from a file or a command line, fit for a message: hidden characters written out,
/// and cut after `chars_max` characters.
pub fn shown(text: &str, chars_max: usize) -> String {
    let mut out = String::new();
    for (index, c) in text.chars().enumerate() {
        if index == chars_max {
            out.push('…');
            break;
        }
        if forbidden(c) {
            let _ = write!(out, "\\u{{{:x}}}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    out
}
