//! Reading the keys of one section.

use std::cell::RefCell;
use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::value::{self, Wrong, plain};
use saggar_files::{Findings, Span, nearest, shown};

/// Longest word of a choice (bytes).
const WORD_BYTES_MAX: usize = 64;

/// One section of a document. Every key that is asked for is a key that is allowed;
/// [`Table::finish`] notes all others.
pub struct Table<'d> {
    name: String,
    entries: &'d DeTable<'d>,
    span: Span,
    findings: &'d Findings,
    asked: RefCell<Vec<&'static str>>,
    missing: RefCell<Vec<(&'static str, String)>>,
}

impl<'d> Table<'d> {
    pub(super) fn new(
        name: &str,
        entries: &'d DeTable<'d>,
        span: Span,
        findings: &'d Findings,
    ) -> Self {
        Self {
            name: name.to_owned(),
            entries,
            span,
            findings,
            asked: RefCell::default(),
            missing: RefCell::default(),
        }
    }

    /// Where the section begins.
    pub fn span(&self) -> &Span {
        &self.span
    }

    /// Where the value of a key stands; the section itself if it is left out.
    pub fn span_of(&self, key: &str) -> Span {
        self.entries.get(key).map_or_else(|| self.span.clone(), Spanned::span)
    }

    /// Where a key itself stands; the section itself if it is left out.
    pub fn key_span(&self, key: &str) -> Span {
        self.entries.get_key_value(key).map_or_else(|| self.span.clone(), |(key, _)| key.span())
    }

    /// Where the values of all keys stand.
    pub fn spots(&self) -> Vec<(String, Span)> {
        self.entries
            .iter()
            .map(|(key, value)| (key.get_ref().to_string(), value.span()))
            .collect()
    }

    /// The file gives this key.
    pub fn has(&self, key: &str) -> bool {
        self.entries.contains_key(key)
    }

    /// The file gives nothing here.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// The file gives none but these keys.
    pub fn has_only(&self, keys: &[&str]) -> bool {
        self.entries.keys().all(|key| keys.contains(&key.get_ref().as_ref()))
    }

    /// Which of these keys the file gives, in the order of the file. All are allowed.
    pub fn present(&self, keys: &[&'static str]) -> Vec<&'static str> {
        self.asked.borrow_mut().extend(keys);
        let mut present: Vec<_> = keys.iter().copied().filter(|key| self.has(key)).collect();
        present.sort_by_key(|key| self.key_span(key).start);
        present
    }

    /// Notes something wrong with the value of a key.
    pub fn note(&self, key: &str, message: impl Into<String>, help: impl Into<String>) {
        self.findings.note(&self.span_of(key), message, help);
    }

    /// Notes something wrong at a place.
    pub fn note_at(&self, span: &Span, message: impl Into<String>, help: impl Into<String>) {
        self.findings.note(span, message, help);
    }

    /// Notes something wrong with the value of a key inside a section of this one.
    pub fn note_inside(
        &self,
        section: &str,
        key: &str,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        let inner = self.entries.get(section).and_then(|value| value.get_ref().as_table());
        let value = inner.and_then(|table| table.get(key));
        let span = value.map_or_else(|| self.span_of(section), Spanned::span);
        self.findings.note(&span, message, help);
    }

    /// The number of a key, if it is one, with nothing noted.
    pub fn known_number(&self, key: &str) -> Option<f64> {
        self.entries.get(key).and_then(|value| value::number(value.get_ref()).ok())
    }

    /// A number that must be there and lie in a range.
    pub fn number(&self, key: &'static str, allowed: RangeInclusive<f64>) -> Option<f64> {
        let value = self.required(key, || {
            format!("a number from {} to {}", plain(*allowed.start()), plain(*allowed.end()))
        })?;
        self.ranged(key, value, &allowed)
    }

    /// A number that may be left out.
    pub fn number_if(&self, key: &'static str, allowed: RangeInclusive<f64>) -> Option<f64> {
        let value = self.optional(key)?;
        self.ranged(key, value, &allowed)
    }

    /// A number that may be left out, and what it is then.
    pub fn number_or(
        &self,
        key: &'static str,
        allowed: RangeInclusive<f64>,
        default: f64,
    ) -> f64 {
        self.number_if(key, allowed).unwrap_or(default)
    }

    /// A whole number that may be left out, and what it is then.
    pub fn whole_or(
        &self,
        key: &'static str,
        allowed: RangeInclusive<u32>,
        default: u32,
    ) -> u32 {
        let Some(value) = self.optional(key) else { return default };
        let range = f64::from(*allowed.start())..=f64::from(*allowed.end());
        match self.ranged(key, value, &range) {
            Some(number) if number.fract() > 0.0 => {
                let help =
                    format!("allowed: whole numbers from {} to {}", range.start(), range.end());
                self.note(
                    key,
                    format!("`{key}` is {}, not a whole number", plain(number)),
                    help,
                );
                default
            }
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "whole and in range"
            )]
            Some(number) => number as u32,
            None => default,
        }
    }

    /// True or false, and what it is when left out.
    pub fn flag_or(&self, key: &'static str, default: bool) -> bool {
        let Some(value) = self.optional(key) else { return default };
        match value.get_ref().as_bool() {
            Some(flag) => flag,
            None => {
                let kind = value::kind_of(value.get_ref());
                self.note(
                    key,
                    format!("`{key}` must be true or false, and this is {kind}"),
                    format!("write `{key} = true` or `{key} = false`, without quotation marks"),
                );
                default
            }
        }
    }

    /// Text that must be there.
    pub fn text(&self, key: &'static str, bytes_max: usize) -> Option<String> {
        let value = self.required(key, || {
            format!("text of at most {bytes_max} bytes, in quotation marks")
        })?;
        self.judged(key, value::text(value.get_ref(), bytes_max))
    }

    /// Text that may be left out.
    pub fn text_if(&self, key: &'static str, bytes_max: usize) -> Option<String> {
        let value = self.optional(key)?;
        let read = value::text(value.get_ref(), bytes_max).map_err(|mut wrong| {
            if wrong.blank {
                wrong.help += ", or leave the key out";
            }
            wrong
        });
        self.judged(key, read)
    }

    /// One of several words; it must be there.
    pub fn choice<T: Clone>(&self, key: &'static str, choices: &[(&str, T)]) -> Option<T> {
        let value = self.required(key, || format!("one of {}", one_of(choices)))?;
        self.chosen(key, value, choices)
    }

    /// One of several words, or nothing.
    pub fn choice_if<T: Clone>(&self, key: &'static str, choices: &[(&str, T)]) -> Option<T> {
        let value = self.optional(key)?;
        self.chosen(key, value, choices)
    }

    /// A section that must be there.
    pub fn table(&self, key: &'static str) -> Option<Table<'d>> {
        if self.misspelt(key).is_some() {
            self.asked.borrow_mut().push(key);
            return None;
        }
        let path = self.path(key);
        let value = self.required(key, || format!("a section: [{path}]"))?;
        self.as_table(key, value)
    }

    /// A section that may be left out.
    pub fn table_if(&self, key: &'static str) -> Option<Table<'d>> {
        let value = self.optional(key)?;
        self.as_table(key, value)
    }

    /// A list of sections; at least one must be there.
    pub fn tables(&self, key: &'static str) -> Vec<Table<'d>> {
        let path = self.path(key);
        let Some(value) = self.required(key, || format!("sections, one or more: [[{path}]]"))
        else {
            return Vec::new();
        };
        let Some(array) = value.get_ref().as_array() else {
            let kind = value::kind_of(value.get_ref());
            self.note(
                key,
                format!("`{path}` must be a list of sections, and this is {kind}"),
                format!("write [[{path}]] with two brackets, once for each"),
            );
            return Vec::new();
        };
        array.iter().filter_map(|entry| self.as_table(key, entry)).collect()
    }

    /// Notes every key that nobody asked for, and every one that was asked for in vain. A
    /// misspelt key is both; it is noted once.
    pub fn finish(self) {
        let asked = self.asked.borrow();
        let mut meant_keys = Vec::new();
        for (key, _) in self.entries.iter() {
            let word = key.get_ref().as_ref();
            if asked.contains(&word) {
                continue;
            }
            let absent = asked.iter().copied().filter(|key| !self.has(key));
            let twin = asked.iter().copied().find(|key| self.misspelt(key) == Some(word));
            let meant = twin.or_else(|| nearest(word, absent));
            meant_keys.extend(meant);
            let message = format!("unknown key `{}` {}", shown(word, 40), self.place());
            self.findings.note(&key.span(), message, allowed_keys(meant, &asked));
        }
        for (key, wanted) in self.missing.take() {
            if !meant_keys.contains(&key) {
                let message = format!("there is no `{key}` {}", self.place());
                self.findings.note(&self.span, message, format!("add `{key}`, {wanted}"));
            }
        }
    }

    /// The misspelt head of the section `key`: where `[work]` is written `[wrok]` and
    /// `[work.coat]` is not, there is a `work` with nothing but sections in it.
    fn misspelt(&self, key: &str) -> Option<&'d str> {
        let is_table = |value: &Spanned<DeValue<'_>>| value.get_ref().as_table().is_some();
        let section = self.entries.get(key)?.get_ref().as_table()?;
        if section.is_empty() || !section.values().all(is_table) {
            return None;
        }
        let others = self.entries.iter().filter(|(_, value)| is_table(value));
        let mut words = others.map(|(word, _)| word.get_ref().as_ref());
        words.find(|word| *word != key && nearest(word, [key]).is_some())
    }

    fn place(&self) -> String {
        if self.name.is_empty() {
            "at the top of the file".to_owned()
        } else {
            format!("in `{}`", self.name)
        }
    }

    fn path(&self, key: &str) -> String {
        if self.name.is_empty() { key.to_owned() } else { format!("{}.{key}", self.name) }
    }

    fn optional(&self, key: &'static str) -> Option<&'d Spanned<DeValue<'d>>> {
        self.asked.borrow_mut().push(key);
        self.entries.get(key)
    }

    fn required(
        &self,
        key: &'static str,
        wanted: impl Fn() -> String,
    ) -> Option<&'d Spanned<DeValue<'d>>> {
        let value = self.optional(key);
        if value.is_none() {
            self.missing.borrow_mut().push((key, wanted()));
        }
        value
    }

    fn ranged(
        &self,
        key: &'static str,
        value: &Spanned<DeValue<'_>>,
        allowed: &RangeInclusive<f64>,
    ) -> Option<f64> {
        let number = self.judged(key, value::number(value.get_ref()))?;
        if allowed.contains(&number) {
            return Some(number);
        }
        let side = if number < *allowed.start() { "too small" } else { "too large" };
        self.note(
            key,
            format!("`{key}` is {}, which is {side}", plain(number)),
            format!("allowed: {} to {}", plain(*allowed.start()), plain(*allowed.end())),
        );
        None
    }

    fn chosen<T: Clone>(
        &self,
        key: &'static str,
        value: &Spanned<DeValue<'_>>,
        choices: &[(&str, T)],
    ) -> Option<T> {
        let word = self.judged(key, value::text(value.get_ref(), WORD_BYTES_MAX))?;
        let found = choices.iter().find(|(choice, _)| *choice == word);
        if found.is_none() {
            let meant = nearest(&word, choices.iter().map(|(word, _)| *word))
                .map_or_else(String::new, |meant| format!("did you mean \"{meant}\"? "));
            self.note(
                key,
                format!("`{key}` is \"{}\", which is not known here", shown(&word, 40)),
                format!("{meant}allowed: {}", one_of(choices)),
            );
        }
        found.map(|(_, meaning)| meaning.clone())
    }

    fn as_table(
        &self,
        key: &'static str,
        value: &'d Spanned<DeValue<'d>>,
    ) -> Option<Table<'d>> {
        let path = self.path(key);
        if let Some(entries) = value.get_ref().as_table() {
            return Some(Table::new(&path, entries, value.span(), self.findings));
        }
        let kind = value::kind_of(value.get_ref());
        self.findings.note(
            &value.span(),
            format!("`{path}` must be a section, and this is {kind}"),
            format!("write `{key} = {{ key = value }}` or a line [{path}] above its keys"),
        );
        None
    }

    fn judged<T>(&self, key: &'static str, result: Result<T, Wrong>) -> Option<T> {
        result
            .map_err(|wrong| self.note(key, format!("`{key}` {}", wrong.message), wrong.help))
            .ok()
    }
}

/// Longest list of keys that helps somebody to whom a key was suggested already.
const KEYS_SHOWN: usize = 6;

fn allowed_keys(meant: Option<&str>, asked: &[&str]) -> String {
    let mut keys: Vec<&str> = Vec::new();
    for key in asked {
        if !keys.contains(key) {
            keys.push(key);
        }
    }
    let list = keys.iter().map(|key| format!("`{key}`")).collect::<Vec<_>>().join(", ");
    match meant {
        Some(meant) if keys.len() > KEYS_SHOWN => format!("did you mean `{meant}`?"),
        Some(meant) => format!("did you mean `{meant}`? allowed here: {list}"),
        None => format!("allowed here: {list}"),
    }
}

fn one_of<T>(choices: &[(&str, T)]) -> String {
    choices.iter().map(|(word, _)| format!("\"{word}\"")).collect::<Vec<_>>().join(", ")
}
