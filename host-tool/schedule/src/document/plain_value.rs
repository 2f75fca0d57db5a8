//! Values as they are written to a file.

use toml_edit::{InlineTable, Value};

/// The value of a key, ready to be written.
#[derive(Clone, Debug, PartialEq)]
pub enum PlainValue {
    /// A number.
    Number(f64),
    /// A whole number.
    Integer(u32),
    /// True or false.
    Boolean(bool),
    /// Text.
    Text(String),
    /// A section: keys and values.
    Section(Vec<(&'static str, Self)>),
    /// Sections.
    List(Vec<Vec<(&'static str, Self)>>),
}

pub(super) fn to_toml_value(written: PlainValue) -> Value {
    match written {
        // A whole number is written without a decimal point, as a person would.
        PlainValue::Number(number) => {
            format!("{number}").parse().unwrap_or_else(|_| Value::from(number))
        }
        PlainValue::Integer(number) => Value::from(i64::from(number)),
        PlainValue::Boolean(flag) => Value::from(flag),
        PlainValue::Text(text) => Value::from(text),
        PlainValue::Section(entries) => {
            let inner = entries.into_iter().map(|(key, written)| (key, to_toml_value(written)));
            Value::from(inner.collect::<InlineTable>())
        }
        PlainValue::List(list) => list
            .into_iter()
            .map(|entries| to_toml_value(PlainValue::Section(entries)))
            .collect(),
    }
}
