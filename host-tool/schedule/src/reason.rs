//! The reason for which a person lets a programme go on whose verdict is not known.

use saggar_files::is_forbidden_in_name;

/// Longest reason, in characters: it is a sentence on a sheet, not a report.
const CHARACTERS_MAX: usize = 200;

/// A reason in one line: not empty, at most 200 characters, none of them hidden.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reason(String);

/// Why a text is no reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReasonError {
    /// There is nothing in it.
    #[error("say why: the reason is empty")]
    Empty,
    /// It is too long.
    #[error("say it in at most {CHARACTERS_MAX} characters")]
    TooLong,
    /// A character that cannot be seen, or changes how others are read.
    #[error("write it in one line without hidden characters: U+{:04X} is one", u32::from(*.0))]
    Hidden(char),
}

impl Reason {
    /// The text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl std::str::FromStr for Reason {
    type Err = ReasonError;

    fn from_str(typed: &str) -> Result<Self, ReasonError> {
        let text = typed.trim();
        if let Some(hidden) = text.chars().find(|c| is_forbidden_in_name(*c)) {
            return Err(ReasonError::Hidden(hidden));
        }
        match text.chars().count() {
            0 => Err(ReasonError::Empty),
            1..=CHARACTERS_MAX => Ok(Self(text.to_owned())),
            _ => Err(ReasonError::TooLong),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_is_one_legible_line() {
        let reason = |typed: &str| typed.parse::<Reason>();
        let kept = reason("  a trial, on a scrap coping ").unwrap();
        assert_eq!(kept.as_str(), "a trial, on a scrap coping");
        assert_eq!(reason(" \t "), Err(ReasonError::Empty));
        assert_eq!(reason("one\ntwo"), Err(ReasonError::Hidden('\n')));
        assert_eq!(reason("one\u{202e}two"), Err(ReasonError::Hidden('\u{202e}')));
        assert!(reason(&"ä".repeat(200)).is_ok());
        assert_eq!(reason(&"ä".repeat(201)), Err(ReasonError::TooLong));
    }
}
