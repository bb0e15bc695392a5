//! Versions: `ETag` on what can be edited, `If-Match` on what edits it, `If-None-Match` on what reads it.

use std::future::{Ready, ready};

use actix_web::dev::Payload;
use actix_web::http::StatusCode;
use actix_web::http::header::{ETAG, HeaderName, IF_MATCH, IF_NONE_MATCH, VARY};
use actix_web::{FromRequest, HttpRequest, HttpResponse};
use serde::Serialize;
use utoipa::IntoParams;

use super::problem::{Kind, Problem};
use crate::service::Stored;

/// The tag of a row version.
pub fn tag(version: i64) -> String {
    format!("\"v{version}\"")
}

/// The version that the client saw, from `If-Match`.
///
/// Exactly one version is taken: `*` would overwrite what nobody has seen. A tag that a proxy weakened when it
/// compressed the answer (`W/"v3"`) still names its version.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct IfMatch(pub i64);

impl FromRequest for IfMatch {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(if_match(request))
    }
}

/// The header that a change needs, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "only describes what `IfMatch` reads")]
pub struct IfMatchHeader {
    /// The ETag of the answer that was last read: the change is refused when someone else was faster.
    #[param(rename = "If-Match", pattern = r#"^(W/)?"v[0-9]{1,18}"$"#, example = "\"v1\"")]
    if_match: String,
}

/// The header that saves a client what it has already, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "only describes what `read` and `document` look at")]
pub struct IfNoneMatchHeader {
    /// ETags that the client has: the answer is 304 when one of them still holds.
    #[param(rename = "If-None-Match", example = "\"v1\"")]
    if_none_match: Option<String>,
}

fn if_match(request: &HttpRequest) -> Result<IfMatch, Problem> {
    let Some(text) = header(request, &IF_MATCH) else {
        let detail = "The If-Match header is missing; send the ETag of the answer that you last read.";
        return Err(Problem::new(Kind::VersionNeeded, detail));
    };
    match text.trim() {
        "*" => {
            let detail = "If-Match is '*'; send the ETag of the answer that you last read.";
            Err(Problem::new(Kind::VersionNeeded, detail))
        }
        one => match version(one) {
            Some(version) => Ok(IfMatch(version)),
            // A well-formed tag that was never given out matches no version.
            None if is_tag(one) => {
                Err(Problem::new(Kind::Stale, format!("If-Match names {one}, which is no version of this.")))
            }
            None => {
                let detail = "If-Match is no ETag; send one as it was given, such as \"v3\" with its quotes.";
                Err(Problem::new(Kind::BadHeader, detail))
            }
        },
    }
}

fn header<'a>(request: &'a HttpRequest, name: &HeaderName) -> Option<&'a str> {
    // Bytes that are no text are no tag either.
    request.headers().get(name).map(|value| value.to_str().unwrap_or("?"))
}

fn version(tag: &str) -> Option<i64> {
    tag.strip_prefix("W/").unwrap_or(tag).strip_prefix("\"v")?.strip_suffix('"')?.parse().ok()
}

fn is_tag(text: &str) -> bool {
    let opaque = text.strip_prefix("W/").unwrap_or(text);
    opaque.len() >= 2 && opaque.starts_with('"') && opaque.ends_with('"') && !opaque[1..opaque.len() - 1].contains('"')
}

/// Whether the client has this tag already (`If-None-Match`, weak comparison).
fn has(request: &HttpRequest, tag: &str) -> bool {
    header(request, &IF_NONE_MATCH).is_some_and(|tags| {
        tags.split(',').map(|one| one.trim()).any(|one| one == "*" || one.strip_prefix("W/").unwrap_or(one) == tag)
    })
}

/// Answers a read: 304 when the client has it already.
pub fn read<T: Serialize>(request: &HttpRequest, stored: &Stored<T>) -> HttpResponse {
    let tag = tag(stored.version);
    if has(request, &tag) { not_modified(&tag) } else { written(StatusCode::OK, stored) }
}

/// Answers a change with what stands now.
pub fn written<T: Serialize>(status: StatusCode, stored: &Stored<T>) -> HttpResponse {
    HttpResponse::build(status)
        .insert_header((ETAG, tag(stored.version)))
        .insert_header((VARY, "Accept"))
        .json(&stored.value)
}

/// Answers with a document that never changes, by its hash.
pub fn document(request: &HttpRequest, hash: &str, bytes: Vec<u8>) -> HttpResponse {
    let tag = format!("\"{hash}\"");
    if has(request, &tag) {
        return not_modified(&tag);
    }
    HttpResponse::Ok()
        .insert_header((ETAG, tag))
        .insert_header((VARY, "Accept"))
        .content_type("application/json")
        .body(bytes)
}

fn not_modified(tag: &str) -> HttpResponse {
    HttpResponse::NotModified().insert_header((ETAG, tag)).insert_header((VARY, "Accept")).finish()
}

#[cfg(test)]
mod tests {
    use actix_web::test::TestRequest;

    use super::*;

    fn met(value: &str) -> Result<i64, Kind> {
        let request = TestRequest::default().insert_header((IF_MATCH, value)).to_http_request();
        if_match(&request).map(|IfMatch(version)| version).map_err(|problem| problem.kind())
    }

    #[test]
    fn one_version_is_taken_and_anything_else_says_why_not() {
        assert_eq!(met("\"v3\""), Ok(3));
        assert_eq!(met("W/\"v3\""), Ok(3));
        assert_eq!(met("*"), Err(Kind::VersionNeeded));
        assert_eq!(met("\"abc\""), Err(Kind::Stale));
        assert_eq!(met("v3"), Err(Kind::BadHeader));
        assert_eq!(met("\"v1\", \"v2\""), Err(Kind::BadHeader));
        let none = TestRequest::default().to_http_request();
        assert_eq!(if_match(&none).unwrap_err().kind(), Kind::VersionNeeded);
    }

    #[test]
    fn if_none_match_is_a_list() {
        let request = TestRequest::default().insert_header((IF_NONE_MATCH, "\"v1\", W/\"v2\"")).to_http_request();
        assert!(has(&request, "\"v2\""));
        assert!(!has(&request, "\"v3\""));
    }
}
