//! Sections as plain structs.
//!
//! The macro `section!` turns one list into a struct and its [`KeySpec`]s.

use super::key::{KeySpec, Presence, ValueKind};
use super::plain_value::PlainValue;
use super::section_reader::SectionReader;

/// One of the words of a [`WordChoice`].
pub const fn word<T: WordChoice>() -> ValueKind {
    ValueKind::Word(words::<T>)
}

/// A section.
pub const fn section_of<S: Section>() -> ValueKind {
    ValueKind::Section(S::KEYS)
}

/// A list of sections, of which at most `most` are read.
pub const fn list<S: Section>(most: usize) -> ValueKind {
    ValueKind::List { keys: S::KEYS, most }
}

fn words<T: WordChoice>() -> Vec<&'static str> {
    T::choices().into_iter().map(|(word, _)| word).collect()
}

/// A section as plain data; `None` for a key that is left out.
pub trait Section: Clone + Default + PartialEq {
    /// The keys that it may have.
    const KEYS: &'static [KeySpec];

    /// Reads a section. Invalid values are noted.
    fn read(table: &SectionReader<'_>) -> Self;

    /// Its keys and values, in the order of `KEYS`.
    fn to_plain_entries(&self) -> Vec<(&'static str, PlainValue)>;

    /// The same with defaults filled in.
    fn with_defaults(&self) -> Self;
}

/// The value of a key.
pub trait KeyValue: Clone {
    /// Reads the value of a key. An invalid value is noted.
    fn read(table: &SectionReader<'_>, key: &'static KeySpec) -> Option<Self>;

    /// The value as it is written to a file.
    fn to_plain(&self) -> PlainValue;

    /// The default of a key, if it has one of this type.
    fn default_of(_: &KeySpec) -> Option<Self> {
        None
    }
}

/// A type whose values are words in a file.
pub trait WordChoice: Clone + PartialEq + 'static {
    /// Each word and what it means.
    fn choices() -> Vec<(&'static str, Self)>;

    /// The word for this value.
    fn word(&self) -> &'static str {
        Self::choices()
            .into_iter()
            .find(|(_, meaning)| meaning == self)
            .map_or("", |(word, _)| word)
    }
}

impl KeyValue for f64 {
    fn read(table: &SectionReader<'_>, key: &'static KeySpec) -> Option<Self> {
        table.number(key)
    }

    fn to_plain(&self) -> PlainValue {
        PlainValue::Number(*self)
    }

    fn default_of(key: &KeySpec) -> Option<Self> {
        if let Presence::Default(number) = key.presence { Some(number) } else { None }
    }
}

impl KeyValue for u32 {
    fn read(table: &SectionReader<'_>, key: &'static KeySpec) -> Option<Self> {
        table.integer(key)
    }

    fn to_plain(&self) -> PlainValue {
        PlainValue::Integer(*self)
    }

    fn default_of(key: &KeySpec) -> Option<Self> {
        if let Presence::DefaultInteger(number) = key.presence { Some(number) } else { None }
    }
}

impl KeyValue for bool {
    fn read(table: &SectionReader<'_>, key: &'static KeySpec) -> Option<Self> {
        table.boolean(key)
    }

    fn to_plain(&self) -> PlainValue {
        PlainValue::Boolean(*self)
    }

    fn default_of(key: &KeySpec) -> Option<Self> {
        if let Presence::DefaultBoolean(flag) = key.presence { Some(flag) } else { None }
    }
}

impl KeyValue for String {
    fn read(table: &SectionReader<'_>, key: &'static KeySpec) -> Option<Self> {
        table.text(key)
    }

    fn to_plain(&self) -> PlainValue {
        PlainValue::Text(self.clone())
    }
}

impl<T: WordChoice> KeyValue for T {
    fn read(table: &SectionReader<'_>, key: &'static KeySpec) -> Option<Self> {
        let word = table.word(key, &words::<T>())?;
        T::choices().into_iter().find(|(known, _)| *known == word).map(|(_, meaning)| meaning)
    }

    fn to_plain(&self) -> PlainValue {
        PlainValue::Text(self.word().to_owned())
    }
}

impl<S: Section> KeyValue for Vec<S> {
    fn read(table: &SectionReader<'_>, key: &'static KeySpec) -> Option<Self> {
        let sections = table.sections(key, S::KEYS)?;
        // An entry that cannot be read becomes an empty one, so that the entries after it keep
        // their numbers.
        Some(sections.map(|section| section.map(read_and_finish).unwrap_or_default()).collect())
    }

    fn to_plain(&self) -> PlainValue {
        PlainValue::List(self.iter().map(Section::to_plain_entries).collect())
    }
}

/// Reads a section and notes each key that is missing or unknown.
pub(super) fn read_and_finish<S: Section>(table: SectionReader<'_>) -> S {
    let section = S::read(&table);
    table.finish();
    section
}

/// Reads the section that is the value of a key.
pub(crate) fn read_section<S: Section>(
    table: &SectionReader<'_>,
    key: &'static KeySpec,
) -> Option<S> {
    table.section(key, S::KEYS).map(read_and_finish)
}

/// Makes a section from the list of its keys: `key: type = kind, given, meaning, used by;`.
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
            const KEYS: &'static [$crate::document::KeySpec] = &[$(
                $crate::document::KeySpec::new(stringify!($key), $kind, $given, $meaning)
                    $(.with_users($letters))?,
            )*];

            fn read(table: &$crate::document::SectionReader<'_>) -> Self {
                let mut keys = Self::KEYS.iter();
                Self {$(
                    $key: keys
                        .next()
                        .and_then(|key| $crate::document::KeyValue::read(table, key)),
                )*}
            }

            fn to_plain_entries(&self) -> Vec<(&'static str, $crate::document::PlainValue)> {
                let values = [$(self.$key.as_ref().map($crate::document::KeyValue::to_plain)),*];
                let given = |(key, value): (&$crate::document::KeySpec, Option<_>)| {
                    value.map(|value| (key.name, value))
                };
                Self::KEYS.iter().zip(values).filter_map(given).collect()
            }

            fn with_defaults(&self) -> Self {
                let mut keys = Self::KEYS.iter();
                Self {$(
                    $key: {
                        let key = keys.next();
                        let default = || key.and_then($crate::document::KeyValue::default_of);
                        self.$key.clone().or_else(default)
                    },
                )*}
            }
        }

        impl $crate::document::KeyValue for $name {
            fn read(
                table: &$crate::document::SectionReader<'_>,
                key: &'static $crate::document::KeySpec,
            ) -> Option<Self> {
                $crate::document::read_section(table, key)
            }

            fn to_plain(&self) -> $crate::document::PlainValue {
                $crate::document::PlainValue::Section($crate::document::Section::to_plain_entries(self))
            }
        }
    };
}
pub(crate) use section;
