//! The keys that a file may have. The reader and its messages, the writer, the reference pages and the
//! schema for editors all use these tables.

/// One key of a section.
#[derive(Clone, Copy, Debug)]
pub struct KeySpec {
    /// Its name in the file.
    pub name: &'static str,
    /// Type and range of its value.
    pub kind: ValueKind,
    /// Whether it is required, or else its default.
    pub presence: Presence,
    /// What it means.
    pub meaning: &'static str,
    /// Who uses it, as letters that its reference page explains; empty where the page has no such
    /// column.
    pub used_by: &'static str,
}

/// Type and range of a value.
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
        /// A key of the same section whose value is another upper limit.
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
    /// Text of printable characters.
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
        /// The keys of each.
        keys: &'static [KeySpec],
        /// Most sections that are read.
        most: usize,
    },
}

/// Whether a key is required, and its default if not.
#[derive(Clone, Copy, Debug)]
pub enum Presence {
    /// Required.
    Required,
    /// Required in a file that has this section at its top. Otherwise the default is as the second text
    /// says.
    RequiredWith(&'static str, &'static str),
    /// Exactly one of the keys of its section with this presence is required.
    OneOf,
    /// Optional; the default in words.
    Optional(&'static str),
    /// Optional, with this default.
    Default(f64),
    /// Optional. The default is this percentage of the value of another key.
    DefaultPercentOf(f64, &'static str),
    /// Optional, with this default.
    DefaultInteger(u32),
    /// Optional, with this default.
    DefaultBoolean(bool),
}

impl KeySpec {
    /// A key without users listed.
    pub const fn new(
        name: &'static str,
        kind: ValueKind,
        given: Presence,
        meaning: &'static str,
    ) -> Self {
        Self { name: without_raw_prefix(name), kind, presence: given, meaning, used_by: "" }
    }

    /// The same key with its users.
    pub const fn with_users(mut self, letters: &'static str) -> Self {
        self.used_by = letters;
        self
    }
}

/// Removes the `r#` that a Rust keyword has as an identifier.
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
    /// The same number, limited by another key of the section.
    pub const fn at_most(self, other: &'static str) -> Self {
        if let Self::Number { unit, from, to, .. } = self {
            return Self::Number { unit, from, to, at_most: Some(other) };
        }
        self
    }
}

/// A number in a range, with its unit.
pub const fn number(unit: &'static str, from: f64, to: f64) -> ValueKind {
    ValueKind::Number { unit, from, to, at_most: None }
}

/// A whole number in a range, with its unit.
pub const fn integer(unit: &'static str, from: u32, to: u32) -> ValueKind {
    ValueKind::Integer { unit, from, to }
}

/// Text of at most `bytes_max` bytes.
pub const fn text(bytes_max: usize) -> ValueKind {
    ValueKind::Text { bytes_max }
}
