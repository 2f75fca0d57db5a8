//! Writes sections as TOML.

use toml_edit::{ArrayOfTables, DocumentMut, Item, Table};

use super::fields::Section;
use super::plain_value::{PlainValue, to_toml_value};

/// A section as the text of a file.
pub fn to_toml<S: Section>(section: &S) -> String {
    let mut document = DocumentMut::new();
    fill(document.as_table_mut(), section.to_plain_entries(), false);
    document.to_string()
}

/// Adds entries to a table. Inside a list, sections are written in braces, each on one line.
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
            | PlainValue::Integer(_)
            | PlainValue::Boolean(_)
            | PlainValue::Text(_)
            | PlainValue::Section(_)) => Item::Value(to_toml_value(value)),
        };
        table.insert(key, item);
    }
}
