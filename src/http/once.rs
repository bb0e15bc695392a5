//! `Idempotency-Key`: a creating request that is sent again with the same key gets the same answer, and nothing is
//! made twice (draft-ietf-httpapi-idempotency-key-header).

use std::future::Future;
use std::marker::PhantomData;
use std::pin::Pin;

use actix_web::dev::Payload;
use actix_web::http::StatusCode;
use actix_web::http::header::{CACHE_CONTROL, ETAG, HeaderName, HeaderValue, LOCATION};
use actix_web::{FromRequest, HttpMessage, HttpRequest, HttpResponse};
use bytes::Bytes;
use serde::Serialize;
use utoipa::IntoParams;
use uuid::Uuid;

use super::body::{self, RequestBody};
use super::etag;
use super::problem::{Kind, Problem};
use crate::service::access::Principal;
use crate::service::once::{Answer, Claim, Made, Once, OpenClaim};
use crate::service::{self, Service, Stored};

/// The header with the client's key.
pub const IDEMPOTENCY_KEY: HeaderName = HeaderName::from_static("idempotency-key");
/// The header that tells an answer that is given again from a new one.
pub const IDEMPOTENT_REPLAY: HeaderName = HeaderName::from_static("idempotent-replay");
/// Longest key, characters.
const KEY_LENGTH_MAX: usize = 255;

/// The header that makes a creating request safe to send again, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "only describes what `open_claim` reads")]
pub struct IdempotencyKeyHeader {
    /// A text of your own choice, new for everything that is to be made: 1 to 255 visible ASCII characters, in quotes
    /// or without. When the same request comes with it again within 24 hours, nothing is made a second time: the first
    /// answer is given again with its status, Location, ETag and body, and with `Idempotent-Replay: true`. Only success
    /// is kept: after a refusal the key can be used again. Keys are your own: nobody else's can be met.
    #[param(
        rename = "Idempotency-Key",
        pattern = r##"^("([!#-\[\]-~]|\\["\\]){1,255}"|[!#-~][!-~]{0,254})$"##,
        example = "\"0f8fad5b-d9cb-469f-a165-70867728950e\""
    )]
    idempotency_key: Option<String>,
}

/// In whose name a request comes, as far as keys go: the same text is another key in another's hands.
fn principal(request: &HttpRequest) -> Uuid {
    request.extensions().get::<Principal>().map_or(Uuid::nil(), |principal| principal.key)
}

/// The claim of a request that has a key; its body is still to come.
pub fn open_claim(request: &HttpRequest) -> Result<Option<OpenClaim>, Problem> {
    let mut values = request.headers().get_all(IDEMPOTENCY_KEY);
    let Some(value) = values.next() else { return Ok(None) };
    if values.next().is_some() {
        return Err(Problem::new(Kind::BadHeader, "Idempotency-Key stands there more than once; give it once."));
    }
    let Some(key) = key(value.as_bytes()) else {
        let detail = "Idempotency-Key is no key: expected 1 to 255 visible ASCII characters, without spaces, in quotes \
                      or without.";
        return Err(Problem::new(Kind::BadHeader, detail));
    };
    let target = request.uri().path_and_query().map_or(request.path(), |target| target.as_str());
    Ok(Some(OpenClaim::new(principal(request), key, request.method().as_str(), target)))
}

/// The text of a key: a string of RFC 9651 (in quotes, `\"` and `\\` escaped), or the bare text.
fn key(value: &[u8]) -> Option<String> {
    let value = value.trim_ascii();
    let text = match value.strip_prefix(b"\"") {
        Some(quoted) => unquoted(quoted.strip_suffix(b"\"")?)?,
        None => value.to_vec(),
    };
    let text = String::from_utf8(text).ok()?;
    let visible = text.bytes().all(|byte| byte.is_ascii_graphic());
    (visible && (1..=KEY_LENGTH_MAX).contains(&text.len())).then_some(text)
}

fn unquoted(text: &[u8]) -> Option<Vec<u8>> {
    let mut plain = Vec::with_capacity(text.len());
    let mut bytes = text.iter();
    while let Some(&byte) = bytes.next() {
        plain.push(match byte {
            b'\\' => *bytes.next().filter(|escaped| [b'\\', b'"'].contains(escaped))?,
            b'"' => return None,
            other => other,
        });
    }
    Some(plain)
}

/// The answer to what was created: the thing as it stands, its address and its version.
pub fn created<T: Serialize>(stored: &Stored<T>, address: &str) -> Answer {
    let etag = Some(etag::tag(stored.version));
    Answer { etag, ..made(&stored.value, address) }
}

/// The answer to a thing that was moved on: the thing as it stands, and its version.
pub fn moved<T: Serialize>(stored: &Stored<T>) -> Answer {
    let etag = Some(etag::tag(stored.version));
    Answer { status: StatusCode::OK.as_u16(), location: None, etag, ..made(&stored.value, "") }
}

/// The answer to what was made and has no versions: the thing and its address.
pub fn made<T: Serialize>(value: &T, address: &str) -> Answer {
    Answer {
        status: StatusCode::CREATED.as_u16(),
        location: Some(address.to_owned()),
        etag: None,
        content_type: "application/json".to_owned(),
        body: serde_json::to_vec(value).expect("an answer is plain values"),
        shows_secret: false,
    }
}

/// Nothing on the way keeps an answer that holds a secret.
pub fn not_kept(mut response: HttpResponse) -> HttpResponse {
    response.headers_mut().insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

/// Answers with what was made now, or again with what was answered before.
pub fn respond<T>(made: Made<T>, answer: impl Fn(&T) -> Answer) -> Result<HttpResponse, Problem> {
    match made {
        Made::Now(value) => response(answer(&value)),
        Made::Before(answer) => replay(answer),
    }
}

fn replay(answer: Answer) -> Result<HttpResponse, Problem> {
    let mut response = response(answer)?;
    response.headers_mut().insert(IDEMPOTENT_REPLAY, HeaderValue::from_static("true"));
    Ok(response)
}

fn response(answer: Answer) -> Result<HttpResponse, Problem> {
    let Answer { status, location, etag, content_type, body, shows_secret } = answer;
    let mut response = HttpResponse::build(StatusCode::from_u16(status).map_err(Problem::internal)?);
    for (name, value) in [(LOCATION, location), (ETAG, etag)] {
        if let Some(value) = value {
            response.insert_header((name, value));
        }
    }
    let response = response.content_type(content_type).body(body);
    Ok(if shows_secret { not_kept(response) } else { response })
}

/// A JSON body that asks for something to be created, as it arrived, with its claim if it has a key.
pub struct Creation<T> {
    bytes: Bytes,
    claim: Option<Claim>,
    asked: PhantomData<T>,
}

impl<T: RequestBody> FromRequest for Creation<T> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            let open = open_claim(&request)?;
            let bytes = body::arrived(&request, payload).await?;
            let claim = open.map(|mut open| {
                open.feed(&bytes);
                open.close()
            });
            Ok(Creation { bytes, claim, asked: PhantomData })
        })
    }
}

impl<T: RequestBody> Creation<T> {
    /// Does the work once, and answers: what was answered before comes first, before the body is looked at.
    pub async fn once<R: Sync>(
        self,
        service: &Service,
        work: impl AsyncFnOnce(T, Once<'_, R>) -> Result<Made<R>, service::Error>,
        answer: impl Fn(&R) -> Answer + Sync,
    ) -> Result<HttpResponse, Problem> {
        self.once_showing(service, work, &answer, &answer).await
    }

    /// The same where the first answer shows more than is kept of it: a secret that a repeat is not told again.
    pub async fn once_showing<R: Sync>(
        self,
        service: &Service,
        work: impl AsyncFnOnce(T, Once<'_, R>) -> Result<Made<R>, service::Error>,
        kept: impl Fn(&R) -> Answer + Sync,
        shown: impl Fn(&R) -> Answer,
    ) -> Result<HttpResponse, Problem> {
        if let Some(claim) = &self.claim
            && let Some(answer) = service.answered(claim).await?
        {
            return replay(answer);
        }
        let body = body::parsed(service, &self.bytes).await?;
        let made = work(body, Once::by(self.claim.as_ref(), &kept)).await?;
        respond(made, shown)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_read_in_quotes_and_without() {
        let long = "k".repeat(255);
        for (met, expected) in [
            ("abc", Some("abc")),
            ("\"abc\"", Some("abc")),
            (" \"abc\" ", Some("abc")),
            (r#""a\"b\\c""#, Some(r#"a"b\c"#)),
            (r"a\b", Some(r"a\b")),
            (&long, Some(&*long)),
            (&format!("\"{long}\""), Some(&*long)),
            (&format!("{long}k"), None),
            ("", None),
            ("\"\"", None),
            ("\"", None),
            ("\"abc", None),
            (r#""abc\""#, None),
            (r#""a\bc""#, None),
            (r#""a"b""#, None),
            ("a b", None),
            ("\"a b\"", None),
            ("a\u{e9}", None),
            ("\u{1}", None),
        ] {
            assert_eq!(key(met.as_bytes()).as_deref(), expected, "{met}");
        }
    }
}
