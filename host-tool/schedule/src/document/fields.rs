//! Sections as plain structs.
//!
//! `section!` makes of one list both a struct, a section as a file or a program gives it, and its
//! [`Key`]s.

use super::key::{Given, Key, Kind};
use super::table::Table;
use super::written::Written;

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
        let word = table.word(key, &words_of::<T>())?;
        T::words().into_iter().find(|(known, _)| *known == word).map(|(_, meaning)| meaning)
    }

    fn written(&self) -> Written {
        Written::Text(self.word().to_owned())
    }
}

impl<S: Section> Value for Vec<S> {
    fn read(table: &Table<'_>, key: &'static Key) -> Option<Self> {
        let sections = table.sections(key, S::KEYS)?;
        // One that cannot be read leaves an empty one, so that those after it keep their numbers.
        Some(sections.map(|section| section.map(whole).unwrap_or_default()).collect())
    }

    fn written(&self) -> Written {
        Written::List(self.iter().map(Section::written).collect())
    }
}

/// What a section says, with a finding for each key in it that is missing or not known.
pub(super) fn whole<S: Section>(table: Table<'_>) -> S {
    let section = S::read(&table);
    table.finish();
    section
}

/// What the section behind a key says.
pub(crate) fn read_section<S: Section>(table: &Table<'_>, key: &'static Key) -> Option<S> {
    table.section(key, S::KEYS).map(whole)
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
                $crate::document::read_section(table, key)
            }

            fn written(&self) -> $crate::document::Written {
                $crate::document::Written::Section($crate::document::Section::written(self))
            }
        }
    };
}
pub(crate) use section;
