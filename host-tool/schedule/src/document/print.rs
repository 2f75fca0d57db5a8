//! Sections as the text of a file.

use toml_edit::{ArrayOfTables, DocumentMut, InlineTable, Item, Table, Value};

use super::key::Section;

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

/// A section as the text of a file of its own.
pub fn to_toml<S: Section>(section: &S) -> String {
    let mut document = DocumentMut::new();
    fill(document.as_table_mut(), section.written(), false);
    document.to_string()
}

/// What a list consists of has its own sections in braces, each on its line.
fn fill(table: &mut Table, entries: Vec<(&'static str, Written)>, braces: bool) {
    for (key, written) in entries {
        let item = match written {
            Written::Section(entries) if !braces => {
                let mut section = Table::new();
                fill(&mut section, entries, false);
                Item::Table(section)
            }
            Written::List(list) => {
                let entry = |entries| {
                    let mut section = Table::new();
                    fill(&mut section, entries, true);
                    section
                };
                Item::ArrayOfTables(list.into_iter().map(entry).collect::<ArrayOfTables>())
            }
            value @ (Written::Number(_)
            | Written::Whole(_)
            | Written::Flag(_)
            | Written::Text(_)
            | Written::Section(_)) => Item::Value(value_of(value)),
        };
        table.insert(key, item);
    }
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
