//! Examples of answers, requests and problems: recorded from the demo shop by a test, which also holds that they are
//! what the service answers (`tests/it/http/answers.rs`), and shown by the description.

use std::sync::LazyLock;

use serde_json::{Map, Value, json};

use crate::http::problem::{self, Kind};

/// Where the examples that responses share stand, as references name them.
const EXAMPLES: &str = "#/components/examples/";

static RECORDED: LazyLock<Value> = LazyLock::new(|| {
    serde_json::from_str(include_str!("../../../api/answers.json")).expect("the recorded answers are JSON")
});

/// Adds the examples of the problems that responses refer to.
pub(super) fn add_problems(description: &mut Value) {
    let paths = description["paths"].to_string();
    let examples: Map<String, Value> = problem::ALL
        .into_iter()
        .map(|kind| (kind.row().slug, json!({"summary": kind.row().title, "value": problem_example(kind)})))
        .filter(|(slug, _)| paths.contains(&format!("\"{EXAMPLES}{slug}\"")))
        .map(|(slug, example)| (slug.to_owned(), example))
        .collect();
    description["components"]["examples"] = Value::Object(examples);
}

/// A problem as it was answered once; one that was never met says its cause.
pub fn problem_example(kind: Kind) -> Value {
    let row = kind.row();
    let recorded = RECORDED["problems"].get(row.slug).cloned();
    let made = || {
        json!({
            "type": format!("/problems/{}", row.slug), "title": row.title, "status": row.status.as_u16(),
            "detail": row.cause,
        })
    };
    recorded.unwrap_or_else(made)
}

/// References to the examples of the problems of one response.
pub(super) fn of_problems(kinds: &[Kind]) -> Value {
    let reference =
        |kind: &Kind| (kind.row().slug.to_owned(), json!({"$ref": format!("{EXAMPLES}{}", kind.row().slug)}));
    Value::Object(kinds.iter().map(reference).collect())
}

/// Adds what was recorded to each operation: one request unless it has examples already, and one answer of each status.
pub(super) fn add(description: &mut Value) {
    for (_, operations) in description["paths"].as_object_mut().into_iter().flatten() {
        for (_, operation) in operations.as_object_mut().into_iter().flatten() {
            let id = operation["operationId"].as_str().unwrap_or_default().to_owned();
            let recorded = &RECORDED["operations"][&id];
            for (_, media) in fields_at(operation, "/requestBody/content") {
                if media.get("examples").is_none() {
                    show(media, &recorded["request"], false);
                }
            }
            for (status, answer) in recorded["answers"].as_object().into_iter().flatten() {
                let place = format!("/responses/{status}/content");
                let contents = fields_at(operation, &place);
                // Only JSON is recorded; other forms bring an example of their own.
                for (_, media) in contents.filter(|(kind, _)| kind.ends_with("json")) {
                    show(media, &answer["body"], answer["shortened"] == true);
                }
            }
        }
    }
}

fn fields_at<'a>(value: &'a mut Value, pointer: &str) -> impl Iterator<Item = (&'a String, &'a mut Value)> {
    value.pointer_mut(pointer).and_then(Value::as_object_mut).into_iter().flatten()
}

fn show(media: &mut Value, value: &Value, shortened: bool) {
    if value.is_null() {
        return;
    }
    let summary = if shortened {
        "From the invented shop, shortened: lists show their first entries only"
    } else {
        "From the invented shop"
    };
    media["examples"] = json!({"demo": {"summary": summary, "value": value}});
}
