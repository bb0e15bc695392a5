//! Versions: `ETag` on what can be edited, `If-Match` on what edits it, `If-None-Match` on what reads it (RFC 9110,
//! sections 8.8 and 13).
//!
//! Tags are strong. A compressed answer is another representation than a plain one and has a tag of its own (RFC 9110,
//! section 8.8.3.3): `"v3"` plain is `"v3.gzip"` compressed, and either names version 3.

use std::future::{Ready, ready};

use actix_web::body::MessageBody;
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::http::StatusCode;
use actix_web::http::header::{CONTENT_ENCODING, ETAG, HeaderName, HeaderValue, IF_MATCH, IF_NONE_MATCH, VARY};
use actix_web::middleware::Next;
use actix_web::{Error, FromRequest, HttpRequest, HttpResponse};
use base64::Engine;
use serde::Serialize;
use sha2::{Digest, Sha256};
use utoipa::IntoParams;

use super::problem::{Kind, Problem};
use crate::service::{Seen, Stored};

/// The codings in which answers are sent, apart from plain.
const CODINGS: [&str; 2] = ["gzip", "deflate"];

/// The tag of a row version.
pub fn tag(version: i64) -> String {
    format!("\"v{version}\"")
}

/// The versions that the client saw, from `If-Match`: one as a rule, more in a list, any with `*`.
///
/// The comparison is strong: a weak tag matches nothing, and neither does one that was never given out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IfMatch(pub Seen);

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
    /// The ETag of the answer that was last read, exactly as it was given: the change is refused when someone else was
    /// faster. A list of ETags is possible too, and `*` for whichever version stands there now.
    #[param(rename = "If-Match", pattern = r#"^(\*|"v[0-9]{1,18}(\.[a-z]{1,8})?")$"#, example = "\"v1\"")]
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
    if request.headers().contains_key(IF_NONE_MATCH) {
        let detail = "If-None-Match asks for nothing that a change can do; send If-Match alone.";
        return Err(Problem::new(Kind::BadHeader, detail));
    }
    let Some(list) = header(request, &IF_MATCH) else {
        let detail = "The If-Match header is missing; send the ETag of the answer that you last read.";
        return Err(Problem::new(Kind::VersionNeeded, detail));
    };
    match tags(&list) {
        Some(Tags::Any) => Ok(IfMatch(Seen::Any)),
        Some(Tags::These(tags)) => Ok(IfMatch(Seen::These(tags.into_iter().filter_map(version).collect()))),
        None => {
            let detail = "If-Match is no ETag; send one as it was given, such as \"v3\" with its quotes.";
            Err(Problem::new(Kind::BadHeader, detail))
        }
    }
}

/// All lines of a header as one list.
fn header(request: &HttpRequest, name: &HeaderName) -> Option<Vec<u8>> {
    let mut lines = request.headers().get_all(name).map(HeaderValue::as_bytes).peekable();
    lines.peek()?;
    Some(lines.collect::<Vec<_>>().join(&b','))
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Tag<'a> {
    weak: bool,
    opaque: &'a [u8],
}

#[derive(Debug, PartialEq, Eq)]
enum Tags<'a> {
    Any,
    These(Vec<Tag<'a>>),
}

/// A list of entity tags, or `*`, by the grammar of RFC 9110 (sections 8.8.3 and 5.6.1).
fn tags(list: &[u8]) -> Option<Tags<'_>> {
    if list.trim_ascii() == b"*" {
        return Some(Tags::Any);
    }
    let mut found = Vec::new();
    let mut rest = list;
    loop {
        rest = rest.trim_ascii_start();
        rest = match rest {
            [] => break,
            [b',', after @ ..] => {
                rest = after;
                continue;
            }
            other => other,
        };
        let after = rest.strip_prefix(b"W/");
        let weak = after.is_some();
        let inner = after.unwrap_or(rest).strip_prefix(b"\"")?;
        let end = inner.iter().position(|&byte| byte == b'"')?;
        let (opaque, after) = (&inner[..end], &inner[end + 1..]);
        if !opaque.iter().all(|&byte| byte == 0x21 || (0x23..=0x7e).contains(&byte) || byte >= 0x80) {
            return None;
        }
        found.push(Tag { weak, opaque });
        rest = after.trim_ascii_start();
        if !(rest.is_empty() || rest.starts_with(b",")) {
            return None;
        }
    }
    (!found.is_empty()).then_some(Tags::These(found))
}

/// A tag without the coding of a compressed answer.
fn plain(opaque: &[u8]) -> &[u8] {
    let coding = CODINGS.iter().find_map(|coding| opaque.strip_suffix(coding.as_bytes())?.strip_suffix(b"."));
    coding.unwrap_or(opaque)
}

/// The version that a strong tag names.
fn version(tag: Tag<'_>) -> Option<i64> {
    let text = std::str::from_utf8(plain(tag.opaque)).ok()?;
    let version: i64 = text.strip_prefix('v')?.parse().ok()?;
    // Tags are compared by their bytes: `v03` is not `v3`.
    (!tag.weak && text == format!("v{version}")).then_some(version)
}

/// The tag by which the client has this already, as the client knows it (`If-None-Match`, weak comparison).
fn had(request: &HttpRequest, tag: &str) -> Option<String> {
    let list = header(request, &IF_NONE_MATCH)?;
    match tags(&list)? {
        Tags::Any => Some(tag.to_owned()),
        Tags::These(tags) => {
            let opaque = tag.trim_matches('"').as_bytes();
            let found = tags.iter().find(|one| plain(one.opaque) == opaque)?;
            Some(format!("\"{}\"", String::from_utf8_lossy(found.opaque)))
        }
    }
}

/// Gives a compressed answer a tag of its own, and says below `/v1/` what an answer depends on besides the address.
pub async fn by_coding<B: MessageBody>(request: ServiceRequest, next: Next<B>) -> Result<ServiceResponse<B>, Error> {
    // The path as routing reads it, with no letter escaped.
    let versioned = request.match_info().as_str().starts_with("/v1");
    let mut response = next.call(request).await?;
    let headers = response.headers_mut();
    let coding = headers.get(CONTENT_ENCODING).and_then(|value| value.to_str().ok()).map(str::to_owned);
    let tag = headers.get(ETAG).and_then(|value| value.to_str().ok()?.strip_suffix('"').map(str::to_owned));
    if let (Some(coding), Some(tag)) = (coding, tag)
        && CODINGS.contains(&coding.as_str())
        && let Ok(tag) = format!("{tag}.{coding}\"").parse()
    {
        headers.insert(ETAG, tag);
    }
    if versioned {
        headers.append(VARY, HeaderValue::from_static("Accept, Authorization"));
    }
    Ok(response)
}

/// Answers a read: 304 when the client has it already.
pub fn read<T: Serialize>(request: &HttpRequest, stored: &Stored<T>) -> HttpResponse {
    match had(request, &tag(stored.version)) {
        Some(tag) => not_modified(&tag),
        None => written(StatusCode::OK, stored),
    }
}

/// Answers a change with what stands now.
pub fn written<T: Serialize>(status: StatusCode, stored: &Stored<T>) -> HttpResponse {
    HttpResponse::build(status).insert_header((ETAG, tag(stored.version))).json(&stored.value)
}

/// Answers with a document that never changes, by its hash.
pub fn document(request: &HttpRequest, hash: &str, bytes: Vec<u8>) -> HttpResponse {
    let tag = format!("\"{hash}\"");
    match had(request, &tag) {
        Some(tag) => not_modified(&tag),
        None => HttpResponse::Ok().insert_header((ETAG, tag)).content_type("application/json").body(bytes),
    }
}

/// Answers with what follows from the request alone, by the hash of its bytes.
pub fn bytes(request: &HttpRequest, bytes: Vec<u8>, media_type: &str) -> HttpResponse {
    let hash = Sha256::digest(&bytes);
    let tag = format!("\"{}\"", base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(&hash[..18]));
    match had(request, &tag) {
        Some(tag) => not_modified(&tag),
        None => HttpResponse::Ok().insert_header((ETAG, tag)).content_type(media_type).body(bytes),
    }
}

/// The same with JSON.
pub fn json<T: Serialize>(request: &HttpRequest, value: &T) -> HttpResponse {
    bytes(request, serde_json::to_vec(value).expect("an answer is plain values"), "application/json")
}

fn not_modified(tag: &str) -> HttpResponse {
    HttpResponse::NotModified().insert_header((ETAG, tag)).finish()
}

#[cfg(test)]
mod tests {
    use actix_web::test::TestRequest;

    use super::*;

    fn met(lines: &[&str]) -> Result<Seen, Kind> {
        let mut request = TestRequest::default();
        for line in lines {
            request = request.append_header((IF_MATCH, HeaderValue::from_bytes(line.as_bytes()).unwrap()));
        }
        if_match(&request.to_http_request()).map(|IfMatch(seen)| seen).map_err(|problem| problem.kind())
    }

    #[test]
    fn if_match_is_read_by_the_grammar_and_compared_strongly() {
        // RFC 9110, sections 8.8.3 (grammar), 8.8.3.2 (strong comparison), 13.1.1 (If-Match) and 5.6.1 (lists).
        let these = |versions: &[i64]| Ok(Seen::These(versions.to_vec()));
        for (lines, expected) in [
            (&["\"v3\""][..], these(&[3])),
            (&["\"v3.gzip\""], these(&[3])),
            (&["\"v1\", \"v2\""], these(&[1, 2])),
            (&["\"v1\",,\"v2\" ,"], these(&[1, 2])),
            (&["\"v1\"", "\"v2\""], these(&[1, 2])),
            (&["W/\"v3\""], these(&[])),
            (&["W/\"v3\", \"v4\""], these(&[4])),
            (&["\"abc\""], these(&[])),
            (&["\"a,b\", \"v5\""], these(&[5])),
            (&["\"v03\""], these(&[])),
            (&["\"v+3\""], these(&[])),
            (&["\"v3.brotli\""], these(&[])),
            (&["\"\""], these(&[])),
            (&["\"\u{e9}\""], these(&[])),
            (&["*"], Ok(Seen::Any)),
            (&[], Err(Kind::VersionNeeded)),
            (&[""], Err(Kind::BadHeader)),
            (&[","], Err(Kind::BadHeader)),
            (&["v3"], Err(Kind::BadHeader)),
            (&["w/\"v3\""], Err(Kind::BadHeader)),
            (&["\"v 3\""], Err(Kind::BadHeader)),
            (&["\"v3"], Err(Kind::BadHeader)),
            (&["\"v1\" \"v2\""], Err(Kind::BadHeader)),
            (&["*, \"v3\""], Err(Kind::BadHeader)),
        ] {
            assert_eq!(met(lines), expected, "{lines:?}");
        }
    }

    #[test]
    fn if_none_match_is_compared_weakly_and_answered_with_the_tag_that_the_client_has() {
        // RFC 9110, sections 8.8.3.2 (weak comparison) and 13.1.2.
        let had_by = |line: &str| {
            let request = TestRequest::default().insert_header((IF_NONE_MATCH, line)).to_http_request();
            had(&request, "\"v2\"")
        };
        for (line, expected) in [
            ("\"v1\", W/\"v2\"", Some("\"v2\"")),
            ("\"v2.gzip\"", Some("\"v2.gzip\"")),
            ("*", Some("\"v2\"")),
            ("\"v3\"", None),
            ("\"a, \"v2\"", None),
            ("v2", None),
        ] {
            assert_eq!(had_by(line).as_deref(), expected, "{line}");
        }
    }
}
