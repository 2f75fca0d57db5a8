//! Setting keys in the text of a file. All of it that is not set stays as it is, byte for byte:
//! comments, order, blanks, the ends of lines.

use std::fmt;
use std::str::FromStr;
use std::sync::Arc;

use saggar_files::{Finding, Findings, Source, shown};
use toml_edit::{ArrayOfTables, Decor, DocumentMut, InlineTable, Item, Table, TableLike};

use super::written::{Written, value_of};
use super::{Document, Key, Kind, Section};

/// The way to a key: `stage[3].soak.minutes`, with the first of a list as number 1.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyPath(Vec<Segment>);

#[derive(Clone, Debug, PartialEq, Eq)]
struct Segment {
    name: String,
    number: Option<usize>,
}

/// A path that leads nowhere.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{}` names no key: write it like work.count or stage[3].soak.minutes", shown(.0, 60))]
pub struct BadPath(String);

impl FromStr for KeyPath {
    type Err = BadPath;

    fn from_str(typed: &str) -> Result<Self, BadPath> {
        let segment = |text: &str| {
            let (name, number) = match text.split_once('[') {
                None => (text, None),
                Some((name, rest)) => {
                    let number: usize = rest.strip_suffix(']')?.parse().ok()?;
                    (name, Some(number).filter(|number| *number > 0))
                }
            };
            let plain = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
            let good = !name.is_empty() && name.chars().all(plain);
            (good && number.is_some() == text.contains('['))
                .then(|| Segment { name: name.to_owned(), number })
        };
        let segments: Option<Vec<_>> = typed.split('.').map(segment).collect();
        segments.map(Self).ok_or_else(|| BadPath(typed.to_owned()))
    }
}

impl fmt::Display for KeyPath {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (nth, Segment { name, number }) in self.0.iter().enumerate() {
            let dot = if nth > 0 { "." } else { "" };
            write!(out, "{dot}{name}")?;
            number.map_or(Ok(()), |number| write!(out, "[{number}]"))?;
        }
        Ok(())
    }
}

impl KeyPath {
    /// What may stand there by a table of keys; `None` if the key is not in it.
    pub fn key(&self, root: &'static [Key]) -> Option<&'static Key> {
        let (last, sections) = self.0.split_last()?;
        let find = |keys: &'static [Key], segment: &Segment| {
            keys.iter().find(|key| key.name == segment.name)
        };
        let keys = sections.iter().try_fold(root, |keys, one| find(keys, one)?.kind.keys())?;
        find(keys, last)
    }
}

/// A value as it is typed for a key: text and words stand without quotation marks.
pub fn typed(key: Option<&Key>, text: &str) -> Written {
    let number = || text.parse::<f64>().ok().filter(|number| number.is_finite());
    match (key.map(|key| key.kind), text, number()) {
        (Some(Kind::Text { .. } | Kind::Word(_)), _, _) => Written::Text(text.to_owned()),
        (_, "true", _) => Written::Flag(true),
        (_, "false", _) => Written::Flag(false),
        (_, _, Some(number)) => Written::Number(number),
        (_, _, None) => Written::Text(text.to_owned()),
    }
}

/// The text of a file with some of its keys set.
///
/// # Errors
/// What would be wrong with it then and is not now, found as in reading it; or all that keeps it
/// from being read.
pub fn set<S: Section>(
    source: &Arc<Source>,
    changes: &[(KeyPath, Written)],
    lists: &[&str],
) -> Result<Arc<Source>, Vec<Finding>> {
    let name = source.name();
    let (before, readable) = findings_on::<S>(source, lists);
    if !readable {
        return Err(before);
    }
    let refused = |(message, help): Astray| vec![Finding::on_file(name, message, help)];
    let plain = Plain::of(source.text());
    let parsed: Result<DocumentMut, _> = plain.text.parse();
    // The reader and the editor are of one family: what one takes, the other does.
    let mut document = parsed.map_err(|error| refused((error.to_string(), String::new())))?;
    if plain.restored(&document.to_string()) != source.text() {
        let help = "let your editor save it with one kind of line ends";
        return Err(refused(("its lines end in two ways".to_owned(), help.to_owned())));
    }
    for (path, written) in changes {
        put(document.as_table_mut(), false, &path.0, written).map_err(refused)?;
    }
    let after = Arc::new(Source::of(name, plain.restored(&document.to_string())));
    let (after_findings, _) = findings_on::<S>(&after, lists);
    let new = unknown_before(&before, after_findings);
    if new.is_empty() { Ok(after) } else { Err(new) }
}

/// Those of the findings that were not there before.
pub fn unknown_before(before: &[Finding], after: Vec<Finding>) -> Vec<Finding> {
    let known = |one: &Finding| {
        before.iter().any(|other| other.message == one.message && other.help == one.help)
    };
    after.into_iter().filter(|one| !known(one)).collect()
}

fn findings_on<S: Section>(source: &Arc<Source>, lists: &[&str]) -> (Vec<Finding>, bool) {
    let findings = Findings::new(source);
    let readable = match Document::parse(source, &findings, lists) {
        Some(document) => {
            document.read::<S>();
            true
        }
        None => false,
    };
    (findings.into_sorted(), readable)
}

/// A text as the editor of TOML keeps it, and what that editor would change unasked.
struct Plain {
    text: String,
    mark: bool,
    carriage_returns: bool,
    ends: bool,
}

impl Plain {
    fn of(text: &str) -> Self {
        let (mark, text) = match text.strip_prefix('\u{feff}') {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let carriage_returns = text.contains("\r\n");
        let ends = text.ends_with('\n') || text.is_empty();
        Self { text: text.replace("\r\n", "\n"), mark, carriage_returns, ends }
    }

    fn restored(&self, text: &str) -> String {
        let text = if self.ends { text } else { text.strip_suffix('\n').unwrap_or(text) };
        let text =
            if self.carriage_returns { text.replace('\n', "\r\n") } else { text.to_owned() };
        if self.mark { format!("\u{feff}{text}") } else { text }
    }
}

/// What is wrong with a path in a document, and the help.
type Astray = (String, String);

/// Sets a key in a section, which may stand in braces.
fn put(
    section: &mut dyn TableLike,
    braces: bool,
    path: &[Segment],
    written: &Written,
) -> Result<(), Astray> {
    let Some((first, rest)) = path.split_first() else { return Ok(()) };
    if rest.is_empty() && first.number.is_none() {
        return put_value(section, braces, &first.name, written);
    }
    if section.get(&first.name).is_none() && first.number.is_none() {
        let braced = || Item::Value(InlineTable::new().into());
        let inner = if braces { braced() } else { Item::Table(Table::new()) };
        insert(section, braces, &first.name, inner);
    }
    let astray = || {
        let message = format!("there is no section `{}` to set a key in", first.name);
        (message, "a section of which there are many bears its number, from 1".to_owned())
    };
    let item = section.get_mut(&first.name).ok_or_else(astray)?;
    let Some(number) = first.number else {
        let braces = item.is_inline_table();
        return put(item.as_table_like_mut().ok_or_else(astray)?, braces, rest, written);
    };
    let count = item.as_array_of_tables().map_or(0, ArrayOfTables::len);
    let nth = item.as_array_of_tables_mut().and_then(|list| list.get_mut(number - 1));
    let nth = nth.ok_or_else(|| {
        let message = format!("there is no `{}` {number}", first.name);
        (message, format!("the file has {count} of them as [[{}]]", first.name))
    })?;
    put(nth, false, rest, written)
}

fn put_value(
    section: &mut dyn TableLike,
    braces: bool,
    name: &str,
    written: &Written,
) -> Result<(), Astray> {
    let value = value_of(written.clone());
    let Some(item) = section.get_mut(name) else {
        insert(section, braces, name, Item::Value(value));
        return Ok(());
    };
    let is_section = item.is_array_of_tables() || item.is_table_like();
    let Some(old) = item.as_value_mut().filter(|_| !is_section) else {
        let help = format!("name a key in it, such as {name}.KEY=VALUE");
        return Err((format!("`{name}` is a section"), help));
    };
    // What stands around the value stays: blanks, and a comment behind it.
    let decor = old.decor().clone();
    *old = value;
    *old.decor_mut() = decor;
    Ok(())
}

/// Adds a key behind all others of a section.
fn insert(section: &mut dyn TableLike, braces: bool, name: &str, mut item: Item) {
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
