//! The service's description (OpenAPI 3.1), built once from handlers and types, and the validators of its bodies.
//!
//! What the derives cannot say is added here: the problems of each operation, the examples of `api/examples/` and those
//! recorded in `api/answers.json`, what can be done next, names for the forms of a choice, and that a field that does
//! not apply is absent and never null.

mod answers;
mod links;
mod shapes;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use actix_web::App;
use actix_web::http::StatusCode;
use bytes::Bytes;
use jsonschema::Validator;
use serde_json::{Map, Value, json};
use utoipa::OpenApi;
use utoipa_actix_web::AppExt;

pub use answers::problem_example;

use super::access;
use super::problem::{self, Kind, ProblemBody};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Rigbill",
        description = "Take-offs and priced quotes for rigging and rewiring small boats: a boat spec goes in; circuits, wire by \
            colour and gauge, terminals, fuses, labour hours and prices from the shop's own catalogue come out.\n\n\
            Faults come as RFC 9457 problems that list everything at once. What can be edited has an ETag; changing it needs \
            that ETag as If-Match. All below `/v1` needs a key; which roles may call an operation stands in it. What creates \
            something or moves a quote on takes an Idempotency-Key, so that a request whose answer was lost can be sent again \
            without anything being done twice. Lists come in pages: follow `next`. Lists of words in answers may grow: treat an unknown word as \
            one to show, not as an error.\n\n\
            Keys and addresses may do so much in a minute: the fields RateLimit and RateLimit-Policy of every answer tell what \
            is left (r) of how much (q), who has nothing left gets 429 with Retry-After. While the database is away, too \
            busy or full, 503 comes with Retry-After.\n\n\
            Nothing here certifies a boat: local rules and a licensed or certified electrician come first.",
        contact(name = "The shop that runs this service"),
        license(name = "MIT", identifier = "MIT"),
    ),
    servers((url = "/", description = "This service")),
    components(schemas(ProblemBody<'static>)),
    tags(
        (name = "take-offs", description = "Quantities of a job, before any price; nothing is stored."),
        (name = "quotes", description = "Priced quotes."),
        (name = "events", description = "What happened, for the shop's other systems."),
        (name = "webhooks", description = "Who is told of what happened, by a request to an address of his."),
        (name = "items", description = "The shop's catalogue."),
        (name = "stock", description = "What is on the shelf, by place and bin, and what quotes hold of it."),
        (name = "offcuts", description = "Lengths of wire and cable that were left over."),
        (name = "imports", description = "Catalogue items from CSV, all or nothing."),
        (name = "packages", description = "Named, reusable sets of equipment."),
        (name = "labour-operations", description = "Unit times of the shop's work."),
        (name = "settings", description = "Allowances, colours, rates, mark-ups and tax."),
        (name = "layouts", description = "Stations and runs of each form of hull, before anyone measures."),
        (name = "calculators", description = "One question, one answer."),
        (name = "keys", description = "Who may use the service, and for what."),
        (name = "service", description = "The service itself."),
    )
)]
struct Frame;

/// Bodies of requests that the description shows: path, method, name, what it is, text.
const EXAMPLES: [(&str, &str, &str, &str, &str); 9] = [
    ("/v1/quotes", "post", "bay_boat", "A bay boat with one bank", include_str!("../../api/examples/bay-boat.json")),
    (
        "/v1/quotes",
        "post",
        "center_console_22",
        "A center console by hull form alone",
        include_str!("../../api/examples/center-console-22.json"),
    ),
    (
        "/v1/quotes",
        "post",
        "trolling_36v",
        "A second bank of 36 V for a bow motor",
        include_str!("../../api/examples/trolling-36v.json"),
    ),
    (
        "/v1/quotes",
        "post",
        "re_rig",
        "A re-rig with a yellow negative and overrules",
        include_str!("../../api/examples/re-rig-yellow.json"),
    ),
    (
        "/v1/quotes/{id}",
        "put",
        "bay_boat",
        "A bay boat with one bank",
        include_str!("../../api/examples/bay-boat.json"),
    ),
    ("/v1/take-offs", "post", "bay_boat", "A bay boat with one bank", include_str!("../../api/examples/bay-boat.json")),
    (
        "/v1/calculators/conductor",
        "post",
        "ten_amperes",
        "10 A over 21 ft there and back",
        include_str!("../../api/examples/conductor.json"),
    ),
    (
        "/v1/calculators/cut-plan",
        "post",
        "two_pieces",
        "Two pieces from a spool or by the foot",
        include_str!("../../api/examples/cut-plan.json"),
    ),
    (
        "/v1/calculators/dash",
        "post",
        "two_displays",
        "Two displays, a stereo and two gauges",
        include_str!("../../api/examples/dash.json"),
    ),
];

/// The description as a value.
pub fn description() -> &'static Value {
    &DESCRIPTION
}

/// The description as it is served and as `rigbill openapi` prints it: indented, ending with a new line.
pub fn text() -> Bytes {
    static TEXT: LazyLock<Bytes> = LazyLock::new(|| {
        let mut text = serde_json::to_string_pretty(description()).expect("the description is plain values");
        text.push('\n');
        Bytes::from(text)
    });
    TEXT.clone()
}

static DESCRIPTION: LazyLock<Value> = LazyLock::new(|| {
    let (_, api) = App::new().into_utoipa_app().openapi(Frame::openapi()).configure(super::routes).split_for_parts();
    let mut description = serde_json::to_value(api).expect("the description is plain values");
    without_null(&mut description);
    with_null(&mut description);
    by_role(&mut description);
    tighten_bodies(&mut description);
    shapes::name_forms(&mut description);
    shapes::refer_to_named_lists(&mut description);
    shapes::open_lists(&mut description);
    add_access(&mut description);
    add_problems(&mut description);
    answers::add_problems(&mut description);
    add_examples(&mut description);
    answers::add(&mut description);
    links::add(&mut description);
    description
});

/// The validator of one schema of the description.
///
/// # Panics
/// When there is no such schema: bodies and description are built from the same types.
pub fn validator(schema: &str) -> &'static Validator {
    static VALIDATORS: LazyLock<BTreeMap<String, Validator>> = LazyLock::new(|| {
        body_schemas(description()).into_iter().map(|name| (name.to_owned(), build_validator(name))).collect()
    });
    VALIDATORS.get(schema).unwrap_or_else(|| panic!("no operation of the description takes a {schema}"))
}

fn build_validator(schema: &str) -> Validator {
    let root = json!({
        "$ref": format!("#/components/schemas/{schema}"),
        "components": {"schemas": description()["components"]["schemas"]},
    });
    jsonschema::options().should_validate_formats(true).build(&root).expect("the description's schemas are valid")
}

/// The part of the description's schemas that a schema path of a validator names.
pub fn at(schema_path: &str) -> Option<&'static Value> {
    let start = schema_path.find("/components/").unwrap_or(0);
    description().pointer(&schema_path[start..])
}

/// The schema that holds the keyword at a schema path.
pub fn parent_of(schema_path: &str) -> Option<&'static Value> {
    at(schema_path.rsplit_once('/')?.0)
}

/// A schema, or the one that it refers to.
pub fn resolved(schema: &Value) -> &Value {
    let target = schema["$ref"].as_str().and_then(|reference| description().pointer(reference.strip_prefix('#')?));
    target.unwrap_or(schema)
}

/// Methods of each path, in upper case: for the `Allow` header.
pub fn methods_by_path() -> BTreeMap<&'static str, Vec<String>> {
    let paths = description()["paths"].as_object().into_iter().flatten();
    paths
        .map(|(path, operations)| {
            let methods: BTreeSet<String> =
                operations.as_object().into_iter().flatten().map(|(m, _)| m.to_uppercase()).collect();
            let head = methods.contains("GET").then(|| "HEAD".to_owned());
            (path.as_str(), methods.into_iter().chain(head).collect())
        })
        .collect()
}

/// Path, method in upper case and id of every operation.
pub fn operation_ids() -> impl Iterator<Item = (&'static str, &'static str, &'static str)> {
    const METHODS: [&str; 5] = ["DELETE", "GET", "PATCH", "POST", "PUT"];
    let paths = description()["paths"].as_object().into_iter().flatten();
    paths.flat_map(|(path, operations)| {
        operations.as_object().into_iter().flatten().map(|(method, operation)| {
            let method = METHODS.into_iter().find(|known| known.eq_ignore_ascii_case(method));
            let id = operation["operationId"].as_str().expect("an operation has an id");
            (path.as_str(), method.expect("a method that operations have"), id)
        })
    })
}

/// Names of the schemas that are bodies of requests.
pub(super) fn body_schemas(description: &Value) -> BTreeSet<&str> {
    operations(description)
        .filter_map(|operation| operation["requestBody"]["content"]["application/json"]["schema"]["$ref"].as_str())
        .filter_map(|reference| reference.rsplit('/').next())
        .collect()
}

fn operations(description: &Value) -> impl Iterator<Item = &Value> {
    description["paths"]
        .as_object()
        .into_iter()
        .flatten()
        .flat_map(|(_, path)| path.as_object().into_iter().flatten())
        .map(|(_, o)| o)
}

/// Takes `null` out of all types: utoipa lets an optional field be null, where ours are absent.
fn without_null(value: &mut Value) {
    match value {
        Value::Array(entries) => entries.iter_mut().for_each(without_null),
        Value::Object(fields) => {
            if let Some(Value::Array(types)) = fields.get_mut("type") {
                types.retain(|one| one != "null");
                if let [one] = types.as_slice() {
                    let one = one.clone();
                    fields.insert("type".to_owned(), one);
                }
            }
            if let Some(Value::Array(forms)) = fields.get_mut("oneOf") {
                forms.retain(|form| form != &json!({"type": "null"}));
                if let [Value::Object(one)] = forms.as_slice() {
                    let one = one.clone();
                    fields.remove("oneOf");
                    // What is said beside the choice (what this field is for) goes before what the form says of itself.
                    for (name, part) in one {
                        fields.entry(name).or_insert(part);
                    }
                }
            }
            fields.values_mut().for_each(without_null);
        }
        _ => {}
    }
}

/// Says what the derives leave out of request bodies: that a form with a tag refuses unknown fields like any other
/// object, and that whole numbers without an upper bound of their own are 16 bits wide.
fn tighten_bodies(description: &mut Value) {
    let mut reached: BTreeSet<String> = BTreeSet::new();
    let mut ahead: Vec<String> = body_schemas(description).into_iter().map(str::to_owned).collect();
    while let Some(name) = ahead.pop() {
        if reached.insert(name.clone()) {
            let schema = &mut description["components"]["schemas"][&name];
            tighten(schema);
            references(schema, &mut ahead);
        }
    }
}

fn tighten(value: &mut Value) {
    match value {
        Value::Array(entries) => entries.iter_mut().for_each(tighten),
        Value::Object(fields) => {
            if fields.get("type") == Some(&json!("integer"))
                && !fields.contains_key("maximum")
                && !fields.contains_key("enum")
            {
                fields.insert("maximum".to_owned(), json!(u16::MAX));
            }
            if let Some(Value::Array(forms)) = fields.get_mut("oneOf") {
                for form in forms.iter_mut().filter_map(Value::as_object_mut) {
                    if form.contains_key("properties") {
                        form.insert("additionalProperties".to_owned(), json!(false));
                    }
                }
            }
            fields.values_mut().for_each(tighten);
        }
        _ => {}
    }
}

fn references(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Array(entries) => entries.iter().for_each(|entry| references(entry, found)),
        Value::Object(fields) => {
            let reference = fields.get("$ref").and_then(Value::as_str);
            found.extend(reference.and_then(|text| text.rsplit('/').next()).map(str::to_owned));
            fields.values().for_each(|field| references(field, found));
        }
        _ => {}
    }
}

/// Types of which each role reads a form of its own.
const BY_ROLE: [&str; 4] = ["ItemByRole", "ItemPageByRole", "QuoteByRole", "QuotePageByRole"];

/// Makes `anyOf` of the choices by role: the form for one role fits where that for another stands too.
fn by_role(description: &mut Value) {
    for name in BY_ROLE {
        let choice = &mut description["components"]["schemas"][name];
        let fields = choice.as_object_mut().unwrap_or_else(|| panic!("{name} is answered somewhere"));
        let forms = fields.remove("oneOf").unwrap_or_else(|| panic!("{name} has forms"));
        fields.insert("anyOf".to_owned(), forms);
    }
}

/// Fields that may be null all the same, since it was promised.
const NULLABLE: [(&str, &str); 1] = [("CutPlanStock", "available")];

/// Lets those fields be null.
fn with_null(description: &mut Value) {
    for (schema, field) in NULLABLE {
        let field = &mut description["components"]["schemas"][schema]["properties"][field];
        let one = field["type"].take();
        field["type"] = json!([one, "null"]);
    }
}

/// Says who may call what.
fn add_access(description: &mut Value) {
    description["components"]["securitySchemes"] = json!({access::SCHEME: access::scheme()});
    for (_, operations) in description["paths"].as_object_mut().into_iter().flatten() {
        operations.as_object_mut().into_iter().flatten().for_each(|(_, operation)| access::describe(operation));
    }
}

/// Adds to each operation the problems that go with its path, its parameters and its body.
fn add_problems(description: &mut Value) {
    let Some(paths) = description["paths"].as_object_mut() else { return };
    for (path, operations) in paths {
        for (_, operation) in operations.as_object_mut().into_iter().flatten() {
            let kinds = kinds_of(path, operation);
            add_replay(operation);
            let responses = operation["responses"].as_object_mut().expect("an operation has responses");
            for (status, kinds) in kinds {
                responses.entry(status.as_str()).or_insert_with(|| response(status, &kinds));
            }
        }
    }
}

/// Tells where an answer may be one that is given again.
fn add_replay(operation: &mut Value) {
    let keyed = operation["parameters"].as_array().into_iter().flatten().any(|one| one["name"] == "Idempotency-Key");
    for status in ["200", "201"] {
        let Some(done) = operation["responses"].get_mut(status).filter(|_| keyed) else { continue };
        done["headers"]["Idempotent-Replay"] = json!({
            "description": "`true` when this answer was given before to the same Idempotency-Key; absent when it is new.",
            "schema": {"type": "string"},
        });
    }
}

/// Which problems an operation can answer with, by status. `x-problems` names those that only the operation knows.
fn kinds_of(path: &str, operation: &mut Value) -> BTreeMap<StatusCode, Vec<Kind>> {
    let mut kinds = vec![Kind::Internal, Kind::Unavailable, Kind::BadQuery, Kind::BadRequest, Kind::TooMany];
    kinds.extend(access::problems(operation["operationId"].as_str().unwrap_or_default()));
    if path.contains('{') {
        kinds.push(Kind::NotFound);
    }
    let parameter =
        |name: &str| operation["parameters"].as_array().into_iter().flatten().any(|one| one["name"] == name);
    if parameter("If-Match") {
        kinds.extend([Kind::BadHeader, Kind::Stale, Kind::VersionNeeded]);
    }
    if parameter("Idempotency-Key") {
        kinds.extend([Kind::BadHeader, Kind::KeyReused]);
    }
    if parameter("cursor") {
        kinds.push(Kind::BadCursor);
    }
    let content = &operation["requestBody"]["content"];
    if content.is_object() {
        kinds.extend([Kind::TooSlow, Kind::TooLarge, Kind::WrongContentType]);
    }
    if content["application/json"].is_object() {
        kinds.extend([Kind::MalformedJson, Kind::TooDeep, Kind::Invalid]);
    }
    let own = operation.as_object_mut().and_then(|fields| fields.remove("x-problems")).unwrap_or_default();
    kinds.extend(own.as_array().into_iter().flatten().map(|slug| {
        let found = problem::ALL.into_iter().find(|kind| slug == kind.row().slug);
        found.unwrap_or_else(|| panic!("{path}: there is no problem {slug}"))
    }));
    let mut by_status: BTreeMap<StatusCode, Vec<Kind>> = BTreeMap::new();
    for kind in kinds {
        by_status.entry(kind.row().status).or_default().push(kind);
    }
    by_status
}

fn response(status: StatusCode, kinds: &[Kind]) -> Value {
    let told: Vec<String> =
        kinds.iter().map(|kind| format!("`/problems/{}`: {}", kind.row().slug, kind.row().cause)).collect();
    let mut response = json!({
        "description": told.join("\n\n"),
        "content": {problem::MEDIA_TYPE: {
            "schema": {"$ref": "#/components/schemas/Problem"},
            "examples": answers::of_problems(kinds),
        }},
    });
    if status == StatusCode::UNAUTHORIZED {
        let told = "The scheme to use: `Bearer`, with `error=\"invalid_token\"` when a key was sent.";
        response["headers"] = json!({"WWW-Authenticate": {"description": told, "schema": {"type": "string"}}});
    }
    if [StatusCode::SERVICE_UNAVAILABLE, StatusCode::TOO_MANY_REQUESTS].contains(&status) {
        response["headers"] = json!({"Retry-After": {"description": "Seconds to wait.", "schema": {"type": "string"}}});
    }
    response
}

fn add_examples(description: &mut Value) {
    for (path, method, name, summary, text) in EXAMPLES {
        let request: Value = serde_json::from_str(text).expect("the examples are JSON");
        let value = if path == "/v1/take-offs" { request["spec"].clone() } else { request };
        let content = &mut description["paths"][path][method]["requestBody"]["content"]["application/json"];
        let content = content.as_object_mut().expect("an example goes to an operation with a JSON body");
        let examples = content.entry("examples").or_insert_with(|| Value::Object(Map::new()));
        examples[name] = json!({"summary": summary, "value": value});
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_type_of_the_description_is_nullable_but_where_it_was_promised() {
        let nullable = text().windows(6).filter(|part| part == b"\"null\"").count();
        assert_eq!(nullable, NULLABLE.len());
    }

    #[test]
    fn every_object_of_a_body_refuses_unknown_fields() {
        fn closed(name: &str, schema: &Value) {
            for form in schema["oneOf"].as_array().into_iter().flatten().chain([schema]) {
                if form["properties"].is_object() {
                    assert_eq!(form["additionalProperties"], false, "{name}: {form}");
                }
            }
        }
        let mut ahead: Vec<String> = body_schemas(description()).into_iter().map(str::to_owned).collect();
        let mut reached = BTreeSet::new();
        while let Some(name) = ahead.pop() {
            if reached.insert(name.clone()) {
                let schema = &description()["components"]["schemas"][&name];
                closed(&name, schema);
                // utoipa makes one of an inlined enum with a description, and then nothing fits it.
                assert!(!schema.to_string().contains("\"allOf\""), "{name}: {schema}");
                references(schema, &mut ahead);
            }
        }
        assert!(reached.contains("Attributes") && reached.contains("StationInput"));
    }

    #[test]
    fn every_request_example_fits_its_schema() {
        for (path, method, name, ..) in EXAMPLES {
            let content = &description()["paths"][path][method]["requestBody"]["content"]["application/json"];
            let schema = content["schema"]["$ref"].as_str().unwrap().rsplit('/').next().unwrap();
            let faults: Vec<String> =
                validator(schema).iter_errors(&content["examples"][name]["value"]).map(|e| e.to_string()).collect();
            assert!(faults.is_empty(), "{path} {name}: {faults:?}");
        }
    }

    #[test]
    fn every_operation_says_what_it_does_and_what_it_answers() {
        for operation in operations(description()) {
            let id = operation["operationId"].as_str().expect("an operation has an id");
            for field in ["summary", "description"] {
                assert!(operation[field].as_str().is_some_and(|text| !text.is_empty()), "{id} has no {field}");
            }
            assert_eq!(operation["tags"].as_array().map(Vec::len), Some(1), "{id}");
            for (status, response) in operation["responses"].as_object().unwrap() {
                assert!(response["description"].as_str().is_some_and(|text| !text.is_empty()), "{id} {status}");
            }
        }
    }
}
