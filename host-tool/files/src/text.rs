//! Text that is safe to print.

use std::borrow::Cow;
use std::fmt::Write as _;

/// Characters with the Unicode property `Default_Ignorable_Code_Point`, which are not drawn. A test
/// compares the list with the Unicode data of another crate.
const IGNORABLE: [(char, char); 17] = [
    ('\u{ad}', '\u{ad}'),
    ('\u{34f}', '\u{34f}'),
    ('\u{61c}', '\u{61c}'),
    ('\u{115f}', '\u{1160}'),
    ('\u{17b4}', '\u{17b5}'),
    ('\u{180b}', '\u{180f}'),
    ('\u{200b}', '\u{200f}'),
    ('\u{202a}', '\u{202e}'),
    ('\u{2060}', '\u{206f}'),
    ('\u{3164}', '\u{3164}'),
    ('\u{fe00}', '\u{fe0f}'),
    ('\u{feff}', '\u{feff}'),
    ('\u{ffa0}', '\u{ffa0}'),
    ('\u{fff0}', '\u{fff8}'),
    ('\u{1bca0}', '\u{1bca3}'),
    ('\u{1d173}', '\u{1d17a}'),
    ('\u{e0000}', '\u{e0fff}'),
];

/// A control character, one that changes the direction of the text around it, or one that is not
/// drawn. Such characters are never printed.
pub fn is_hidden(c: char) -> bool {
    // Line and paragraph separators, interlinear annotation marks, the blank braille pattern.
    let odd = matches!(c, '\u{2028}' | '\u{2029}' | '\u{fff9}'..='\u{fffb}' | '\u{2800}');
    c.is_control() || odd || IGNORABLE.iter().any(|(first, last)| (*first..=*last).contains(&c))
}

/// A character that no name may contain, because two names that look the same must be the same: hidden
/// characters, and blanks that look like a space.
pub fn is_forbidden_in_name(c: char) -> bool {
    is_hidden(c) || c.is_whitespace() && c != ' '
}

/// A text from a file or a command line, made safe for a message: hidden characters are escaped, and
/// a text longer than `chars_max` characters is cut in its middle, so that the name at the end of a
/// path stays.
pub fn sanitized(text: &str, chars_max: usize) -> String {
    let count = text.chars().count();
    if count <= chars_max {
        return escape_hidden(text);
    }
    let head: String = text.chars().take(chars_max / 3).collect();
    let tail: String = text.chars().skip(count - (chars_max - chars_max / 3)).collect();
    format!("{}…{}", escape_hidden(&head), escape_hidden(&tail))
}

/// Escapes the hidden characters of a text: `\u{1b}`.
pub fn escape_hidden(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if is_hidden(c) {
            let _ = write!(out, "\\u{{{:x}}}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    out
}

/// Escapes the hidden characters of a JSON text. They can only be inside its strings, so that its
/// meaning stays the same; line feeds between values are kept.
pub fn escape_hidden_json(json: &str) -> Cow<'_, str> {
    let to_escape = |c: char| is_hidden(c) && c != '\n';
    if !json.contains(to_escape) {
        return json.into();
    }
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if to_escape(c) {
            for unit in c.encode_utf16(&mut [0; 2]) {
                let _ = write!(out, "\\u{unit:04x}");
            }
        } else {
            out.push(c);
        }
    }
    out.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All characters with a Unicode property, from data independent of [`IGNORABLE`].
    fn with_property(name: &str) -> impl Fn(char) -> bool {
        let parsed = regex_syntax::parse(&format!("\\p{{{name}}}")).expect("a property");
        let regex_syntax::hir::HirKind::Class(regex_syntax::hir::Class::Unicode(class)) =
            parsed.into_kind()
        else {
            panic!("{name} is no class of characters");
        };
        move |c| class.ranges().iter().any(|range| (range.start()..=range.end()).contains(&c))
    }

    #[test]
    fn the_lists_agree_with_the_unicode_properties() {
        let ignorable = with_property("Default_Ignorable_Code_Point");
        let turning = with_property("Bidi_Control");
        let blank = with_property("White_Space");
        for c in '\0'..=char::MAX {
            let listed = IGNORABLE.iter().any(|(first, last)| (*first..=*last).contains(&c));
            assert_eq!(listed, ignorable(c), "U+{:04X}", u32::from(c));
            assert!(is_hidden(c) || !turning(c), "U+{:04X}", u32::from(c));
            assert!(is_forbidden_in_name(c) || !blank(c) || c == ' ', "U+{:04X}", u32::from(c));
        }
    }

    #[test]
    fn names_may_use_letters_of_any_script() {
        for name in ["Käppchen 2 µm", "コーピング", "тигель №3", "냄비", "क़लम", "Ω-20 °C × 3"]
        {
            assert!(!name.contains(is_forbidden_in_name), "{name}");
            assert_eq!(sanitized(name, 100), name);
        }
        for c in ['\u{a0}', '\u{3000}', '\u{3164}', '\u{200b}', '\u{2800}', '\t', '\u{fe0f}'] {
            assert!(is_forbidden_in_name(c), "U+{:04X}", u32::from(c));
        }
    }

    #[test]
    fn a_long_text_is_cut_in_its_middle() {
        assert_eq!(sanitized("0123456789", 10), "0123456789");
        assert_eq!(sanitized("0123456789a", 9), "012…56789a");
        assert_eq!(sanitized("\u{1b}[2J", 4), "\\u{1b}[2J");
        let once = sanitized(&"folder/".repeat(100), 200);
        assert_eq!(sanitized(&once, 200), once, "showing it again changes nothing");
    }

    #[test]
    fn escaping_json_does_not_change_its_meaning() {
        let value = serde_json::json!({ "a": "\u{9b}\u{7f}\u{202e}\u{e0041}\n\u{1b}", "b": 1 });
        let text = serde_json::to_string_pretty(&value).expect("JSON");
        let safe = escape_hidden_json(&text);
        assert!(safe.chars().all(|c| c == '\n' || !is_hidden(c)), "{safe}");
        assert_eq!(serde_json::from_str::<serde_json::Value>(&safe).expect("JSON"), value);
        assert!(safe.contains("\\udb40\\udc41"), "{safe}");
    }
}
