//! Sections as the text of a file.

use toml_edit::{ArrayOfTables, DocumentMut, Item, Table};

use super::fields::Section;
use super::plain_value::{PlainValue, value_of};

/// A section as the text of a file of its own.
pub fn to_toml<S: Section>(section: &S) -> String {
    let mut document = DocumentMut::new();
    fill(document.as_table_mut(), section.written(), false);
    document.to_string()
}

/// What a list consists of has its own sections in braces, each on its line.
fn fill(table: &mut Table, entries: Vec<(&'static str, PlainValue)>, braces: bool) {
    for (key, written) in entries {
        let item = match written {
            PlainValue::Section(entries) if !braces => {
                let mut section = Table::new();
                fill(&mut section, entries, false);
                Item::Table(section)
            }
            PlainValue::List(list) => {
                let entry = |entries| {
                    let mut section = Table::new();
                    fill(&mut section, entries, true);
                    section
                };
                Item::ArrayOfTables(list.into_iter().map(entry).collect::<ArrayOfTables>())
            }
            value @ (PlainValue::Number(_)
            | PlainValue::Whole(_)
            | PlainValue::Flag(_)
            | PlainValue::Text(_)
            | PlainValue::Section(_)) => Item::Value(value_of(value)),
        };
        table.insert(key, item);
    }
}
