//! Request bodies: read within bounds of size and time, parsed, and checked against the service's own description, so
//! that an answer lists all faults at once and what the description says holds.

use std::future::Future;
use std::pin::Pin;
use std::time::Duration;

use actix_web::dev::Payload;
use actix_web::http::header::{CONTENT_ENCODING, CONTENT_LENGTH, CONTENT_TYPE};
use actix_web::web::Data;
use actix_web::{FromRequest, HttpRequest};
use bytes::{Bytes, BytesMut};
use futures_util::StreamExt;
use serde::de::DeserializeOwned;
use serde_json::Value;
use utoipa::ToSchema;

use super::faults::{self, Finding};
use super::problem::{Kind, Problem};
use super::quick;
use crate::calc::findings::Fault;
use crate::service::Service;

/// Deepest nesting of a body; the deepest of ours needs eight levels.
const DEPTH_MAX: usize = 32;
/// Longest list that is looked at; the longest that any body may hold is shorter.
const LIST_MAX: usize = 1_000;
/// How far beyond its limit a body is read and thrown away, so that the client hears the answer.
const DRAIN_FACTOR: usize = 8;

/// Bounds on request bodies.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Largest JSON body, bytes.
    pub body_bytes: usize,
    /// Time in which a JSON body must arrive.
    pub body_time: Duration,
    /// Largest import, bytes.
    pub import_bytes: usize,
    /// Longest pause within an import.
    pub import_pause: Duration,
}

/// What can be a JSON body.
pub trait RequestBody: DeserializeOwned + ToSchema + 'static {
    /// Faults that only the service can see. They join those of the description when a body has both.
    fn more_faults(self, service: &Service) -> impl Future<Output = Vec<Fault>> {
        let _ = service;
        async { Vec::new() }
    }
}

/// A JSON body that fits its description.
pub struct Body<T>(pub T);

impl<T: RequestBody> FromRequest for Body<T> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            let bytes = arrived(&request, payload).await?;
            let service = request.app_data::<Data<Service>>().expect("the app sets its service");
            Ok(Body(parsed(service, &bytes).await?))
        })
    }
}

/// The bytes of a JSON body, within the bounds of the settings.
pub async fn arrived(request: &HttpRequest, payload: Payload) -> Result<Bytes, Problem> {
    let most = limits(request).body_bytes;
    arrived_as(request, payload, "application/json", most).await
}

/// The bytes of a body of a media type, no more than `most` of them, within the time of the settings.
pub async fn arrived_as(
    request: &HttpRequest,
    payload: Payload,
    media_type: &str,
    most: usize,
) -> Result<Bytes, Problem> {
    must_be(request, media_type)?;
    let time = limits(request).body_time;
    tokio::time::timeout(time, read(request, payload, most)).await.unwrap_or_else(|_| {
        let seconds = time.as_secs();
        Err(Problem::new(Kind::TooSlow, format!("The body had not arrived whole within {seconds} s.")))
    })
}

fn limits(request: &HttpRequest) -> Limits {
    ***request.app_data::<Data<Limits>>().expect("the app sets its limits")
}

/// A body that fits its description, or all its faults.
pub async fn parsed<T: RequestBody>(service: &Service, bytes: &[u8]) -> Result<T, Problem> {
    match parse::<T>(bytes) {
        Ok(value) => Ok(value),
        Err(Refused::Problem(problem)) => Err(problem),
        Err(Refused::Findings { findings, salvaged }) => {
            let more = match salvaged {
                Some(value) => T::more_faults(*value, service).await,
                None => Vec::new(),
            };
            Err(Problem::faults(faults::joined(findings, more)))
        }
    }
}

/// Refuses a body of another content type, or a compressed one.
pub fn must_be(request: &HttpRequest, expected: &str) -> Result<(), Problem> {
    let header = |name| request.headers().get(name).and_then(|value| value.to_str().ok()).unwrap_or_default();
    if !["", "identity"].contains(&header(CONTENT_ENCODING)) {
        let detail = format!("The body is compressed ({}); send it plain.", header(CONTENT_ENCODING));
        return Err(Problem::new(Kind::WrongContentType, detail));
    }
    let mut parts = header(CONTENT_TYPE).split(';').map(str::trim);
    let met = parts.next().unwrap_or_default();
    if !met.eq_ignore_ascii_case(expected) {
        let met = if met.is_empty() { "none".to_owned() } else { format!("'{met}'") };
        let detail = format!("The Content-Type is {met}; this address takes {expected}.");
        return Err(Problem::new(Kind::WrongContentType, detail));
    }
    // A charset that is named and is not UTF-8 is refused here when it is JSON; a CSV is looked at by its bytes.
    let charset = parts.find_map(|part| part.to_ascii_lowercase().strip_prefix("charset=").map(str::to_owned));
    match charset.as_deref().map(|name| name.trim_matches('"')) {
        None | Some("utf-8" | "utf8" | "us-ascii") => Ok(()),
        Some(other) => {
            let detail = format!("The Content-Type names the character set '{other}'; send UTF-8.");
            Err(Problem::new(Kind::WrongContentType, detail))
        }
    }
}

/// Reads a body of at most `limit` bytes. A larger one is read on for a while and thrown away: a client that is still
/// sending does not hear the answer.
async fn read(request: &HttpRequest, mut payload: Payload, limit: usize) -> Result<Bytes, Problem> {
    let too_large = || too_large(limit);
    let announced = request.headers().get(CONTENT_LENGTH).and_then(|v| v.to_str().ok()?.parse::<usize>().ok());
    if announced.is_some_and(|bytes| bytes > limit.saturating_mul(DRAIN_FACTOR)) {
        return Err(too_large());
    }
    let mut body = BytesMut::with_capacity(announced.unwrap_or(0).min(limit));
    let mut arrived = 0usize;
    while let Some(chunk) = payload.next().await {
        let chunk = chunk.map_err(|error| Problem::new(Kind::BadRequest, format!("The body broke off: {error}.")))?;
        arrived += chunk.len();
        if arrived <= limit {
            body.extend_from_slice(&chunk);
        } else if arrived > limit.saturating_mul(DRAIN_FACTOR) {
            return Err(too_large());
        }
    }
    if arrived > limit { Err(too_large()) } else { Ok(body.freeze()) }
}

/// The problem of a body beyond a limit in bytes.
pub fn too_large(limit: usize) -> Problem {
    Problem::new(Kind::TooLarge, format!("The body is larger than the {limit} bytes that this address takes."))
}

/// Why a body was refused.
enum Refused<T> {
    /// It cannot be looked at.
    Problem(Problem),
    /// It does not fit its description. What remains without the misfits, when that makes a whole, is there too.
    Findings { findings: Vec<Finding>, salvaged: Option<Box<T>> },
}

fn parse<T: RequestBody>(bytes: &[u8]) -> Result<T, Refused<T>> {
    let typed = match serde_json::from_slice::<T>(bytes) {
        // Nothing that is too deep or too long is certain to fit.
        Ok(typed) if quick::certainly_fits(&T::name(), bytes, LIST_MAX) => return Ok(typed),
        other => other,
    };
    if depth(bytes) > DEPTH_MAX {
        let detail = format!("The body is nested deeper than {DEPTH_MAX} levels.");
        return Err(Refused::Problem(Problem::new(Kind::TooDeep, detail)));
    }
    let mut value: Value =
        serde_json::from_slice(bytes).map_err(|error| Refused::Problem(malformed(&error, bytes.is_empty())))?;
    let schema = T::name();
    let findings = match overlong(&value, String::new()) {
        Some(finding) => vec![finding],
        None => faults::findings(&schema, &value),
    };
    match typed {
        Ok(typed) if findings.is_empty() => Ok(typed),
        Ok(typed) => Err(Refused::Findings { findings, salvaged: Some(Box::new(typed)) }),
        Err(error) if findings.is_empty() => {
            // JSON Schema counts 12.0 as whole, serde does not.
            whole_numbers(&mut value);
            match T::deserialize(&value) {
                Ok(typed) if !error.to_string().contains("duplicate field") => Ok(typed),
                _ => Err(Refused::Problem(malformed(&error, false))),
            }
        }
        Err(_) => {
            faults::prune(&mut value, &findings);
            whole_numbers(&mut value);
            let salvaged = T::deserialize(&value).ok().map(Box::new);
            Err(Refused::Findings { findings, salvaged })
        }
    }
}

fn malformed(error: &serde_json::Error, empty: bool) -> Problem {
    let detail = if empty {
        "The body is empty.".to_owned()
    } else {
        let mut text = error.to_string();
        if let Some(at) = text.rfind(" at line ") {
            text.truncate(at);
        }
        format!("Line {}, column {}: {text}.", error.line(), error.column())
    };
    Problem::new(Kind::MalformedJson, detail)
}

/// Deepest nesting of brackets outside of texts.
fn depth(bytes: &[u8]) -> usize {
    let (mut depth, mut deepest, mut in_text, mut escaped) = (0usize, 0usize, false, false);
    for &byte in bytes {
        match byte {
            _ if escaped => escaped = false,
            b'\\' if in_text => escaped = true,
            b'"' => in_text = !in_text,
            b'[' | b'{' if !in_text => {
                depth += 1;
                deepest = deepest.max(depth);
            }
            b']' | b'}' if !in_text => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    deepest
}

/// The first list that is longer than any body needs. Beyond it nothing is looked at: a hostile list would have a
/// fault for every entry.
fn overlong(value: &Value, pointer: String) -> Option<Finding> {
    match value {
        Value::Array(entries) if entries.len() > LIST_MAX => Some(Finding::at(
            pointer,
            format!("This list has {} entries; no list here may have more than {LIST_MAX}.", entries.len()),
        )),
        Value::Array(entries) => {
            entries.iter().enumerate().find_map(|(place, entry)| overlong(entry, format!("{pointer}/{place}")))
        }
        Value::Object(fields) => fields.iter().find_map(|(name, field)| {
            overlong(field, format!("{pointer}/{}", crate::calc::findings::pointer_segment(name)))
        }),
        _ => None,
    }
}

/// Writes each float without a fraction as a whole number.
fn whole_numbers(value: &mut Value) {
    match value {
        Value::Array(entries) => entries.iter_mut().for_each(whole_numbers),
        Value::Object(fields) => fields.values_mut().for_each(whole_numbers),
        Value::Number(number) if number.is_f64() => {
            let float = number.as_f64().unwrap_or(f64::NAN);
            // Up to 2^53 a float holds each whole number exactly.
            if float.fract() == 0.0 && float.abs() <= 9_007_199_254_740_992.0 {
                *value = Value::from(float as i64);
            }
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn depth_counts_brackets_outside_of_texts() {
        assert_eq!(depth(br#"{"a":[1,{"b":"]]]{{\"[["}]}"#), 3);
        assert_eq!(depth(&[b'['; 100]), 100);
        assert_eq!(depth(b"]]]]["), 1);
    }

    #[test]
    fn floats_without_a_fraction_become_whole_numbers() {
        let mut value = serde_json::json!({"a": 12.0, "b": [0.5, 1e300], "c": "1.0"});
        whole_numbers(&mut value);
        assert_eq!(value.to_string(), r#"{"a":12,"b":[0.5,1e+300],"c":"1.0"}"#);
    }
}
