//! What does not fit a body's schema, in words that a front desk understands: what was met, what was expected.

use jsonschema::ValidationError;
use jsonschema::error::{TypeKind, ValidationErrorKind};
use serde_json::Value;

use super::openapi;
use crate::calc::findings::{Fault, pointer_segment};
use crate::calc::spec::input::ID_PATTERN;
use crate::calc::units::WIRE_SIZE_PATTERN;

/// A fault against the description, and whether the rest can be looked at without it.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    fault: Fault,
    prune: bool,
}

impl Finding {
    /// A finding that leaves its place in the body.
    pub fn at(pointer: impl Into<String>, message: impl Into<String>) -> Self {
        Finding { fault: Fault::new(pointer, message), prune: false }
    }

    fn pruned(pointer: impl Into<String>, message: impl Into<String>) -> Self {
        Finding { prune: true, ..Finding::at(pointer, message) }
    }
}

/// Everything in `value` that does not fit the schema of that name in the service's description.
///
/// # Panics
/// When the description has no such schema: bodies and description are built from the same types.
pub fn findings(schema: &str, value: &Value) -> Vec<Finding> {
    let validator = openapi::validator(schema);
    if validator.is_valid(value) {
        return Vec::new();
    }
    let mut findings = Vec::new();
    for error in validator.iter_errors(value) {
        describe(&error, "", &mut findings);
    }
    findings
}

/// Takes out of the body what cannot be read, as far as that leaves the rest in its place.
pub fn prune(value: &mut Value, findings: &[Finding]) {
    for finding in findings.iter().filter(|finding| finding.prune) {
        let Some((parent, name)) = finding.fault.pointer.rsplit_once('/') else { continue };
        if let Some(Value::Object(fields)) = value.pointer_mut(parent) {
            fields.remove(&name.replace("~1", "/").replace("~0", "~"));
        }
    }
}

/// Faults against the description together with those that the service saw in the rest. A fault of the service that
/// only follows from a misfit (at the same place, below it, or at the object that holds it) is left out.
pub fn joined(findings: Vec<Finding>, more: Vec<Fault>) -> Vec<Fault> {
    let mut faults: Vec<Fault> = findings.into_iter().map(|finding| finding.fault).collect();
    let follows = |place: &str| {
        faults.iter().any(|misfit| {
            let parent = misfit.pointer.rsplit_once('/').map(|(parent, _)| parent);
            let below = place.strip_prefix(misfit.pointer.as_str());
            below.is_some_and(|rest| rest.is_empty() || rest.starts_with('/')) || parent == Some(place)
        })
    };
    let independent: Vec<Fault> = more.into_iter().filter(|fault| !follows(&fault.pointer)).collect();
    faults.extend(independent);
    faults
}

/// Describes one error of the validator; an error within one kind of a tagged list is described by that kind's own.
fn describe(error: &ValidationError<'_>, within: &str, findings: &mut Vec<Finding>) {
    let place = format!("{within}{}", error.instance_path().as_str());
    let met = error.instance();
    let holder = openapi::parent_of(error.schema_path().as_str());
    match error.kind() {
        ValidationErrorKind::AdditionalProperties { unexpected } => {
            let known = fields_of(holder);
            findings.extend(unexpected.iter().map(|name| {
                Finding::pruned(format!("{place}/{}", pointer_segment(name)), unknown_field(name, &known))
            }));
        }
        ValidationErrorKind::Required { property } => {
            let name = property.as_str().unwrap_or_default();
            findings.push(Finding::at(
                format!("{place}/{}", pointer_segment(name)),
                format!("'{name}' is missing: {}", purpose(holder, name)),
            ));
        }
        ValidationErrorKind::OneOfNotValid { context } | ValidationErrorKind::AnyOf { context } => {
            one_of(error, &place, context, findings);
        }
        ValidationErrorKind::Type { kind } => {
            findings.push(Finding::pruned(place, wrong_type(met, kind, holder)));
        }
        ValidationErrorKind::Enum { options } => {
            let written = |option: &Value| option.as_str().map_or_else(|| option.to_string(), str::to_owned);
            let options: Vec<String> = options.as_array().into_iter().flatten().map(written).collect();
            let options: Vec<&str> = options.iter().map(String::as_str).collect();
            findings.push(Finding::pruned(place, not_among(met, &options)));
        }
        other => {
            let message = out_of_bounds(other, met, holder);
            findings.push(Finding { prune: unreadable(other), ..Finding::at(place, message) });
        }
    }
}

/// Whether what is out of bounds cannot even be read: a day, a decimal number or a wire size that is none.
fn unreadable(kind: &ValidationErrorKind) -> bool {
    match kind {
        ValidationErrorKind::Format { .. } => true,
        ValidationErrorKind::Pattern { pattern } => pattern == WIRE_SIZE_PATTERN || decimal_places(pattern).is_some(),
        _ => false,
    }
}

/// One of several forms, told apart by a field with one value in each: only the form that was meant is described.
fn one_of(
    error: &ValidationError<'_>,
    place: &str,
    context: &[Vec<ValidationError<'static>>],
    findings: &mut Vec<Finding>,
) {
    let forms = openapi::at(error.schema_path().as_str()).and_then(Value::as_array);
    let tags: Vec<(&str, &str)> = forms.into_iter().flatten().filter_map(tag_of).collect();
    let Some(&(tag, _)) = tags.first() else {
        findings.push(Finding::at(
            place,
            format!("{} fits none of the forms that are possible here.", shown(error.instance())),
        ));
        return;
    };
    let options: Vec<&str> = tags.iter().map(|&(_, option)| option).collect();
    match error.instance().as_ref() {
        Value::Object(fields) => match fields.get(tag) {
            Some(met) => match options.iter().position(|option| met.as_str() == Some(option)) {
                // The errors of a form carry the whole path already.
                Some(form) => context[form].iter().for_each(|inner| describe(inner, "", findings)),
                None => findings.push(Finding::at(format!("{place}/{tag}"), not_among(met, &options))),
            },
            None => findings.push(Finding::at(
                format!("{place}/{tag}"),
                format!("'{tag}' is missing: one of {}.", options.join(", ")),
            )),
        },
        other => findings.push(Finding::at(
            place,
            format!("{} stands here; expected is an object with '{tag}' and the fields that go with it.", shown(other)),
        )),
    }
}

/// The field that tells a form from the others, and its one value.
fn tag_of(form: &Value) -> Option<(&str, &str)> {
    openapi::resolved(form)["properties"]
        .as_object()?
        .iter()
        .find_map(|(name, field)| Some((name.as_str(), field.get("const")?.as_str()?)))
}

fn fields_of(schema: Option<&Value>) -> Vec<&str> {
    let properties = schema.and_then(|schema| schema.get("properties")).and_then(Value::as_object);
    properties.into_iter().flatten().map(|(name, _)| name.as_str()).collect()
}

fn unknown_field(name: &str, known: &[&str]) -> String {
    let name: String = name.chars().take(60).collect();
    match nearest(&name, known) {
        Some(near) => format!("There is no field '{name}' here; did you mean '{near}'?"),
        None => format!("There is no field '{name}' here; the fields are: {}.", known.join(", ")),
    }
}

/// What a field is for, by the description.
fn purpose(holder: Option<&Value>, name: &str) -> String {
    let field = holder.map(|schema| &schema["properties"][name]);
    let text = field
        .and_then(|field| field["description"].as_str().or_else(|| openapi::resolved(field)["description"].as_str()));
    text.and_then(|text| text.lines().next()).unwrap_or("it has to be given.").to_owned()
}

fn wrong_type(met: &Value, kind: &TypeKind, holder: Option<&Value>) -> String {
    if met.is_null() {
        return "null stands here; a field that does not apply is left out.".to_owned();
    }
    let decimal = holder.and_then(|schema| schema["pattern"].as_str()).and_then(decimal_places).is_some();
    if decimal && met.is_number() {
        return format!("{met} is a number; write money and quantities in quotes: \"{met}\".");
    }
    let expected = match kind {
        TypeKind::Single(one) => type_name(&one.to_string()),
        TypeKind::Multiple(_) => "something else",
    };
    format!("{} stands here; expected is {expected}.", shown(met))
}

fn type_name(name: &str) -> &'static str {
    match name {
        "string" => "a text in quotes",
        "number" => "a number, without quotes",
        "integer" => "a whole number, without quotes",
        "boolean" => "true or false, without quotes",
        "array" => "a list in square brackets",
        "object" => "an object in braces",
        _ => "null",
    }
}

fn not_among(met: &Value, options: &[&str]) -> String {
    let near = met.as_str().and_then(|met| nearest(met, options));
    match near {
        Some(near) => format!("{} is not possible here; did you mean '{near}'?", shown(met)),
        None => format!("{} is not possible here; possible is: {}.", shown(met), options.join(", ")),
    }
}

fn out_of_bounds(kind: &ValidationErrorKind, met: &Value, holder: Option<&Value>) -> String {
    let met_text = shown(met);
    match kind {
        ValidationErrorKind::Minimum { limit } => format!("{met_text} is too small; the least is {limit}."),
        ValidationErrorKind::Maximum { limit } => format!("{met_text} is too large; the most is {limit}."),
        ValidationErrorKind::ExclusiveMinimum { limit } => {
            format!("{met_text} is too small; it must be more than {limit}.")
        }
        ValidationErrorKind::ExclusiveMaximum { limit } => {
            format!("{met_text} is too large; it must be less than {limit}.")
        }
        ValidationErrorKind::MultipleOf { multiple_of } => {
            format!("{met_text} is not possible here; expected is a multiple of {multiple_of}.")
        }
        ValidationErrorKind::MinLength { limit: 1 } => "The text is empty; something must stand here.".to_owned(),
        ValidationErrorKind::MinLength { limit } => format!("{met_text} is too short; it needs {limit} characters."),
        ValidationErrorKind::MaxLength { limit } => {
            let length = met.as_str().map_or(0, |text| text.chars().count());
            format!("The text has {length} characters; at most {limit} are possible.")
        }
        ValidationErrorKind::MinItems { limit } => {
            format!("The list has {} entries; it needs at least {limit}.", met.as_array().map_or(0, Vec::len))
        }
        ValidationErrorKind::MaxItems { limit } => {
            format!("The list has {} entries; at most {limit} are possible.", met.as_array().map_or(0, Vec::len))
        }
        ValidationErrorKind::UniqueItems => "The list has an entry twice; each may stand there once.".to_owned(),
        ValidationErrorKind::Pattern { pattern } => format!("{met_text} does not fit; {}", form(pattern, holder)),
        ValidationErrorKind::Format { format } => match format.as_str() {
            "date" => format!("{met_text} is no day; write year-month-day, such as 2026-07-31."),
            "uuid" => format!("{met_text} is no identifier of this service."),
            other => format!("{met_text} is no {other}."),
        },
        other => format!("{met_text} does not fit ({}).", other.keyword()),
    }
}

/// What a pattern asks for, in words.
fn form(pattern: &str, holder: Option<&Value>) -> String {
    if pattern == ID_PATTERN {
        return "expected are lower-case letters, digits, '-' and '_', at most 60, a letter or digit first.".to_owned();
    }
    if pattern == WIRE_SIZE_PATTERN {
        return "write a gauge such as '12 AWG' or '1/0 AWG', or an area such as '4 mm2'.".to_owned();
    }
    if let Some((negative, places)) = decimal_places(pattern) {
        let sign = if negative { "" } else { " and not negative" };
        return format!("expected is a decimal number such as \"12.50\", with at most {places} decimal places{sign}.");
    }
    let schema = holder.map(openapi::resolved);
    let example = schema.and_then(|schema| schema["example"].as_str().or_else(|| schema["examples"][0].as_str()));
    match example {
        Some(example) => format!("expected is the form of '{example}' (pattern {pattern})."),
        None => format!("expected is a text of the pattern {pattern}."),
    }
}

/// Whether a pattern is that of a decimal number: if it may be negative, and how many places it may have.
fn decimal_places(pattern: &str) -> Option<(bool, &str)> {
    let rest = pattern.strip_prefix('^')?;
    let (negative, rest) = rest.strip_prefix("-?").map_or((false, rest), |rest| (true, rest));
    let (_, rest) = rest.strip_prefix("[0-9]{1,")?.split_once("}(\\.[0-9]{1,")?;
    Some((negative, rest.strip_suffix("})?$")?))
}

/// A value as it is shown in a message: short, and as it stands in the body.
fn shown(value: &Value) -> String {
    match value {
        Value::Array(entries) => format!("A list of {}", entries.len()),
        Value::Object(_) => "An object".to_owned(),
        Value::String(text) if text.chars().count() > 60 => {
            format!("'{}…'", text.chars().take(60).collect::<String>())
        }
        Value::String(text) => format!("'{text}'"),
        other => other.to_string(),
    }
}

/// The option that a mistyped word most likely means: within a third of its letters.
fn nearest<'a>(word: &str, options: &[&'a str]) -> Option<&'a str> {
    let word = word.to_lowercase();
    let within = (word.chars().count() / 3).max(1);
    options
        .iter()
        .map(|&option| (distance(&word, &option.to_lowercase()), option))
        .filter(|&(distance, _)| distance <= within)
        .min()
        .map(|(_, option)| option)
}

/// Edit distance with a swap of neighbours as one step (optimal string alignment).
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().take(60).collect(), b.chars().take(60).collect());
    let mut rows: Vec<Vec<usize>> = vec![vec![0; b.len() + 1]; a.len() + 1];
    for (i, row) in rows.iter_mut().enumerate() {
        row[0] = i;
    }
    rows[0] = (0..=b.len()).collect();
    for i in 1..=a.len() {
        for j in 1..=b.len() {
            let change = usize::from(a[i - 1] != b[j - 1]);
            let mut least = (rows[i - 1][j] + 1).min(rows[i][j - 1] + 1).min(rows[i - 1][j - 1] + change);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(rows[i - 2][j - 2] + 1);
            }
            rows[i][j] = least;
        }
    }
    rows[a.len()][b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_swap_or_a_wrong_letter_is_near_and_another_word_is_not() {
        let options = ["station", "panel", "sku", "quantity"];
        assert_eq!(nearest("statoin", &options), Some("station"));
        assert_eq!(nearest("Panel", &options), Some("panel"));
        assert_eq!(nearest("amount", &options), None);
    }

    #[test]
    fn decimal_patterns_are_known_as_such() {
        assert_eq!(decimal_places(r"^[0-9]{1,9}(\.[0-9]{1,6})?$"), Some((false, "6")));
        assert_eq!(decimal_places(r"^-?[0-9]{1,7}(\.[0-9]{1,4})?$"), Some((true, "4")));
        assert_eq!(decimal_places(ID_PATTERN), None);
    }

    #[test]
    fn what_only_follows_from_a_misfit_is_left_out() {
        let misfit = vec![Finding::at("/equipment/0/statoin", "unknown")];
        let more = vec![
            Fault::new("/equipment/0", "needs a station"),
            Fault::new("/equipment/1/panel", "is not there"),
            Fault::new("/equipment/0/statoin/x", "below"),
        ];
        let places: Vec<String> = joined(misfit, more).into_iter().map(|fault| fault.pointer).collect();
        assert_eq!(places, ["/equipment/0/statoin", "/equipment/1/panel"]);
    }
}
