//! The keys of a file as a JSON Schema (draft 2020-12), for editors.

use serde_json::{Map, Value, json};

use super::fields::KeyValue as _;
use super::key::{KeySpec, Presence, ValueKind};

/// The schema of a file, or of a section of it.
pub fn json_schema(title: &str, keys: &[KeySpec]) -> Value {
    let mut schema = section_schema(keys);
    schema.insert("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema"));
    schema.insert("title".to_owned(), json!(title));
    Value::Object(schema)
}

fn section_schema(keys: &[KeySpec]) -> Map<String, Value> {
    let names = |wanted: fn(&Presence) -> bool| -> Vec<&str> {
        keys.iter().filter(|key| wanted(&key.presence)).map(|key| key.name).collect()
    };
    let properties: Map<_, _> =
        keys.iter().map(|key| (key.name.to_owned(), key_schema(key))).collect();
    let mut schema = Map::new();
    schema.insert("type".to_owned(), json!("object"));
    schema.insert("additionalProperties".to_owned(), json!(false));
    schema.insert("properties".to_owned(), properties.into());
    schema.insert(
        "required".to_owned(),
        json!(names(|given| matches!(given, Presence::Required))),
    );
    let one_of = names(|given| matches!(given, Presence::OneOf));
    if !one_of.is_empty() {
        let each = one_of.iter().map(|name| json!({ "required": [name] }));
        schema.insert("oneOf".to_owned(), each.collect());
    }
    let rules: Vec<_> = keys.iter().flat_map(conditional_requirements).collect();
    if !rules.is_empty() {
        schema.insert("allOf".to_owned(), rules.into());
    }
    schema
}

/// Keys that a section must have if another section is present.
fn conditional_requirements(section: &KeySpec) -> Vec<Value> {
    let rule = |key: &KeySpec| {
        let Presence::RequiredWith(other, _) = key.presence else { return None };
        Some(json!({
            "if": { "required": [other] },
            "then": { "properties": { section.name: { "required": [key.name] } } },
        }))
    };
    section.kind.keys().into_iter().flatten().filter_map(rule).collect()
}

fn key_schema(key: &KeySpec) -> Value {
    let mut schema = match key.kind {
        ValueKind::Number { from, to, .. } => {
            json!({ "type": "number", "minimum": from, "maximum": to })
        }
        ValueKind::Integer { from, to, .. } => {
            json!({ "type": "integer", "minimum": from, "maximum": to })
        }
        ValueKind::Boolean => json!({ "type": "boolean" }),
        ValueKind::Text { bytes_max } => {
            json!({ "type": "string", "minLength": 1, "maxLength": bytes_max })
        }
        ValueKind::Word(words) => json!({ "enum": words() }),
        ValueKind::Section(keys) => section_schema(keys).into(),
        ValueKind::List { keys, most } => {
            json!({ "type": "array", "minItems": 1, "maxItems": most, "items": section_schema(keys) })
        }
    };
    let (allowed, left_out) = (key.allowed_text(), key.default_text());
    let left_out =
        if left_out.is_empty() { left_out } else { format!("; left out: {left_out}") };
    schema["description"] = json!(format!("{} ({allowed}{left_out})", key.meaning));
    let number = f64::default_of(key).map(Value::from);
    let whole = || u32::default_of(key).map(Value::from);
    let flag = || bool::default_of(key).map(Value::from);
    if let Some(default) = number.or_else(whole).or_else(flag) {
        schema["default"] = default;
    }
    schema
}
