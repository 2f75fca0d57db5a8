//! What may stand in a file: sections and their keys, each said once.
//!
//! `section!` makes of one list both a plain struct, a section as a file or a
//! program gives it, and its [`Key`]s. The reader, its messages, the reference pages, the schema for
//! editors and what writes files all go by these keys.

use super::Table;
use super::print::Written;

/// One key of a section.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// As it is written.
    pub name: &'static str,
    /// What its value is.
    pub kind: Kind,
    /// Whether it must be there.
    pub given: Given,
    /// What it means.
    pub meaning: &'static str,
    /// Who uses it, in letters that its page explains; empty where the page has none.
    pub used_by: &'static str,
}

/// What a value is.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
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
    Whole {
        /// Its unit; empty for a count.
        unit: &'static str,
        /// Smallest.
        from: u32,
        /// Largest.
        to: u32,
    },
    /// True or false.
    Flag,
    /// Text that can be shown.
    Text {
        /// Longest (bytes).
        bytes_max: usize,
    },
    /// One of these words.
    Word(fn() -> Vec<&'static str>),
    /// A section.
    Section(&'static [Key]),
    /// Sections, one or more.
    List {
        /// What stands in each.
        keys: &'static [Key],
        /// More are not read.
        most: usize,
    },
}

/// Whether a key must be there, and what counts where it is left out.
#[derive(Clone, Copy, Debug)]
pub enum Given {
    /// It must.
    Required,
    /// It must where the file has this section at its top; elsewhere what the second says counts.
    RequiredWith(&'static str, &'static str),
    /// One of the keys of its section that are given so must.
    OneOf,
    /// It need not; this is what counts then, in words.
    Optional(&'static str),
    /// This number counts.
    Number(f64),
    /// The first number counts, or the second where this flag is set.
    NumberOrIf(f64, &'static str, f64),
    /// So many percent of the number of this key count.
    PercentOf(f64, &'static str),
    /// This whole number counts.
    Whole(u32),
    /// This counts.
    Flag(bool),
}

impl Key {
    /// A key that all use.
    pub const fn new(
        name: &'static str,
        kind: Kind,
        given: Given,
        meaning: &'static str,
    ) -> Self {
        Self { name: without_mark(name), kind, given, meaning, used_by: "" }
    }

    /// The same key, used by these.
    pub const fn used_by(mut self, letters: &'static str) -> Self {
        self.used_by = letters;
        self
    }
}

/// A name that is a word of Rust bears a mark in the source, and none in a file.
const fn without_mark(name: &'static str) -> &'static str {
    match name.as_bytes() {
        [b'r', b'#', rest @ ..] => match std::str::from_utf8(rest) {
            Ok(rest) => rest,
            Err(_) => name,
        },
        _ => name,
    }
}

impl Kind {
    /// The same number, and no more than that of another key of the section.
    pub const fn at_most(self, other: &'static str) -> Self {
        if let Self::Number { unit, from, to, .. } = self {
            return Self::Number { unit, from, to, at_most: Some(other) };
        }
        self
    }
}

/// A number of a unit, in a range.
pub const fn number(unit: &'static str, from: f64, to: f64) -> Kind {
    Kind::Number { unit, from, to, at_most: None }
}

/// A whole number of a unit, in a range.
pub const fn whole(unit: &'static str, from: u32, to: u32) -> Kind {
    Kind::Whole { unit, from, to }
}

/// Text of at most so many bytes.
pub const fn text(bytes_max: usize) -> Kind {
    Kind::Text { bytes_max }
}

/// One of the words of a type.
pub const fn word<T: Words>() -> Kind {
    Kind::Word(words_of::<T>)
}

/// A section of a type.
pub const fn section_of<S: Section>() -> Kind {
    Kind::Section(S::KEYS)
}

/// Sections of a type, of which no more than `most` are read.
pub const fn list<S: Section>(most: usize) -> Kind {
    Kind::List { keys: S::KEYS, most }
}

fn words_of<T: Words>() -> Vec<&'static str> {
    T::words().into_iter().map(|(word, _)| word).collect()
}

/// A section as plain data: what it gives, `None` for what it leaves out.
pub trait Section: Clone + Default + PartialEq {
    /// What may stand in it.
    const KEYS: &'static [Key];

    /// What stands in a table, with a finding for every value that cannot be.
    fn read(table: &Table<'_>) -> Self;

    /// What it gives, in the order of the keys.
    fn written(&self) -> Vec<(&'static str, Written)>;

    /// The same with what counts where it leaves something out.
    fn filled(&self) -> Self;
}

/// The value of a key.
pub trait Value: Clone {
    /// What stands in a table, with a finding if it cannot be.
    fn read(table: &Table<'_>, key: &'static Key) -> Option<Self>;

    /// As it is to be written.
    fn written(&self) -> Written;

    /// What counts where it is left out.
    fn default_of(_: &Key) -> Option<Self> {
        None
    }
}

/// A type that is a choice among words.
pub trait Words: Clone + PartialEq + 'static {
    /// Each word and what it means.
    fn words() -> Vec<(&'static str, Self)>;

    /// The word for this.
    fn word(&self) -> &'static str {
        Self::words()
            .into_iter()
            .find(|(_, meaning)| meaning == self)
            .map_or("", |(word, _)| word)
    }
}

impl Value for f64 {
    fn read(table: &Table<'_>, key: &'static Key) -> Option<Self> {
        table.number(key)
    }

    fn written(&self) -> Written {
        Written::Number(*self)
    }

    fn default_of(key: &Key) -> Option<Self> {
        if let Given::Number(number) = key.given { Some(number) } else { None }
    }
}

impl Value for u32 {
    fn read(table: &Table<'_>, key: &'static Key) -> Option<Self> {
        table.whole_number(key)
    }

    fn written(&self) -> Written {
        Written::Whole(*self)
    }

    fn default_of(key: &Key) -> Option<Self> {
        if let Given::Whole(number) = key.given { Some(number) } else { None }
    }
}

impl Value for bool {
    fn read(table: &Table<'_>, key: &'static Key) -> Option<Self> {
        table.flag(key)
    }

    fn written(&self) -> Written {
        Written::Flag(*self)
    }

    fn default_of(key: &Key) -> Option<Self> {
        if let Given::Flag(flag) = key.given { Some(flag) } else { None }
    }
}

impl Value for String {
    fn read(table: &Table<'_>, key: &'static Key) -> Option<Self> {
        table.text(key)
    }

    fn written(&self) -> Written {
        Written::Text(self.clone())
    }
}

impl<T: Words> Value for T {
    fn read(table: &Table<'_>, key: &'static Key) -> Option<Self> {
        table.word(key)
    }

    fn written(&self) -> Written {
        Written::Text(self.word().to_owned())
    }
}

impl<S: Section> Value for Vec<S> {
    fn read(table: &Table<'_>, key: &'static Key) -> Option<Self> {
        table.sections(key)
    }

    fn written(&self) -> Written {
        Written::List(self.iter().map(Section::written).collect())
    }
}

/// Makes a section of the list of its keys: `key: type = kind, given, meaning, used by;`.
macro_rules! section {
    ($(#[$about:meta])* $name:ident {$(
        $key:ident: $type:ty = $kind:expr, $given:expr, $meaning:literal $(, $letters:literal)?;
    )*}) => {
        $(#[$about])*
        #[derive(Clone, Debug, Default, PartialEq)]
        pub struct $name {$(
            #[doc = $meaning]
            pub $key: Option<$type>,
        )*}

        impl $crate::document::Section for $name {
            const KEYS: &'static [$crate::document::Key] = &[$(
                $crate::document::Key::new(stringify!($key), $kind, $given, $meaning)
                    $(.used_by($letters))?,
            )*];

            fn read(table: &$crate::document::Table<'_>) -> Self {
                let mut keys = Self::KEYS.iter();
                Self {$(
                    $key: keys
                        .next()
                        .and_then(|key| $crate::document::Value::read(table, key)),
                )*}
            }

            fn written(&self) -> Vec<(&'static str, $crate::document::Written)> {
                let values = [$(self.$key.as_ref().map($crate::document::Value::written)),*];
                let given = |(key, value): (&$crate::document::Key, Option<_>)| {
                    value.map(|value| (key.name, value))
                };
                Self::KEYS.iter().zip(values).filter_map(given).collect()
            }

            fn filled(&self) -> Self {
                let mut keys = Self::KEYS.iter();
                Self {$(
                    $key: {
                        let key = keys.next();
                        let default = || key.and_then($crate::document::Value::default_of);
                        self.$key.clone().or_else(default)
                    },
                )*}
            }
        }

        impl $crate::document::Value for $name {
            fn read(
                table: &$crate::document::Table<'_>,
                key: &'static $crate::document::Key,
            ) -> Option<Self> {
                table.section(key)
            }

            fn written(&self) -> $crate::document::Written {
                $crate::document::Written::Section($crate::document::Section::written(self))
            }
        }
    };
}
pub(crate) use section;
