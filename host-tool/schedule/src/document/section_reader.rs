//! Reading the keys of one section.

use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

use super::key::{KeySpec, Presence, ValueKind};
use super::reference::WORDS_SHOWN;
use super::retired;
use super::value::{self, ValueError, format_number};
use saggar_files::{ByteSpan, Diagnostics, nearest, sanitized};

/// Longest word of a choice (bytes).
const WORD_BYTES_MAX: usize = 64;

/// Reads one section of a document by the keys that it may have.
pub struct SectionReader<'d> {
    keys: &'static [KeySpec],
    name: String,
    entries: &'d DeTable<'d>,
    span: ByteSpan,
    root: &'d DeTable<'d>,
    diagnostics: &'d Diagnostics,
}

impl<'d> SectionReader<'d> {
    /// The top of a document.
    pub(super) fn root(
        keys: &'static [KeySpec],
        root: &'d DeTable<'d>,
        diagnostics: &'d Diagnostics,
    ) -> Self {
        Self { keys, name: String::new(), entries: root, span: 0..0, root, diagnostics }
    }

    /// A number in its range.
    pub(super) fn number(&self, key: &'static KeySpec) -> Option<f64> {
        let value = self.value(key)?;
        let ValueKind::Number { from, to, at_most, .. } = key.kind else { return None };
        let other = at_most
            .and_then(|other| self.keys.iter().find(|key| key.name == other))
            .and_then(|other| self.peek_number(other));
        self.number_in_range(key.name, value, &(from..=other.map_or(to, |other| other.min(to))))
    }

    /// A whole number in its range.
    pub(super) fn integer(&self, key: &'static KeySpec) -> Option<u32> {
        let value = self.value(key)?;
        let ValueKind::Integer { from, to, .. } = key.kind else { return None };
        let range = f64::from(from)..=f64::from(to);
        let number = self.number_in_range(key.name, value, &range)?;
        if number.fract() > 0.0 {
            let message =
                format!("`{}` is {}, not a whole number", key.name, format_number(number));
            let help = format!("allowed: whole numbers from {from} to {to}");
            self.diagnostics.note(&value.span(), message, help);
            return None;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "whole and in range"
        )]
        Some(number as u32)
    }

    /// True or false.
    pub(super) fn boolean(&self, key: &'static KeySpec) -> Option<bool> {
        let value = self.value(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            let (name, kind) = (key.name, value::type_name(value.get_ref()));
            let message = format!("`{name}` must be true or false, and this is {kind}");
            let help =
                format!("write `{name} = true` or `{name} = false`, without quotation marks");
            self.diagnostics.note(&value.span(), message, help);
        }
        flag
    }

    /// Text.
    pub(super) fn text(&self, key: &'static KeySpec) -> Option<String> {
        let value = self.value(key)?;
        let ValueKind::Text { bytes_max } = key.kind else { return None };
        let read = value::text(value.get_ref(), bytes_max).map_err(|mut wrong| {
            if wrong.blank && !matches!(key.presence, Presence::Required) {
                wrong.help += ", or leave the key out";
            }
            wrong
        });
        self.note_error(key.name, value, read)
    }

    /// A word that must be one of these.
    pub(super) fn word(&self, key: &'static KeySpec, words: &[&str]) -> Option<String> {
        let value = self.value(key)?;
        let word =
            self.note_error(key.name, value, value::text(value.get_ref(), WORD_BYTES_MAX))?;
        if words.contains(&word.as_str()) {
            return Some(word);
        }
        let meant = nearest(&word, words.iter().copied());
        let message = format!(
            "`{}` is \"{}\", which is not one of the known words",
            key.name,
            sanitized(&word, 40)
        );
        let allowed = || one_of(words.iter().copied());
        let help = match meant {
            Some(meant) if words.len() > WORDS_SHOWN => format!("did you mean \"{meant}\"?"),
            Some(meant) => format!("did you mean \"{meant}\"? allowed: {}", allowed()),
            None => format!("allowed: {}", allowed()),
        };
        self.diagnostics.note(&value.span(), message, help);
        None
    }

    /// A section with these keys.
    pub(super) fn section(
        &self,
        key: &'static KeySpec,
        keys: &'static [KeySpec],
    ) -> Option<Self> {
        let misspelt = || self.misspelt_header(key.name).is_some();
        // With several alternatives it is unclear which one is meant.
        if matches!(key.presence, Presence::Required) && misspelt()
            || matches!(key.presence, Presence::OneOf) && self.alternatives() > 1
        {
            return None;
        }
        self.open_section(key, keys, self.value(key)?)
    }

    /// A list of sections; `None` in place of an entry that is not a section.
    pub(super) fn sections(
        &self,
        key: &'static KeySpec,
        keys: &'static [KeySpec],
    ) -> Option<impl Iterator<Item = Option<Self>>> {
        let value = self.value(key)?;
        let ValueKind::List { most, .. } = key.kind else { return None };
        let Some(array) = value.get_ref().as_array() else {
            let (path, kind) = (self.path(key.name), value::type_name(value.get_ref()));
            self.diagnostics.note(
                &value.span(),
                format!("`{path}` must be a list of sections, and this is {kind}"),
                format!("write [[{path}]] with two brackets, once for each"),
            );
            return None;
        };
        Some(array.iter().take(most).map(move |entry| self.open_section(key, keys, entry)))
    }

    /// Notes unknown keys and missing required keys. A misspelt key is both, and is noted once.
    pub(super) fn finish(self) {
        let mut meant_keys = Vec::new();
        for (key, _) in self.entries.iter() {
            let word = key.get_ref().as_ref();
            if self.keys.iter().any(|key| key.name == word) {
                continue;
            }
            let names = || self.keys.iter().map(|key| key.name);
            let twin = names().find(|name| self.misspelt_header(name) == Some(word));
            let absent = names().filter(|name| !self.has(name));
            let meant = twin.or_else(|| nearest(word, absent));
            meant_keys.extend(meant);
            self.note_unknown(key, meant);
        }
        for key in self.keys {
            if self.is_required(key) && !self.has(key.name) && !meant_keys.contains(&key.name) {
                let message = format!("there is no `{}` {}", key.name, self.location_phrase());
                let help = format!("add `{}`, {}", key.name, self.expected(key));
                // Keys missing at the top of the file are listed first.
                if self.name.is_empty() {
                    self.diagnostics.note(&self.span, message, help);
                } else {
                    self.diagnostics.note_absence(&self.span, message, help);
                }
            }
        }
    }

    /// Checks the one key that a path leads to from here.
    pub(super) fn check_key<'p>(
        &self,
        mut path: impl Iterator<Item = (&'p str, Option<usize>)>,
    ) {
        let Some((name, number)) = path.next() else { return };
        let Some((word, value)) = self.entries.get_key_value(name) else { return };
        let Some(key) = self.keys.iter().find(|key| key.name == name) else {
            return self
                .note_unknown(word, nearest(name, self.keys.iter().map(|key| key.name)));
        };
        match key.kind {
            ValueKind::Number { .. } => _ = self.number(key),
            ValueKind::Integer { .. } => _ = self.integer(key),
            ValueKind::Boolean => _ = self.boolean(key),
            ValueKind::Text { .. } => _ = self.text(key),
            ValueKind::Word(words) => _ = self.word(key, &words()),
            ValueKind::Section(keys) => self.check_inner_key(key, keys, value, path),
            ValueKind::List { keys, .. } => {
                let index = number.map(|number| number - 1);
                let nth = value.get_ref().as_array().zip(index);
                if let Some(entry) = nth.and_then(|(array, index)| array.get(index)) {
                    self.check_inner_key(key, keys, entry, path);
                }
            }
        }
    }

    fn check_inner_key<'p>(
        &self,
        key: &KeySpec,
        keys: &'static [KeySpec],
        value: &'d Spanned<DeValue<'d>>,
        path: impl Iterator<Item = (&'p str, Option<usize>)>,
    ) {
        if let Some(section) = self.open_section(key, keys, value) {
            section.check_key(path);
        }
    }

    fn note_unknown(&self, key: &Spanned<DeString<'_>>, meant: Option<&str>) {
        let message = format!(
            "unknown key `{}` {}",
            sanitized(key.get_ref(), 40),
            self.location_phrase()
        );
        let help = match retired::help(key.get_ref()) {
            Some(help) => help.to_owned(),
            None => self.allowed_keys(meant),
        };
        self.diagnostics.note(&key.span(), message, help);
    }

    fn is_required(&self, key: &KeySpec) -> bool {
        matches!(key.presence, Presence::Required)
            || matches!(key.presence, Presence::RequiredWith(other, _) if self.root.contains_key(other))
    }

    fn expected(&self, key: &KeySpec) -> String {
        match key.kind {
            ValueKind::Number { from, to, .. } => {
                format!("a number from {} to {}", format_number(from), format_number(to))
            }
            ValueKind::Integer { from, to, .. } => {
                format!("a whole number from {from} to {to}")
            }
            ValueKind::Boolean => "true or false".to_owned(),
            ValueKind::Text { bytes_max } => {
                format!("text of at most {bytes_max} bytes, in quotation marks")
            }
            ValueKind::Word(words) if words().len() > WORDS_SHOWN => key.allowed_text(),
            ValueKind::Word(words) => format!("one of {}", one_of(words())),
            ValueKind::Section(_) => format!("a section: [{}]", self.path(key.name)),
            ValueKind::List { .. } => {
                format!("sections, one or more: [[{}]]", self.path(key.name))
            }
        }
    }

    /// How many of the mutually exclusive keys are present.
    fn alternatives(&self) -> usize {
        let one_of =
            |key: &&KeySpec| matches!(key.presence, Presence::OneOf) && self.has(key.name);
        self.keys.iter().filter(one_of).count()
    }

    fn has(&self, key: &str) -> bool {
        self.entries.contains_key(key)
    }

    fn value(&self, key: &KeySpec) -> Option<&'d Spanned<DeValue<'d>>> {
        self.entries.get(key.name)
    }

    /// The number of a key if it is valid; errors are not noted.
    fn peek_number(&self, key: &KeySpec) -> Option<f64> {
        let ValueKind::Number { from, to, .. } = key.kind else { return None };
        let number = value::number(self.value(key)?.get_ref()).ok()?;
        (from..=to).contains(&number).then_some(number)
    }

    /// The misspelt header of the section `key`. If `[work]` is misspelt as `[wrok]` and `[work.coat]` is
    /// not, the file has a `work` that contains nothing but sections.
    fn misspelt_header(&self, key: &str) -> Option<&'d str> {
        let is_table = |value: &Spanned<DeValue<'_>>| value.get_ref().as_table().is_some();
        let section = self.entries.get(key)?.get_ref().as_table()?;
        if section.is_empty() || !section.values().all(is_table) {
            return None;
        }
        let others = self.entries.iter().filter(|(_, value)| is_table(value));
        let mut words = others.map(|(word, _)| word.get_ref().as_ref());
        words.find(|word| *word != key && nearest(word, [key]).is_some())
    }

    fn location_phrase(&self) -> String {
        if self.name.is_empty() {
            "at the top of the file".to_owned()
        } else {
            format!("in `{}`", self.name)
        }
    }

    fn path(&self, key: &str) -> String {
        if self.name.is_empty() { key.to_owned() } else { format!("{}.{key}", self.name) }
    }

    fn number_in_range(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        allowed: &RangeInclusive<f64>,
    ) -> Option<f64> {
        let number = self.note_error(key, value, value::number(value.get_ref()))?;
        if allowed.contains(&number) {
            return Some(number);
        }
        let side = if number < *allowed.start() { "too small" } else { "too large" };
        self.diagnostics.note(
            &value.span(),
            format!("`{key}` is {}, which is {side}", format_number(number)),
            format!(
                "allowed: {} to {}",
                format_number(*allowed.start()),
                format_number(*allowed.end())
            ),
        );
        None
    }

    fn open_section(
        &self,
        key: &KeySpec,
        keys: &'static [KeySpec],
        value: &'d Spanned<DeValue<'d>>,
    ) -> Option<Self> {
        let name = self.path(key.name);
        if let Some(entries) = value.get_ref().as_table() {
            let (root, diagnostics) = (self.root, self.diagnostics);
            return Some(SectionReader {
                keys,
                name,
                entries,
                span: value.span(),
                root,
                diagnostics,
            });
        }
        let kind = value::type_name(value.get_ref());
        self.diagnostics.note(
            &value.span(),
            format!("`{name}` must be a section, and this is {kind}"),
            format!(
                "write `{} = {{ key = value }}` or a line [{name}] above its keys",
                key.name
            ),
        );
        None
    }

    fn note_error<T>(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        result: Result<T, ValueError>,
    ) -> Option<T> {
        let note = |wrong: ValueError| {
            let message = format!("`{key}` {}", wrong.message);
            self.diagnostics.note(&value.span(), message, wrong.help);
        };
        result.map_err(note).ok()
    }

    fn allowed_keys(&self, meant: Option<&str>) -> String {
        let names = self.keys.iter().map(|key| format!("`{}`", key.name));
        let list = names.collect::<Vec<_>>().join(", ");
        match meant {
            Some(meant) if self.keys.len() > KEYS_SHOWN => format!("did you mean `{meant}`?"),
            Some(meant) => format!("did you mean `{meant}`? allowed here: {list}"),
            None => format!("allowed here: {list}"),
        }
    }
}

/// With a suggestion, a list of allowed keys longer than this is left out.
const KEYS_SHOWN: usize = 6;

/// A list of words for a message.
pub(super) fn one_of<'w>(words: impl IntoIterator<Item = &'w str>) -> String {
    words.into_iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", ")
}
