//! What may stand in a file: keys, each said once. The reader, its messages, the reference pages, the
//! schema for editors and what writes files all go by these.

/// One key of a section.
#[derive(Clone, Copy, Debug)]
pub struct KeySpec {
    /// As it is written.
    pub name: &'static str,
    /// What its value is.
    pub kind: ValueKind,
    /// Whether it must be there.
    pub presence: Presence,
    /// What it means.
    pub meaning: &'static str,
    /// Who uses it, in letters that its page explains; empty where the page has none.
    pub used_by: &'static str,
}

/// What a value is.
#[derive(Clone, Copy, Debug)]
pub enum ValueKind {
    /// A number.
    Number {
        /// Its unit; empty for a pure number.
        unit: &'static str,
        /// Smallest.
        from: f64,
        /// Largest.
        to: f64,
        /// A key of the same section whose value it may not exceed either.
        at_most: Option<&'static str>,
    },
    /// A whole number.
    Integer {
        /// Its unit; empty for a count.
        unit: &'static str,
        /// Smallest.
        from: u32,
        /// Largest.
        to: u32,
    },
    /// True or false.
    Boolean,
    /// Text that can be shown.
    Text {
        /// Longest (bytes).
        bytes_max: usize,
    },
    /// One of these words.
    Word(fn() -> Vec<&'static str>),
    /// A section.
    Section(&'static [KeySpec]),
    /// Sections, one or more.
    List {
        /// What stands in each.
        keys: &'static [KeySpec],
        /// More are not read.
        most: usize,
    },
}

/// Whether a key must be there, and what counts where it is left out.
#[derive(Clone, Copy, Debug)]
pub enum Presence {
    /// It must.
    Required,
    /// It must where the file has this section at its top; elsewhere what the second says counts.
    RequiredWith(&'static str, &'static str),
    /// One of the keys of its section that are given so must.
    OneOf,
    /// It need not; this is what counts then, in words.
    Optional(&'static str),
    /// This number counts.
    Default(f64),
    /// The first number counts, or the second where this flag is set.
    DefaultOrIf(f64, &'static str, f64),
    /// So many percent of the number of this key count.
    DefaultPercentOf(f64, &'static str),
    /// This whole number counts.
    DefaultInteger(u32),
    /// This counts.
    DefaultBoolean(bool),
}

impl KeySpec {
    /// A key that all use.
    pub const fn new(
        name: &'static str,
        kind: ValueKind,
        given: Presence,
        meaning: &'static str,
    ) -> Self {
        Self { name: without_raw_prefix(name), kind, presence: given, meaning, used_by: "" }
    }

    /// The same key, used by these.
    pub const fn with_users(mut self, letters: &'static str) -> Self {
        self.used_by = letters;
        self
    }
}

/// A name that is a word of Rust bears a mark in the source, and none in a file.
const fn without_raw_prefix(name: &'static str) -> &'static str {
    match name.as_bytes() {
        [b'r', b'#', rest @ ..] => match std::str::from_utf8(rest) {
            Ok(rest) => rest,
            Err(_) => name,
        },
        _ => name,
    }
}

impl ValueKind {
    /// The same number, and no more than that of another key of the section.
    pub const fn at_most(self, other: &'static str) -> Self {
        if let Self::Number { unit, from, to, .. } = self {
            return Self::Number { unit, from, to, at_most: Some(other) };
        }
        self
    }
}

/// A number of a unit, in a range.
pub const fn number(unit: &'static str, from: f64, to: f64) -> ValueKind {
    ValueKind::Number { unit, from, to, at_most: None }
}

/// A whole number of a unit, in a range.
pub const fn integer(unit: &'static str, from: u32, to: u32) -> ValueKind {
    ValueKind::Integer { unit, from, to }
}

/// Text of at most so many bytes.
pub const fn text(bytes_max: usize) -> ValueKind {
    ValueKind::Text { bytes_max }
}
