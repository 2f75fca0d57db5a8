//! Paths of keys in a file.

use std::fmt;
use std::str::FromStr;

use saggar_files::sanitized;

use super::{KeySpec, ValueKind};

/// The path of a key: `stage[3].soak.minutes`, with lists counted from 1.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyPath(pub(super) Vec<Segment>);

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Segment {
    pub(super) name: String,
    pub(super) number: Option<usize>,
}

/// The text is not the path of a key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{}` is not a key: write it like work.count or stage[3].soak.minutes", sanitized(.0, 60))]
pub struct KeyPathError(String);

impl FromStr for KeyPath {
    type Err = KeyPathError;

    fn from_str(typed: &str) -> Result<Self, KeyPathError> {
        let segment = |text: &str| {
            let (name, number) = match text.split_once('[') {
                None => (text, None),
                Some((name, rest)) => {
                    let number: usize = rest.strip_suffix(']')?.parse().ok()?;
                    (name, Some(number).filter(|number| *number > 0))
                }
            };
            let plain = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
            let good = !name.is_empty() && name.chars().all(plain);
            (good && number.is_some() == text.contains('['))
                .then(|| Segment { name: name.to_owned(), number })
        };
        let segments: Option<Vec<_>> = typed.split('.').map(segment).collect();
        segments.map(Self).ok_or_else(|| KeyPathError(typed.to_owned()))
    }
}

impl fmt::Display for KeyPath {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (nth, Segment { name, number }) in self.0.iter().enumerate() {
            let dot = if nth > 0 { "." } else { "" };
            write!(out, "{dot}{name}")?;
            number.map_or(Ok(()), |number| write!(out, "[{number}]"))?;
        }
        Ok(())
    }
}

impl KeyPath {
    /// The key in a table of keys; `None` if the table does not have it.
    pub fn key(&self, root: &'static [KeySpec]) -> Option<&'static KeySpec> {
        let (last, sections) = self.0.split_last()?;
        let find = |keys: &'static [KeySpec], segment: &Segment| {
            keys.iter().find(|key| key.name == segment.name)
        };
        let keys = sections.iter().try_fold(root, |keys, one| find(keys, one)?.kind.keys())?;
        find(keys, last)
    }

    /// Its sections and its key, each with its number in a list.
    pub(super) fn segments(&self) -> impl Iterator<Item = (&str, Option<usize>)> {
        self.0.iter().map(|segment| (segment.name.as_str(), segment.number))
    }

    /// Checks the path against a table of keys, as far as the table knows it.
    pub(super) fn check(&self, root: &'static [KeySpec]) -> Result<(), MessageAndHelp> {
        let mut keys = root;
        for (nth, Segment { name, number }) in self.0.iter().enumerate() {
            let Some(key) = keys.iter().find(|key| key.name == name) else { break };
            let is_list = matches!(key.kind, ValueKind::List { .. });
            if number.is_some() && !is_list {
                let mut plain = self.clone();
                plain.0[nth].number = None;
                let help = format!("write it without a number: {plain}");
                return Err((format!("`{name}` is not a list"), help));
            }
            let is_last = nth + 1 == self.0.len();
            match key.kind.keys() {
                Some(_) if is_last => return Err(section_error(&self.to_string())),
                Some(_) if is_list && number.is_none() => {
                    return Err(missing_section_error(name));
                }
                Some(inner) => keys = inner,
                None if is_last => {}
                None => return Err(missing_section_error(name)),
            }
        }
        match self.0.last().and_then(|last| last.number) {
            Some(_) => Err(section_error(&self.to_string())),
            None => Ok(()),
        }
    }
}

/// An error message and how to fix the error.
pub(super) type MessageAndHelp = (String, String);

pub(super) fn section_error(path: &str) -> MessageAndHelp {
    (format!("`{path}` is a section"), format!("name a key in it, such as {path}.KEY=VALUE"))
}

pub(super) fn missing_section_error(name: &str) -> MessageAndHelp {
    let help = "give a section of a list its number, counted from 1";
    (format!("there is no section `{name}` to set a key in"), help.to_owned())
}
