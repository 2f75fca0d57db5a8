//! Sets keys in the text of a file. Everything else stays as it is, byte for byte: comments, order,
//! blanks, line ends.

use std::sync::Arc;

use saggar_files::{Diagnostic, Diagnostics, SourceText};
use toml_edit::{ArrayOfTables, Decor, DocumentMut, InlineTable, Item, TableLike};

use super::difference::new_diagnostics;
use super::key_path::{KeyPath, MessageAndHelp, Segment, missing_section_error, section_error};
use super::plain_value::{PlainValue, to_toml_value};
use super::{Document, KeySpec, Section, SectionReader, ValueKind};

/// Parses a value typed on the command line, where text and words have no quotation marks.
pub fn parse_typed(key: Option<&KeySpec>, text: &str) -> PlainValue {
    let number = || text.parse::<f64>().ok().filter(|number| number.is_finite());
    match (key.map(|key| key.kind), text, number()) {
        (Some(ValueKind::Text { .. } | ValueKind::Word(_)), _, _) => {
            PlainValue::Text(text.to_owned())
        }
        (_, "true", _) => PlainValue::Boolean(true),
        (_, "false", _) => PlainValue::Boolean(false),
        (_, _, Some(number)) => PlainValue::Number(number),
        (_, _, None) => PlainValue::Text(text.to_owned()),
    }
}

/// The text of a file with some of its keys set.
///
/// # Errors
/// The file cannot be read, a key cannot be set, or setting the keys would cause new errors in the
/// file.
pub fn set<S: Section>(
    source: &Arc<SourceText>,
    changes: &[(KeyPath, PlainValue)],
    lists: &[&str],
) -> Result<Arc<SourceText>, Vec<Diagnostic>> {
    let name = source.name();
    let (before, readable) = diagnose::<S>(source, lists);
    if !readable {
        return Err(before);
    }
    let refused =
        |(message, help): MessageAndHelp| vec![Diagnostic::for_file(name, message, help)];
    let plain = NormalizedText::new(source.text());
    let parsed: Result<DocumentMut, _> = plain.text.parse();
    // The reader and the editor share a parser, so this cannot fail in practice.
    let mut document = parsed.map_err(|error| refused((error.to_string(), String::new())))?;
    if plain.restored(&document.to_string()) != source.text() {
        let help = "save it with one kind of line ends from your editor";
        return Err(refused((
            "the file mixes two kinds of line ends".to_owned(),
            help.to_owned(),
        )));
    }
    for (nth, (path, written)) in changes.iter().enumerate() {
        if changes.iter().take(nth).any(|(earlier, _)| earlier == path) {
            let help = "set a key once: leave one of them out";
            return Err(refused((format!("`{path}` is given twice"), help.to_owned())));
        }
        path.check(S::KEYS).map_err(refused)?;
        set_key(document.as_table_mut(), false, &path.0, written).map_err(refused)?;
    }
    let after = Arc::new(SourceText::new(name, plain.restored(&document.to_string())));
    let errors = diagnose_changed_keys::<S>(&after, changes, lists);
    if !errors.is_empty() {
        return Err(errors);
    }
    let new =
        new_diagnostics((source, before), (&after, diagnose::<S>(&after, lists).0), changes);
    if new.is_empty() { Ok(after) } else { Err(new) }
}

/// Errors in the keys that were set, whether or not they were there before.
fn diagnose_changed_keys<S: Section>(
    after: &Arc<SourceText>,
    changes: &[(KeyPath, PlainValue)],
    lists: &[&str],
) -> Vec<Diagnostic> {
    let diagnostics = Diagnostics::new(after);
    if let Some(document) = Document::parse(after, &diagnostics, lists) {
        let root = SectionReader::root(S::KEYS, document.root.get_ref(), &diagnostics);
        changes.iter().for_each(|(path, _)| root.check_key(path.segments()));
    }
    diagnostics.into_sorted()
}

fn diagnose<S: Section>(source: &Arc<SourceText>, lists: &[&str]) -> (Vec<Diagnostic>, bool) {
    let diagnostics = Diagnostics::new(source);
    let readable = match Document::parse(source, &diagnostics, lists) {
        Some(document) => {
            document.read::<S>();
            true
        }
        None => false,
    };
    (diagnostics.into_sorted(), readable)
}

/// A text without the features that the TOML editor would lose, and what is needed to restore them.
struct NormalizedText {
    text: String,
    has_byte_order_mark: bool,
    has_carriage_returns: bool,
    ends_with_newline: bool,
}

impl NormalizedText {
    fn new(text: &str) -> Self {
        let (mark, text) = match text.strip_prefix('\u{feff}') {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let carriage_returns = text.contains("\r\n");
        let ends = text.ends_with('\n') || text.is_empty();
        Self {
            text: text.replace("\r\n", "\n"),
            has_byte_order_mark: mark,
            has_carriage_returns: carriage_returns,
            ends_with_newline: ends,
        }
    }

    fn restored(&self, text: &str) -> String {
        let text =
            if self.ends_with_newline { text } else { text.strip_suffix('\n').unwrap_or(text) };
        let text = if self.has_carriage_returns {
            text.replace('\n', "\r\n")
        } else {
            text.to_owned()
        };
        if self.has_byte_order_mark { format!("\u{feff}{text}") } else { text }
    }
}

/// Sets a key in a section; `braces` tells whether it is an inline table.
fn set_key(
    section: &mut dyn TableLike,
    braces: bool,
    path: &[Segment],
    written: &PlainValue,
) -> Result<(), MessageAndHelp> {
    // `KeyPath::check` has ensured that the path ends at a key.
    let Some((first, rest)) = path.split_first() else { return Err(missing_section_error("")) };
    if rest.is_empty() && first.number.is_none() {
        return set_value(section, braces, &first.name, written);
    }
    if section.get(&first.name).is_none() && first.number.is_none() {
        let braced = || Item::Value(InlineTable::new().into());
        let inner = if braces { braced() } else { Item::Table(toml_edit::Table::new()) };
        append_key(section, braces, &first.name, inner);
    }
    let astray = || missing_section_error(&first.name);
    let item = section.get_mut(&first.name).ok_or_else(astray)?;
    let Some(number) = first.number else {
        let braces = item.is_inline_table();
        return set_key(item.as_table_like_mut().ok_or_else(astray)?, braces, rest, written);
    };
    let count = item.as_array_of_tables().map_or(0, ArrayOfTables::len);
    let nth = item.as_array_of_tables_mut().and_then(|list| list.get_mut(number - 1));
    let nth = nth.ok_or_else(|| {
        let message = format!("there is no `{}` {number}", first.name);
        (message, format!("the file has {count} of them as [[{}]]", first.name))
    })?;
    set_key(nth, false, rest, written)
}

fn set_value(
    section: &mut dyn TableLike,
    braces: bool,
    name: &str,
    written: &PlainValue,
) -> Result<(), MessageAndHelp> {
    let value = to_toml_value(written.clone());
    let Some(item) = section.get_mut(name) else {
        append_key(section, braces, name, Item::Value(value));
        return Ok(());
    };
    let has_keys = item.is_array_of_tables() || item.is_table_like();
    let Some(old) = item.as_value_mut().filter(|_| !has_keys) else {
        return Err(section_error(name));
    };
    // Keep the blanks and the comment around the value.
    let decor = old.decor().clone();
    *old = value;
    *old.decor_mut() = decor;
    Ok(())
}

/// Adds a key after all others of a section.
fn append_key(section: &mut dyn TableLike, braces: bool, name: &str, mut item: Item) {
    // The blank before the closing brace belongs to the last value.
    let last = section.iter_mut().last();
    let last = last.and_then(|(_, item)| item.as_value_mut()).filter(|_| braces);
    if let (Some(last), Some(value)) = (last, item.as_value_mut()) {
        let blank = last.decor().suffix().cloned().unwrap_or_default();
        last.decor_mut().set_suffix("");
        *value.decor_mut() = Decor::new(" ", blank);
    }
    section.insert(name, item);
}
