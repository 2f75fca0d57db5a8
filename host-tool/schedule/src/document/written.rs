//! Values that are to be written into a file.

use toml_edit::{InlineTable, Value};

/// What stands behind a key that is to be written.
#[derive(Clone, Debug, PartialEq)]
pub enum Written {
    /// A number.
    Number(f64),
    /// A whole number.
    Whole(u32),
    /// True or false.
    Flag(bool),
    /// Text.
    Text(String),
    /// A section: its keys, each with what stands behind it.
    Section(Vec<(&'static str, Self)>),
    /// Sections.
    List(Vec<Vec<(&'static str, Self)>>),
}

pub(super) fn value_of(written: Written) -> Value {
    match written {
        // A whole number without a point, as a person writes it.
        Written::Number(number) => {
            format!("{number}").parse().unwrap_or_else(|_| Value::from(number))
        }
        Written::Whole(number) => Value::from(i64::from(number)),
        Written::Flag(flag) => Value::from(flag),
        Written::Text(text) => Value::from(text),
        Written::Section(entries) => {
            let inner = entries.into_iter().map(|(key, written)| (key, value_of(written)));
            Value::from(inner.collect::<InlineTable>())
        }
        Written::List(list) => {
            list.into_iter().map(|entries| value_of(Written::Section(entries))).collect()
        }
    }
}
