//! Shapes that clients are generated from: each form of a choice gets a name, and what may grow is no closed list.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value, json};

use super::{operations, references};

/// Where the schemas of the description stand, as references name them.
const SCHEMAS: &str = "#/components/schemas/";

/// What a list of words says of itself where only answers hold it, or answers and requests do.
const OPEN: &str = "Expect new values.";
const OPEN_IN_ANSWERS: &str = "Expect new values in answers.";

/// Gives each form of a choice a schema of its own, told by its tag, in place of a nameless object within the choice:
/// generators would name it after its place (`AttributesType7`), and the name would move with every new form.
pub(super) fn name_forms(description: &mut Value) {
    let schemas = description["components"]["schemas"].as_object_mut().expect("the description has schemas");
    let mut named: Vec<(String, Value)> = Vec::new();
    for (choice, schema) in schemas.iter_mut() {
        let about = schema["description"].as_str().and_then(|text| text.lines().next()).unwrap_or_default().to_owned();
        let Some(forms) = schema.get_mut("oneOf").and_then(Value::as_array_mut) else { continue };
        let Some(tag) = forms.first().and_then(tag_of).map(|(tag, _)| tag) else { continue };
        let mut mapping = Map::new();
        for form in forms.iter_mut() {
            let (_, word) = tag_of(form).expect("every form of a choice has its tag");
            let name = format!("{}{choice}", pascal(&word));
            form["properties"][&tag] = json!({"type": "string", "const": word, "description": format!("Always `{word}`: it tells this form from the others.")});
            if form.get("description").is_none() {
                form["description"] = json!(about);
            }
            let reference = format!("{SCHEMAS}{name}");
            mapping.insert(word, json!(reference));
            named.push((name, std::mem::replace(form, json!({"$ref": reference}))));
        }
        schema["discriminator"] = json!({"propertyName": tag, "mapping": mapping});
    }
    for (name, form) in named {
        let before = schemas.insert(name.clone(), form);
        assert!(before.is_none(), "two schemas would be called {name}");
    }
}

/// The field that tells a form from the others, and its one value.
fn tag_of(form: &Value) -> Option<(String, String)> {
    form["properties"].as_object()?.iter().find_map(|(name, field)| match field["enum"].as_array()?.as_slice() {
        [Value::String(one)] => Some((name.clone(), one.clone())),
        _ => None,
    })
}

fn pascal(word: &str) -> String {
    let capital = |part: &str| {
        let mut letters = part.chars();
        letters.next().map(|first| first.to_ascii_uppercase()).into_iter().chain(letters).collect::<String>()
    };
    word.split('_').map(capital).collect()
}

/// Refers to the named list of words where a field repeats one in place.
pub(super) fn refer_to_named_lists(description: &mut Value) {
    let schemas = description["components"]["schemas"].as_object_mut().expect("the description has schemas");
    let named: BTreeMap<String, String> = schemas
        .iter()
        .filter_map(|(name, schema)| Some((schema.get("enum")?.to_string(), format!("{SCHEMAS}{name}"))))
        .collect();
    for schema in schemas.values_mut() {
        for (_, field) in schema.get_mut("properties").and_then(Value::as_object_mut).into_iter().flatten() {
            let Some(reference) = field.get("enum").and_then(|words| named.get(&words.to_string())) else { continue };
            let field = field.as_object_mut().expect("a schema with a list is an object");
            field.retain(|keyword, _| ["description", "default", "example", "examples"].contains(&keyword.as_str()));
            field.insert("$ref".to_owned(), json!(reference));
        }
    }
}

/// Leaves lists of words open where only answers hold them: a client that was generated today must read a word that
/// comes tomorrow. The words so far stand in `x-extensible-enum` and in the text. A list that requests take too stays
/// closed, and says that answers may hold more.
pub(super) fn open_lists(description: &mut Value) {
    let sent = reached(description, |operation| &operation["requestBody"]);
    let answered = reached(description, |operation| &operation["responses"]);
    let schemas = description["components"]["schemas"].as_object_mut().expect("the description has schemas");
    for (name, schema) in schemas.iter_mut().filter(|(name, _)| answered.contains(*name)) {
        open(schema, sent.contains(name));
        for (_, field) in schema.get_mut("properties").and_then(Value::as_object_mut).into_iter().flatten() {
            open(field, sent.contains(name));
        }
    }
}

fn open(schema: &mut Value, sent_too: bool) {
    let Some(words) = schema.get("enum").cloned() else { return };
    let told: Vec<String> = words.as_array().into_iter().flatten().map(|word| format!("`{}`", shown(word))).collect();
    let before = schema["description"].as_str().unwrap_or_default().replace(OPEN, "");
    let before = before.trim();
    let fields = schema.as_object_mut().expect("a schema with a list is an object");
    if sent_too {
        fields.insert("description".to_owned(), json!(format!("{before} {OPEN_IN_ANSWERS}")));
    } else {
        fields.remove("enum");
        fields.insert("x-extensible-enum".to_owned(), words);
        fields.insert("description".to_owned(), json!(format!("{before} {OPEN} So far: {}.", told.join(", "))));
    }
}

fn shown(word: &Value) -> String {
    word.as_str().map_or_else(|| word.to_string(), str::to_owned)
}

/// Names of all schemas that a part of the operations leads to.
fn reached(description: &Value, part: impl Fn(&Value) -> &Value) -> BTreeSet<String> {
    let mut ahead = Vec::new();
    for operation in operations(description) {
        references(part(operation), &mut ahead);
    }
    let mut reached = BTreeSet::new();
    while let Some(name) = ahead.pop() {
        if reached.insert(name.clone()) {
            references(&description["components"]["schemas"][&name], &mut ahead);
        }
    }
    reached
}

#[cfg(test)]
mod tests {
    use super::*;

    fn small() -> Value {
        json!({
            "paths": {"/a": {"post": {
                "requestBody": {"schema": {"$ref": "#/components/schemas/Load"}},
                "responses": {"200": {"schema": {"$ref": "#/components/schemas/Answer"}}},
            }}},
            "components": {"schemas": {
                "Load": {"description": "A load.", "oneOf": [
                    {"properties": {"kind": {"enum": ["bow_motor"]}, "size": {"$ref": "#/components/schemas/Size"}}},
                    {"description": "A pump.", "properties": {"kind": {"enum": ["pump"]}}},
                ]},
                "Size": {"description": "Sizes.", "type": "string", "enum": ["small", "large"]},
                "Answer": {"properties": {
                    "size": {"$ref": "#/components/schemas/Size"},
                    "again": {"type": "string", "enum": ["small", "large"], "description": "Once more."},
                    "state": {"$ref": "#/components/schemas/State"},
                }},
                "State": {"description": "States. Expect new values.", "type": "string", "enum": ["done"]},
            }},
        })
    }

    #[test]
    fn forms_are_named_by_their_tags() {
        let mut description = small();
        name_forms(&mut description);
        let schemas = &description["components"]["schemas"];
        assert_eq!(schemas["Load"]["oneOf"][0], json!({"$ref": "#/components/schemas/BowMotorLoad"}));
        assert_eq!(schemas["Load"]["discriminator"]["mapping"]["pump"], "#/components/schemas/PumpLoad");
        assert_eq!(schemas["BowMotorLoad"]["properties"]["kind"]["const"], "bow_motor");
        assert_eq!(schemas["BowMotorLoad"]["description"], "A load.");
        assert_eq!(schemas["PumpLoad"]["description"], "A pump.");
    }

    #[test]
    fn a_list_is_open_where_only_answers_hold_it() {
        let mut description = small();
        refer_to_named_lists(&mut description);
        open_lists(&mut description);
        let schemas = &description["components"]["schemas"];
        assert_eq!(schemas["Answer"]["properties"]["again"]["$ref"], "#/components/schemas/Size");
        assert_eq!(schemas["Size"]["enum"], json!(["small", "large"]));
        assert_eq!(schemas["Size"]["description"], "Sizes. Expect new values in answers.");
        assert_eq!(schemas["State"]["x-extensible-enum"], json!(["done"]));
        assert_eq!(schemas["State"]["description"], "States. Expect new values. So far: `done`.");
        assert!(schemas["State"].get("enum").is_none());
    }
}
