//! A first look at a body: whether it certainly fits its schema, in one pass over its text and with no tree of values.
//!
//! Almost every body fits, and this finds out in a small part of the time that the full validator takes. It names no
//! fault. Whatever does not fit, and whatever it cannot judge (a keyword that is not among those below, a form whose tag
//! does not come first, a field that stands twice), goes to the full validator, whose word is the last.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::LazyLock;

use chrono::NaiveDate;
use regex::Regex;
use serde::Deserializer;
use serde::de::{DeserializeSeed, Error, MapAccess, SeqAccess, Visitor};
use serde_json::Value;

use super::openapi;

/// Keywords that say nothing of what fits.
const REMARKS: [&str; 6] = ["description", "example", "examples", "default", "title", "discriminator"];
/// Formats that say no more than the type does: numbers are taken as doubles, and whole ones have bounds of their own.
const NUMBER_FORMATS: [&str; 2] = ["double", "int32"];
/// Most fields of an object, so that those that were met fit a set of bits.
const FIELDS_MAX: usize = 64;

/// Whether a body certainly fits the schema of that name, with no list longer than `list_max`. `false` says only that
/// the full validator has to look.
pub fn certainly_fits(schema: &str, body: &[u8], list_max: usize) -> bool {
    static LOOKS: LazyLock<BTreeMap<String, Look>> = LazyLock::new(|| {
        let schemas = openapi::body_schemas(openapi::description());
        schemas.into_iter().map(|name| (name.to_owned(), Look::of(name))).collect()
    });
    let Some(look) = LOOKS.get(schema) else { return false };
    let mut text = serde_json::Deserializer::from_slice(body);
    Part { look, list_max }.deserialize(&mut text).and_then(|()| text.end()).is_ok()
}

/// What a part of a body must be.
enum Look {
    /// Nothing is certain here.
    Unsure,
    Truth,
    Number {
        whole: bool,
        multiple_of: Option<f64>,
        more_than: f64,
        least: f64,
        most: f64,
    },
    Text {
        /// Fewest and most characters.
        length: (usize, usize),
        pattern: Option<Regex>,
        options: Option<Vec<String>>,
        day: bool,
    },
    List {
        of: Box<Look>,
        length: (usize, usize),
    },
    Object(Fields),
    /// One of several objects, told apart by a field with one value in each.
    Tagged {
        tag: String,
        forms: Vec<(String, Fields)>,
    },
}

/// The fields of an object that takes no others.
struct Fields {
    /// By name, in order.
    looks: Vec<(String, Look)>,
    /// Which of them must be there, a bit each.
    required: u64,
}

impl Fields {
    fn place(&self, name: &str) -> Option<usize> {
        self.looks.binary_search_by(|(known, _)| known.as_str().cmp(name)).ok()
    }
}

impl Look {
    fn of(name: &str) -> Look {
        compile(&openapi::description()["components"]["schemas"][name], &mut BTreeSet::from([name]))
    }
}

/// Compiles a schema. `within` are the named schemas around it: one that holds itself is never certain.
fn compile<'a>(schema: &'a Value, within: &mut BTreeSet<&'a str>) -> Look {
    compiled(schema, within).unwrap_or(Look::Unsure)
}

fn compiled<'a>(schema: &'a Value, within: &mut BTreeSet<&'a str>) -> Option<Look> {
    let object = schema.as_object()?;
    let keywords: BTreeMap<&str, &'a Value> =
        object.iter().map(|(name, value)| (name.as_str(), value)).filter(|(name, _)| !REMARKS.contains(name)).collect();
    let only = |known: &[&str]| keywords.keys().all(|name| known.contains(name));
    let count = |name: &str, otherwise: usize| match keywords.get(name) {
        Some(value) => value.as_u64().and_then(|count| usize::try_from(count).ok()),
        None => Some(otherwise),
    };
    let bound = |name: &str, otherwise: f64| match keywords.get(name) {
        Some(value) => value.as_f64(),
        None => Some(otherwise),
    };
    if let Some(reference) = keywords.get("$ref") {
        let name = reference.as_str()?.rsplit('/').next()?;
        if !only(&["$ref"]) || !within.insert(name) {
            return None;
        }
        let look = compiled(openapi::resolved(schema), within);
        within.remove(name);
        return look;
    }
    if let Some(forms) = keywords.get("oneOf") {
        return if only(&["oneOf"]) { tagged(forms.as_array()?, within) } else { None };
    }
    match keywords.get("type")?.as_str()? {
        "boolean" => only(&["type"]).then_some(Look::Truth),
        kind @ ("number" | "integer") => {
            let known = only(&["type", "format", "multipleOf", "minimum", "exclusiveMinimum", "maximum"]);
            let format =
                keywords.get("format").is_none_or(|format| NUMBER_FORMATS.iter().any(|known| *format == *known));
            let multiple_of = keywords.get("multipleOf").and_then(|value| value.as_f64());
            // Only of whole numbers it is plain what a multiple is.
            let plain = !keywords.contains_key("multipleOf")
                || (kind == "integer" && multiple_of.is_some_and(|of| of >= 1.0 && of.fract() == 0.0));
            (known && format && plain).then_some(Look::Number {
                whole: kind == "integer",
                multiple_of,
                more_than: bound("exclusiveMinimum", f64::NEG_INFINITY)?,
                least: bound("minimum", f64::NEG_INFINITY)?,
                most: bound("maximum", f64::INFINITY)?,
            })
        }
        "string" => {
            let known = only(&["type", "format", "minLength", "maxLength", "pattern", "enum", "const"]);
            let format = keywords.get("format").is_none_or(|format| *format == "date");
            (known && format).then_some(())?;
            let pattern = match keywords.get("pattern") {
                Some(pattern) => Some(plain_pattern(pattern.as_str()?)?),
                None => None,
            };
            let words = |options: &[Value]| -> Option<Vec<String>> {
                options.iter().map(|one| one.as_str().map(str::to_owned)).collect()
            };
            let options: Option<Vec<String>> = match (keywords.get("enum"), keywords.get("const")) {
                (None, None) => None,
                (Some(options), None) => Some(words(options.as_array()?)?),
                (None, Some(only)) => Some(words(std::slice::from_ref(*only))?),
                (Some(_), Some(_)) => return None,
            };
            let length = (count("minLength", 0)?, count("maxLength", usize::MAX)?);
            Some(Look::Text { length, pattern, options, day: keywords.contains_key("format") })
        }
        "array" => {
            only(&["type", "items", "minItems", "maxItems"]).then_some(())?;
            let of = Box::new(compile(keywords.get("items")?, within));
            Some(Look::List { of, length: (count("minItems", 0)?, count("maxItems", usize::MAX)?) })
        }
        "object" => {
            only(&["type", "properties", "required", "additionalProperties"]).then_some(())?;
            Some(Look::Object(fields(&keywords, within)?))
        }
        _ => None,
    }
}

fn fields<'a>(keywords: &BTreeMap<&str, &'a Value>, within: &mut BTreeSet<&'a str>) -> Option<Fields> {
    (keywords.get("additionalProperties")? == &&Value::Bool(false)).then_some(())?;
    let properties = keywords.get("properties")?.as_object()?;
    let mut looks: Vec<(String, Look)> =
        properties.iter().map(|(name, schema)| (name.clone(), compile(schema, within))).collect();
    looks.sort_by(|a, b| a.0.cmp(&b.0));
    (looks.len() <= FIELDS_MAX).then_some(())?;
    let mut fields = Fields { looks, required: 0 };
    for name in keywords.get("required").and_then(|names| names.as_array()).into_iter().flatten() {
        fields.required |= 1 << fields.place(name.as_str()?)?;
    }
    Some(fields)
}

fn tagged<'a>(forms: &'a [Value], within: &mut BTreeSet<&'a str>) -> Option<Look> {
    let mut told: Vec<(String, Fields)> = Vec::new();
    let mut tag: Option<String> = None;
    for form in forms {
        let Look::Object(fields) = compiled(form, within)? else { return None };
        let (name, word) = fields.looks.iter().find_map(|(name, look)| match look {
            Look::Text { options: Some(options), .. } if options.len() == 1 => Some((name.clone(), options[0].clone())),
            _ => None,
        })?;
        let same = tag.get_or_insert_with(|| name.clone()) == &name;
        (same && told.iter().all(|(other, _)| *other != word)).then_some(())?;
        told.push((word, fields));
    }
    Some(Look::Tagged { tag: tag?, forms: told })
}

/// A pattern that means the same in every dialect: of its escapes only those of punctuation.
fn plain_pattern(pattern: &str) -> Option<Regex> {
    let escaped = pattern.split('\\').skip(1).all(|rest| rest.starts_with(|c: char| c.is_ascii_punctuation()));
    (escaped && !pattern.contains("(?")).then(|| Regex::new(pattern).ok())?
}

/// A part of a body that is being looked at.
struct Part<'a> {
    look: &'a Look,
    list_max: usize,
}

impl<'de> DeserializeSeed<'de> for Part<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        match self.look {
            Look::Unsure => Err(D::Error::custom("not known")),
            Look::Truth => deserializer.deserialize_bool(self),
            Look::Number { .. } => deserializer.deserialize_f64(self),
            Look::Text { .. } => deserializer.deserialize_str(self),
            Look::List { .. } => deserializer.deserialize_seq(self),
            Look::Object(_) | Look::Tagged { .. } => deserializer.deserialize_map(self),
        }
    }
}

fn certain<E: Error>(fits: bool) -> Result<(), E> {
    if fits { Ok(()) } else { Err(E::custom("not certain")) }
}

impl Part<'_> {
    fn number(&self, number: f64, is_whole: bool) -> bool {
        let Look::Number { whole, multiple_of, more_than, least, most } = self.look else { return false };
        (is_whole || !whole)
            && multiple_of.is_none_or(|of| number % of == 0.0)
            && number > *more_than
            && number >= *least
            && number <= *most
    }

    fn rest<'de, A: MapAccess<'de>>(&self, fields: &Fields, mut met: u64, mut map: A) -> Result<(), A::Error> {
        while let Some(place) = map.next_key_seed(Key(fields))? {
            certain(met & (1 << place) == 0)?;
            met |= 1 << place;
            map.next_value_seed(Part { look: &fields.looks[place].1, list_max: self.list_max })?;
        }
        certain(met & fields.required == fields.required)
    }
}

impl<'de> Visitor<'de> for Part<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("what the description says")
    }

    fn visit_bool<E: Error>(self, _: bool) -> Result<(), E> {
        certain(matches!(self.look, Look::Truth))
    }

    fn visit_u64<E: Error>(self, number: u64) -> Result<(), E> {
        certain(self.number(number as f64, true))
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<(), E> {
        certain(self.number(number as f64, true))
    }

    fn visit_f64<E: Error>(self, number: f64) -> Result<(), E> {
        certain(self.number(number, false))
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<(), E> {
        let Look::Text { length: (least, most), pattern, options, day } = self.look else { return certain(false) };
        // A text has no more characters than bytes, and no fewer than a quarter of them.
        let long_enough = text.len() / 4 >= *least || text.chars().count() >= *least;
        let short_enough = text.len() <= *most || text.chars().count() <= *most;
        certain(
            long_enough
                && short_enough
                && options.as_ref().is_none_or(|options| options.iter().any(|option| option == text))
                && pattern.as_ref().is_none_or(|pattern| pattern.is_match(text))
                && (!day || is_a_day(text)),
        )
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<(), A::Error> {
        let Look::List { of, length: (least, most) } = self.look else { return certain(false) };
        let mut entries = 0;
        while list.next_element_seed(Part { look: of, list_max: self.list_max })?.is_some() {
            entries += 1;
            certain(entries <= (*most).min(self.list_max))?;
        }
        certain(entries >= *least)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        match self.look {
            Look::Object(fields) => self.rest(fields, 0, map),
            Look::Tagged { tag, forms } => {
                certain(map.next_key_seed(Word(|key: &str| (key == tag).then_some(())))?.is_some())?;
                let form = map.next_value_seed(Word(|word: &str| forms.iter().position(|(known, _)| known == word)))?;
                let fields = &forms[form].1;
                let place = fields.place(tag).ok_or_else(|| A::Error::custom("a form has its tag"))?;
                self.rest(fields, 1 << place, map)
            }
            _ => certain(false),
        }
    }
}

/// A field's name; gives its place.
struct Key<'a>(&'a Fields);

impl<'de> DeserializeSeed<'de> for Key<'_> {
    type Value = usize;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<usize, D::Error> {
        Word(|name: &str| self.0.place(name)).deserialize(deserializer)
    }
}

/// A text that something is known by.
struct Word<F>(F);

impl<'de, T, F: FnOnce(&str) -> Option<T>> DeserializeSeed<'de> for Word<F> {
    type Value = T;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<T, D::Error> {
        deserializer.deserialize_str(self)
    }
}

impl<'de, T, F: FnOnce(&str) -> Option<T>> Visitor<'de> for Word<F> {
    type Value = T;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a known word")
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<T, E> {
        (self.0)(text).ok_or_else(|| E::custom("not known"))
    }
}

/// Whether a text is a day of the calendar in full, as the format `date` has it (RFC 3339).
fn is_a_day(text: &str) -> bool {
    let fits = |(place, byte): (usize, u8)| if matches!(place, 4 | 7) { byte == b'-' } else { byte.is_ascii_digit() };
    text.len() == 10 && text.bytes().enumerate().all(fits) && text.parse::<NaiveDate>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::http::faults;

    const LIST_MAX: usize = 1_000;

    fn examples() -> Vec<Value> {
        let texts = [include_str!("../../api/examples/skiff.json"), include_str!("../../api/examples/bay-boat.json")];
        texts.map(|text| serde_json::from_str(text).unwrap()).to_vec()
    }

    /// Every place of a value, as a pointer.
    fn places(value: &Value, at: String, found: &mut Vec<String>) {
        match value {
            Value::Array(entries) => {
                entries.iter().enumerate().for_each(|(n, entry)| places(entry, format!("{at}/{n}"), found));
            }
            Value::Object(fields) => {
                fields.iter().for_each(|(name, field)| places(field, format!("{at}/{name}"), found));
            }
            _ => {}
        }
        found.push(at);
    }

    /// What stands in a place, spoilt in every way that is worth a thought.
    fn spoilt(value: &Value) -> Vec<Value> {
        let mut others: Vec<Value> = [
            "null",
            "true",
            "-1",
            "0",
            "0.5",
            "12.0",
            "1e6",
            "1000000.5",
            "1e300",
            "65535",
            "65536",
            "[]",
            "{}",
            r#""""#,
            r#""é""#,
            r#""12 AWG""#,
            r#""5/0 AWG""#,
            r#""2026-02-30""#,
            r#""-1.5""#,
            r#""1.23456""#,
            r#""Aa b""#,
        ]
        .map(|text| serde_json::from_str(text).unwrap())
        .to_vec();
        others.push("a".repeat(131).into());
        others.push("ä".repeat(60).into());
        match value {
            Value::Array(entries) => {
                let first = entries.first().cloned().unwrap_or_default();
                others.extend([21, 101, 201, 1_001].map(|count| Value::from(vec![first.clone(); count])));
            }
            Value::Object(fields) => {
                for name in fields.keys() {
                    let mut fewer = fields.clone();
                    fewer.remove(name);
                    others.push(fewer.into());
                }
                let mut more = fields.clone();
                more.insert("unheard_of".to_owned(), Value::from(1));
                others.push(more.into());
            }
            _ => {}
        }
        others
    }

    #[test]
    fn what_certainly_fits_has_no_fault_by_the_full_validator() {
        let mut certain = 0;
        for example in examples() {
            let mut found = Vec::new();
            places(&example, String::new(), &mut found);
            for place in found {
                for other in spoilt(example.pointer(&place).unwrap()) {
                    let mut body = example.clone();
                    *body.pointer_mut(&place).unwrap() = other;
                    if certainly_fits("QuoteRequest", body.to_string().as_bytes(), LIST_MAX) {
                        certain += 1;
                        assert!(
                            faults::findings("QuoteRequest", &body).is_empty(),
                            "{place}: {}",
                            body.pointer(&place).unwrap()
                        );
                    }
                }
            }
        }
        assert!(certain > 100, "a look that is certain of nothing would prove nothing: {certain}");
    }

    #[test]
    fn every_example_certainly_fits() {
        let texts = [
            ("QuoteRequest", include_str!("../../api/examples/bay-boat.json")),
            ("QuoteRequest", include_str!("../../api/examples/gap.json")),
            ("QuoteRequest", include_str!("../../api/examples/re-rig-yellow.json")),
            ("QuoteRequest", include_str!("../../api/examples/trolling-36v.json")),
            ("BoatSpecInput", include_str!("../../tests/bench/thirty_circuits.json")),
        ];
        for (schema, text) in texts {
            assert!(certainly_fits(schema, text.as_bytes(), LIST_MAX), "{schema}: {text}");
        }
    }

    #[test]
    fn what_a_tree_of_values_hides_is_not_certain() {
        let twice =
            include_str!("../../api/examples/bay-boat.json").replacen("\"spec\"", "\"customer\": \"A\", \"spec\"", 1);
        assert!(!certainly_fits("QuoteRequest", twice.as_bytes(), LIST_MAX), "a field that stands twice");
        let more = format!("{} {{}}", include_str!("../../api/examples/bay-boat.json"));
        assert!(!certainly_fits("QuoteRequest", more.as_bytes(), LIST_MAX), "something behind the body");
        assert!(!certainly_fits("QuoteRequest", &[b'['; 5_000], LIST_MAX), "too deep");
        assert!(!certainly_fits("NoSuchBody", b"{}", LIST_MAX));
    }
}
