//! The description is whole: a stranger generates a client from it and needs to ask nobody.

use std::collections::BTreeSet;

use rigbill::http::{openapi, problem};
use serde_json::{Value, json};

/// An operation with where it stands.
struct Operation {
    id: String,
    path: &'static str,
    method: &'static str,
    it: &'static Value,
}

fn operations() -> Vec<Operation> {
    let mut operations = Vec::new();
    for (path, by_method) in openapi::description()["paths"].as_object().unwrap() {
        for (method, it) in by_method.as_object().unwrap() {
            let id = it["operationId"].as_str().unwrap_or_else(|| panic!("{method} {path} has an id")).to_owned();
            operations.push(Operation { id, path, method, it });
        }
    }
    assert!(operations.len() > 25, "the walk finds the operations");
    operations
}

fn schemas() -> impl Iterator<Item = (&'static String, &'static Value)> {
    openapi::description()["components"]["schemas"].as_object().unwrap().iter()
}

/// Whether a text is there and says something.
fn told(text: &Value) -> bool {
    text.as_str()
        .is_some_and(|text| text.trim().len() > 2 && text.trim().ends_with(['.', '!', '?', ':', ';', ')', '`']))
}

/// What does not fit a schema of the description.
fn misfits(schema: &Value, value: &Value) -> Vec<String> {
    let mut root = schema.clone();
    root["components"] = json!({"schemas": openapi::description()["components"]["schemas"]});
    let validator = jsonschema::options().should_validate_formats(true).build(&root).unwrap();
    validator.iter_errors(value).map(|error| format!("{}: {error}", error.instance_path().as_str())).collect()
}

/// The values of the examples of a body, references followed.
fn examples(media: &'static Value) -> Vec<(&'static str, &'static Value)> {
    let examples = media["examples"].as_object().into_iter().flatten();
    examples.map(|(name, example)| (name.as_str(), &openapi::resolved(example)["value"])).collect()
}

#[test]
fn every_operation_is_told_and_named_as_a_method() {
    // Reserved in Python or in TypeScript (ECMA-262): a generator would have to bend them.
    let reserved = ["delete", "import", "export", "new", "return", "class", "def", "from", "global", "pass"];
    let declared: BTreeSet<&str> = openapi::description()["tags"]
        .as_array()
        .unwrap()
        .iter()
        .map(|tag| {
            assert!(told(&tag["description"]), "{tag}");
            tag["name"].as_str().unwrap()
        })
        .collect();
    let mut ids = BTreeSet::new();
    for Operation { id, path, it, .. } in operations() {
        assert!(id.split('_').all(|word| !word.is_empty() && word.bytes().all(|b| b.is_ascii_lowercase())), "{id}");
        assert!(!reserved.contains(&id.as_str()), "{id}");
        assert!(ids.insert(id.clone()), "{id} stands there twice");
        assert!(it["summary"].as_str().is_some_and(|text| !text.is_empty() && !text.ends_with('.')), "{id}");
        assert!(told(&it["description"]), "{id}: {}", it["description"]);
        let [tag] = it["tags"].as_array().unwrap().as_slice() else { panic!("{id} has one tag") };
        assert!(declared.contains(tag.as_str().unwrap()), "{id}: {tag}");
        for parameter in it["parameters"].as_array().into_iter().flatten() {
            assert!(told(&parameter["description"]), "{id}: {parameter}");
        }
        assert_eq!(path.matches('{').count(), path_parameters(it), "{id}");
    }
}

fn path_parameters(operation: &Value) -> usize {
    operation["parameters"].as_array().into_iter().flatten().filter(|one| one["in"] == "path").count()
}

#[test]
fn every_body_has_an_example_that_fits() {
    let mut bodies = 0;
    for Operation { id, it, .. } in operations() {
        let of_request = it.get("requestBody").into_iter();
        let of_answers = it["responses"].as_object().unwrap().iter().filter(|(status, _)| status.starts_with('2'));
        for holder in of_request.chain(of_answers.map(|(_, response)| response)) {
            for (kind, media) in holder["content"].as_object().into_iter().flatten() {
                let examples = examples(media);
                assert!(!examples.is_empty() || id == "openapi", "{id} shows no example of its {kind}");
                for (name, value) in examples {
                    let misfits = misfits(&media["schema"], value);
                    assert!(misfits.is_empty(), "{id}, {name}: {misfits:?}");
                    bodies += 1;
                }
            }
        }
    }
    assert!(bodies > 40, "{bodies} examples");
}

#[test]
fn every_problem_of_an_operation_has_an_example_of_its_type() {
    for Operation { id, it, .. } in operations() {
        for (status, response) in it["responses"].as_object().unwrap() {
            assert!(told(&response["description"]), "{id} {status}: {}", response["description"]);
            for (name, header) in response["headers"].as_object().into_iter().flatten() {
                assert!(told(&header["description"]), "{id} {status} {name}");
            }
            if status.as_str() < "400" {
                continue;
            }
            let media = &response["content"][problem::MEDIA_TYPE];
            assert_eq!(media["schema"]["$ref"], "#/components/schemas/Problem", "{id} {status}");
            let shown = examples(media);
            assert!(!shown.is_empty(), "{id} {status}");
            for (slug, value) in shown {
                assert_eq!(value["type"], format!("/problems/{slug}"), "{id} {status}");
                assert_eq!(value["status"].to_string(), *status, "{id} {slug}");
                assert_eq!(misfits(&media["schema"], value), [""; 0], "{id} {slug}");
                assert!(response["description"].as_str().unwrap().contains(&format!("/problems/{slug}")), "{id}");
                assert!(problem::ALL.iter().any(|kind| kind.row().slug == slug));
            }
        }
    }
}

#[test]
fn every_schema_and_every_field_is_told_with_its_unit() {
    // How a unit is told where the name ends with it.
    let units: [(&str, &[&str]); 9] = [
        ("_v", &["volt"]),
        ("_a", &["ampere"]),
        ("_ah", &["ampere-hour"]),
        ("_c", &["°C"]),
        ("_h", &["hour"]),
        ("_min", &["minute", "amperes", "volts", "°C", "metres"]),
        ("_percent", &["percent", "%"]),
        ("_days", &["day", "Day"]),
        ("_mm2", &["square millimetre"]),
    ];
    for (name, schema) in schemas() {
        assert!(told(&schema["description"]), "{name}: {}", schema["description"]);
        for (field, property) in schema["properties"].as_object().into_iter().flatten() {
            let text = &property["description"];
            assert!(told(text), "{name}.{field}: {text}");
            // What stands beside a figure and says where it comes from has the figure's name and no unit.
            // A length carries its unit itself.
            if ["BasisRef", "LengthValue"].iter().any(|name| property["$ref"] == format!("#/components/schemas/{name}"))
            {
                continue;
            }
            for (end, words) in units {
                let text = text.as_str().unwrap();
                let lower = text.to_lowercase();
                let tells = words.iter().any(|word| text.contains(word) || lower.contains(word));
                assert!(!field.ends_with(end) || tells, "{name}.{field} does not say its unit: {text}");
            }
        }
    }
}

#[test]
fn every_list_of_words_in_answers_is_open() {
    let mut open = 0;
    let mut ahead: Vec<String> = Vec::new();
    let mut reached = BTreeSet::new();
    for Operation { it, .. } in operations() {
        references(&it["responses"], &mut ahead);
    }
    while let Some(name) = ahead.pop() {
        if !reached.insert(name.clone()) {
            continue;
        }
        let schema = &openapi::description()["components"]["schemas"][&name];
        references(schema, &mut ahead);
        for place in schema["properties"].as_object().into_iter().flatten().map(|(_, field)| field).chain([schema]) {
            if place["enum"].is_array() || place["x-extensible-enum"].is_array() {
                let text = place["description"].as_str().unwrap();
                assert!(text.contains("Expect new values"), "{name}: {text}");
                open += 1;
            }
        }
    }
    assert!(open > 20, "{open} lists of words");
}

fn references(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Array(entries) => entries.iter().for_each(|entry| references(entry, found)),
        Value::Object(fields) => {
            let reference = fields.get("$ref").and_then(Value::as_str);
            let schema = reference.and_then(|text| text.strip_prefix("#/components/schemas/"));
            found.extend(schema.map(str::to_owned));
            fields.values().for_each(|field| references(field, found));
        }
        _ => {}
    }
}

#[test]
fn no_schema_is_nameless_where_a_generator_would_have_to_name_it() {
    for (name, schema) in schemas() {
        for form in schema["oneOf"].as_array().into_iter().flatten() {
            assert!(form["$ref"].is_string(), "{name} has a nameless form");
        }
        for (field, property) in schema["properties"].as_object().into_iter().flatten() {
            for schema in [property, &property["items"]] {
                assert!(!schema["properties"].is_object(), "{name}.{field} is a nameless object");
                for word in ["allOf", "anyOf", "oneOf"] {
                    assert!(schema[word].is_null(), "{name}.{field} is a nameless choice");
                }
            }
        }
    }
    for Operation { id, it, .. } in operations() {
        let responses = it["responses"].as_object().unwrap().values();
        for content in responses.chain(it.get("requestBody")).filter_map(|holder| holder["content"].as_object()) {
            for (kind, media) in content {
                assert!(media["schema"]["$ref"].is_string(), "{id}: {kind} has a nameless schema");
            }
        }
    }
}

#[test]
fn links_lead_to_operations_that_take_what_they_hand_over() {
    let operations = operations();
    let mut links = 0;
    for Operation { id, it, .. } in &operations {
        for (_, response) in it["responses"].as_object().unwrap() {
            for (name, link) in response["links"].as_object().into_iter().flatten() {
                let target = operations.iter().find(|one| link["operationId"] == one.id.as_str());
                let target = target.unwrap_or_else(|| panic!("{id}: {name} leads nowhere"));
                for (qualified, _) in link["parameters"].as_object().unwrap() {
                    let (place, parameter) = qualified.split_once('.').unwrap();
                    let mut taken = target.it["parameters"].as_array().unwrap().iter();
                    assert!(taken.any(|one| one["in"] == place && one["name"] == parameter), "{id}: {name}");
                }
                links += 1;
            }
        }
    }
    // Whatever can be created leads to being read, replaced and taken away.
    for Operation { id, path, method, it } in &operations {
        let below = |other: &&Operation| other.path.strip_prefix(path).is_some_and(|rest| rest.starts_with("/{"));
        if *method == "post" && operations.iter().any(|other| below(&other)) {
            for other in operations.iter().filter(below) {
                assert!(it["responses"]["201"]["links"][&other.id].is_object(), "{id} does not lead to {}", other.id);
            }
        }
    }
    assert!(links > 20, "{links} links");
}
