//! Converts the values of a document to the types of their keys.

use toml::de::DeValue;

use saggar_files::{is_forbidden_in_name, sanitized};

/// Most characters of a value in a message.
const VALUE_CHARS_MAX: usize = 40;

/// Why a value is invalid, and how to fix it.
pub(super) struct ValueError {
    /// The error, worded to follow the name of the key.
    pub(super) message: String,
    /// How to fix it.
    pub(super) help: String,
    /// The value is blank; perhaps the key should be left out.
    pub(super) blank: bool,
}

impl ValueError {
    pub(super) fn new(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { message: message.into(), help: help.into(), blank: false }
    }
}

/// The type of a value, for a message.
pub(super) const fn type_name(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or a time of day",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a section",
    }
}

/// A finite number.
pub(super) fn number(value: &DeValue<'_>) -> Result<f64, ValueError> {
    let finite = "write a plain number, such as 50 or 2.5";
    match value {
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix())
            .map(|whole| whole as f64)
            .map_err(|_| ValueError::new("is a number with too many digits", finite)),
        DeValue::Float(float) => match float.as_str().parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(number),
            Ok(_) | Err(_) => Err(ValueError::new(
                format!("is {}, which is not a finite number", float.as_str()),
                finite,
            )),
        },
        DeValue::String(text) => Err(quoted_number_error(text)),
        DeValue::Boolean(_) | DeValue::Datetime(_) | DeValue::Array(_) | DeValue::Table(_) => {
            Err(ValueError::new(
                format!("must be a number, and this is {}", type_name(value)),
                finite,
            ))
        }
    }
}

/// The error for a number in quotation marks, perhaps with a comma or a unit.
fn quoted_number_error(text: &str) -> ValueError {
    // On a command line quotation marks are part of what is typed.
    let trimmed = text.trim_matches(|c: char| c == '"' || c.is_whitespace());
    let quoted = sanitized(trimmed, VALUE_CHARS_MAX);
    let pointed = trimmed.replacen(',', ".", 1);
    if pointed.parse::<f64>().is_ok_and(f64::is_finite) {
        if trimmed.contains(',') {
            return ValueError::new(
                format!("has a decimal comma: \"{quoted}\""),
                format!("write it with a point and without quotation marks: {pointed}"),
            );
        }
        return ValueError::new(
            format!("must be a number, and \"{quoted}\" is text"),
            format!("take the quotation marks away: {pointed}"),
        );
    }
    ValueError::new(
        format!("must be a number, and \"{quoted}\" is text"),
        "write the number alone: its unit is in the key",
    )
}

/// What to do about a control character that a backslash and a letter stand for.
const ESCAPE_CURE: &str = "take it out; if this is a path: TOML reads \\b, \\f, \\n, \\r and \\t \
                           between \" \" as control characters, so write / instead of \\, or put \
                           the path between ' '";

/// What to do about any other hidden character.
const HIDDEN_CURE: &str = "type it again with visible characters and plain spaces only: no control \
                           characters, invisible letters or blanks, or direction marks";

/// Text of at most `bytes_max` bytes without hidden characters.
pub(super) fn text(value: &DeValue<'_>, bytes_max: usize) -> Result<String, ValueError> {
    let DeValue::String(text) = value else {
        return Err(ValueError::new(
            format!("must be text, and this is {}", type_name(value)),
            "put it between quotation marks: \"like this\"",
        ));
    };
    if text.trim().is_empty() {
        return Err(ValueError {
            blank: true,
            ..ValueError::new("is blank", "write at least one letter")
        });
    }
    if let Some(c) = text.chars().find(|c| is_forbidden_in_name(*c)) {
        let help = match c {
            '\u{8}' | '\t' | '\n' | '\u{c}' | '\r' => ESCAPE_CURE,
            _ => HIDDEN_CURE,
        };
        return Err(ValueError::new(
            format!("has a hidden character, U+{:04X}, in it", u32::from(c)),
            help,
        ));
    }
    if text.len() > bytes_max {
        return Err(ValueError::new(
            format!("is {} bytes long: \"{}\"", text.len(), sanitized(text, VALUE_CHARS_MAX)),
            format!("at most {bytes_max} bytes; a letter with an accent takes two or more"),
        ));
    }
    Ok(text.clone().into_owned())
}

/// A number for a message, with as many digits as it needs.
pub(super) fn format_number(number: f64) -> String {
    format!("{number}")
}
