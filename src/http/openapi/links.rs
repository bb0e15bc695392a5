//! Links: what can be done next with what an answer names, so that a client (and the test that talks to the service by
//! its description) finds the way from making a thing to reading, changing and deleting it.

use serde_json::{Map, Value, json};

/// Adds to each answer the operations on the thing that it holds. A thing is recognised by the one parameter of its
/// path: `/v1/items` and `/v1/items/{sku}` answer with an item that has a `sku`. An answer that stands below the thing
/// and is what replaces it (`/v1/quotes/{id}/request`) leads back to it.
pub(super) fn add(description: &mut Value) {
    let targets: Vec<Target> = targets(description);
    let schemas = description["components"]["schemas"].clone();
    let Some(paths) = description["paths"].as_object_mut() else { return };
    for (path, operations) in paths {
        for (method, operation) in operations.as_object_mut().into_iter().flatten() {
            let own_id = operation["operationId"].as_str().unwrap_or_default().to_owned();
            for status in ["200", "201"] {
                let Some(response) = operation["responses"].get_mut(status) else { continue };
                let Some(reference) = body_of(response).map(str::to_owned) else { continue };
                let forms = forms(&schemas, &reference);
                let versioned = response["headers"].get("ETag").is_some();
                let links: Map<String, Value> = targets
                    .iter()
                    .filter(|target| own_id != target.operation && (versioned || !target.needs_version))
                    .filter_map(|target| {
                        let parameter = &target.parameter;
                        let is_body = target.body.as_ref().is_some_and(|body| forms.contains(&body.as_str()));
                        let expression = if path == &target.list || path == &target.thing {
                            format!("$response.body#{}", pointer(&schemas, forms[0], parameter)?)
                        } else if path.starts_with(&target.thing) && is_body {
                            format!("$request.path.{parameter}")
                        } else {
                            return None;
                        };
                        // What was read can be sent back as it is; what was just written would be the same once more.
                        let link = target.link(&expression, is_body && method == "get");
                        Some((target.operation.clone(), link))
                    })
                    .collect();
                if !links.is_empty() {
                    response["links"] = Value::Object(links);
                }
            }
        }
    }
}

fn schema_of<'a>(schemas: &'a Value, reference: &str) -> &'a Value {
    &schemas[reference.rsplit('/').next().unwrap_or_default()]
}

/// The forms that a schema leaves to the role to choose from, the first of them with all fields; or the schema itself.
fn forms<'a>(schemas: &'a Value, reference: &'a str) -> Vec<&'a str> {
    let forms = schema_of(schemas, reference)["anyOf"].as_array().into_iter().flatten();
    let forms: Vec<&str> = forms.filter_map(|form| form["$ref"].as_str()).collect();
    if forms.is_empty() { vec![reference] } else { forms }
}

/// Where an answer names the thing: in a field of its own, or in the thing that it holds beside something else.
fn pointer(schemas: &Value, reference: &str, parameter: &str) -> Option<String> {
    let fields = schema_of(schemas, reference)["properties"].as_object()?;
    if fields.contains_key(parameter) {
        return Some(format!("/{parameter}"));
    }
    fields.iter().find_map(|(name, field)| {
        schema_of(schemas, field.get("$ref")?.as_str()?)["properties"].get(parameter)?;
        Some(format!("/{name}/{parameter}"))
    })
}

/// The schema of a JSON body.
fn body_of(holder: &Value) -> Option<&str> {
    holder.get("content")?.get("application/json")?["schema"]["$ref"].as_str()
}

/// An operation on one thing of a list.
struct Target {
    operation: String,
    description: String,
    list: String,
    thing: String,
    parameter: String,
    needs_version: bool,
    body: Option<String>,
}

impl Target {
    fn link(&self, expression: &str, sends_it_back: bool) -> Value {
        let mut parameters = json!({format!("path.{}", self.parameter): expression});
        if self.needs_version {
            parameters["header.If-Match"] = json!("$response.header.ETag");
        }
        let mut link =
            json!({"operationId": self.operation, "description": self.description, "parameters": parameters});
        if sends_it_back {
            link["requestBody"] = json!("$response.body");
        }
        link
    }
}

fn targets(description: &Value) -> Vec<Target> {
    let mut targets = Vec::new();
    for (path, operations) in description["paths"].as_object().into_iter().flatten() {
        let Some((list, rest)) = path.split_once("/{") else { continue };
        let Some((parameter, _)) = rest.split_once('}') else { continue };
        for operation in operations.as_object().into_iter().flatten().map(|(_, operation)| operation) {
            let mut parameters = operation["parameters"].as_array().into_iter().flatten();
            targets.push(Target {
                operation: operation["operationId"].as_str().unwrap_or_default().to_owned(),
                description: operation["summary"].as_str().unwrap_or_default().to_owned(),
                list: list.to_owned(),
                thing: format!("{list}/{{{parameter}}}"),
                parameter: parameter.to_owned(),
                needs_version: parameters.any(|one| one["name"] == "If-Match"),
                body: operation.get("requestBody").and_then(body_of).map(str::to_owned),
            });
        }
    }
    targets
}
