//! Everything that goes wrong, as RFC 9457 problems: one table of kinds, one type that every extractor and handler
//! answers with.

use std::error::Error as StdError;
use std::fmt;

use actix_web::http::StatusCode;
use actix_web::http::header::{ALLOW, HeaderName, RETRY_AFTER, WWW_AUTHENTICATE};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use utoipa::ToSchema;

use crate::calc::circuits::conductor::NoConductor;
use crate::calc::findings::Fault;
use crate::service;
use crate::service::imports::Import;
use crate::service::readiness::NotReady;
use crate::service::{StoreError, Trouble};

/// Media type of a problem (RFC 9457).
pub const MEDIA_TYPE: &str = "application/problem+json";

/// Most faults that one answer lists; the rest is counted.
const FAULTS_MAX: usize = 200;

/// A kind of problem. Its row in [`Kind::row`] gives address, status, title, cause and mend.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The body is no JSON.
    MalformedJson,
    /// The body is nested deeper than any body of ours.
    TooDeep,
    /// A query parameter is unknown or cannot be read.
    BadQuery,
    /// A cursor is broken or belongs to another list.
    BadCursor,
    /// A header cannot be read.
    BadHeader,
    /// The request itself cannot be read.
    BadRequest,
    /// No key, or none that is valid.
    NoKey,
    /// The key's role may not do this.
    NotYourRole,
    /// Nothing by that name.
    NotFound,
    /// No such address.
    UnknownPath,
    /// The address does not take that method.
    MethodNotAllowed,
    /// No form of the answer that the client accepts.
    NotAcceptable,
    /// The body did not arrive in time.
    TooSlow,
    /// Something by that name is there already.
    AlreadyThere,
    /// Not allowed in the state that the thing is in.
    NotAllowed,
    /// Changed since it was read.
    Stale,
    /// The body is too large.
    TooLarge,
    /// The body is of another type.
    WrongContentType,
    /// The client's key came with another request before.
    KeyReused,
    /// It was done before, and its answer held a secret.
    ShownOnce,
    /// What was sent cannot be read or makes no sense.
    Invalid,
    /// No single conductor meets the question.
    NoConductor,
    /// An import with bad rows.
    ImportRefused,
    /// `If-Match` is missing.
    VersionNeeded,
    /// Too much at once.
    TooMany,
    /// A fault of the service.
    Internal,
    /// The database cannot be reached.
    Unavailable,
}

/// A row of the table of problems.
pub struct Row {
    /// Last part of the problem's address.
    pub slug: &'static str,
    /// HTTP status.
    pub status: StatusCode,
    /// The same on every occurrence.
    pub title: &'static str,
    /// Why it happens.
    pub cause: &'static str,
    /// What to do about it.
    pub mend: &'static str,
}

/// Every kind, for the pages that explain them.
pub const ALL: [Kind; 27] = [
    Kind::MalformedJson,
    Kind::TooDeep,
    Kind::BadQuery,
    Kind::BadCursor,
    Kind::BadHeader,
    Kind::BadRequest,
    Kind::NoKey,
    Kind::NotYourRole,
    Kind::NotFound,
    Kind::UnknownPath,
    Kind::MethodNotAllowed,
    Kind::NotAcceptable,
    Kind::TooSlow,
    Kind::AlreadyThere,
    Kind::NotAllowed,
    Kind::Stale,
    Kind::TooLarge,
    Kind::WrongContentType,
    Kind::KeyReused,
    Kind::ShownOnce,
    Kind::Invalid,
    Kind::NoConductor,
    Kind::ImportRefused,
    Kind::VersionNeeded,
    Kind::TooMany,
    Kind::Internal,
    Kind::Unavailable,
];

impl Kind {
    /// The kind's row in the table of problems.
    pub const fn row(self) -> Row {
        let (slug, status, title, cause, mend) = match self {
            Kind::MalformedJson => (
                "malformed-json",
                StatusCode::BAD_REQUEST,
                "The body is not JSON",
                "The body could not be read as JSON in UTF-8, or a field stands in it twice.",
                "Look at the line and column that the detail names; a comma or a quote is often missing just before it.",
            ),
            Kind::TooDeep => (
                "too-deep",
                StatusCode::BAD_REQUEST,
                "The body is nested too deep",
                "No body of this service needs more than a few levels of lists and objects.",
                "Send the body as its description in /openapi.json has it.",
            ),
            Kind::BadQuery => (
                "bad-query",
                StatusCode::BAD_REQUEST,
                "The query cannot be read",
                "A query parameter is unknown, stands there twice, or has a value that does not fit it.",
                "Correct or leave out the parameters that the errors name.",
            ),
            Kind::BadCursor => (
                "bad-cursor",
                StatusCode::BAD_REQUEST,
                "The cursor does not belong to this list",
                "A cursor holds for the list and the filters that it was given with, and cannot be made up.",
                "Follow the link to the next page as it was given, or start again without a cursor.",
            ),
            Kind::BadHeader => (
                "bad-header",
                StatusCode::BAD_REQUEST,
                "A header cannot be read",
                "A header of the request has a value that does not fit it.",
                "The detail names the header and what it may hold; an ETag is sent exactly as it was given, quotes included.",
            ),
            Kind::BadRequest => (
                "bad-request",
                StatusCode::BAD_REQUEST,
                "The request cannot be read",
                "The request broke off, or is no proper HTTP.",
                "Send it again.",
            ),
            Kind::NoKey => (
                "no-key",
                StatusCode::UNAUTHORIZED,
                "A valid key is needed",
                "The request came without a key, or with one that is unknown, revoked or has ended.",
                "Send a key that is valid, as 'Authorization: Bearer rigbill_…'; whoever has an owner key can make one.",
            ),
            Kind::NotYourRole => (
                "not-your-role",
                StatusCode::FORBIDDEN,
                "The key is not for this",
                "The key is valid, but its role may not do this.",
                "Use a key of one of the roles that /openapi.json names at the operation.",
            ),
            Kind::NotFound => (
                "not-found",
                StatusCode::NOT_FOUND,
                "There is nothing by that name",
                "The address is right, but nothing with that identifier is there (any more).",
                "Look the identifier up in the list.",
            ),
            Kind::UnknownPath => (
                "unknown-path",
                StatusCode::NOT_FOUND,
                "There is no such address",
                "The service has nothing at this path.",
                "The addresses are listed in /docs and /openapi.json.",
            ),
            Kind::MethodNotAllowed => (
                "method-not-allowed",
                StatusCode::METHOD_NOT_ALLOWED,
                "The address does not take this method",
                "The address exists, but not for this HTTP method.",
                "Use one of the methods in the Allow header.",
            ),
            Kind::NotAcceptable => (
                "not-acceptable",
                StatusCode::NOT_ACCEPTABLE,
                "There is no such form of the answer",
                "The Accept header leaves out every form in which this can be given.",
                "Accept application/json, or leave the header out.",
            ),
            Kind::TooSlow => (
                "too-slow",
                StatusCode::REQUEST_TIMEOUT,
                "The body did not arrive in time",
                "The connection stalled before the whole body had arrived.",
                "Send the request again.",
            ),
            Kind::AlreadyThere => (
                "already-there",
                StatusCode::CONFLICT,
                "There is one by that name already",
                "Something with the same identifier is there already; nothing was changed.",
                "Choose another identifier, or replace the one that is there.",
            ),
            Kind::NotAllowed => (
                "not-allowed",
                StatusCode::CONFLICT,
                "Not in this state",
                "The state that the thing is in does not allow this.",
                "The detail says what is allowed now.",
            ),
            Kind::Stale => (
                "stale",
                StatusCode::PRECONDITION_FAILED,
                "It was changed since you read it",
                "If-Match names no version that is the current one: someone else changed it. Weak tags (W/) name none.",
                "Read it again, make your change on what is there now, and send it with the new ETag.",
            ),
            Kind::TooLarge => (
                "too-large",
                StatusCode::PAYLOAD_TOO_LARGE,
                "The body is too large",
                "The body is larger than this address takes.",
                "Send less at once: catalogues go to /v1/imports as CSV, boats of a normal size need a few kilobytes.",
            ),
            Kind::WrongContentType => (
                "wrong-content-type",
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "The body is of another type",
                "The Content-Type header is missing or names another type than this address takes.",
                "Send application/json (text/csv to /v1/imports), not compressed.",
            ),
            Kind::KeyReused => (
                "key-reused",
                StatusCode::UNPROCESSABLE_ENTITY,
                "The key came with another request",
                "The Idempotency-Key was used within the last 24 hours for a request with another address, query or body.",
                "Take a new key for everything new; send the same key only with exactly the same request.",
            ),
            Kind::ShownOnce => (
                "shown-once",
                StatusCode::CONFLICT,
                "It was done, and its answer is shown only once",
                "The same request was done before; its answer held a secret, which is never kept.",
                "If the first answer was lost, revoke or rotate what it made, and ask again with a new key.",
            ),
            Kind::Invalid => (
                "invalid",
                StatusCode::UNPROCESSABLE_ENTITY,
                "What was sent does not make sense",
                "The body is JSON, but some of it cannot be read or makes no sense; nothing was stored.",
                "Mend every place that the errors name; each has a pointer into the body that was sent.",
            ),
            Kind::NoConductor => (
                "no-conductor",
                StatusCode::UNPROCESSABLE_ENTITY,
                "No single conductor is enough",
                "No conductor up to the largest size carries the current within the limits asked for.",
                "The detail says how many in parallel, or which voltage, would do.",
            ),
            Kind::ImportRefused => (
                "import-refused",
                StatusCode::UNPROCESSABLE_ENTITY,
                "The import was refused",
                "Some rows of the file are wrong; an import is taken whole or not at all, so nothing was changed.",
                "Mend the rows that the report names by line and column, and send the file again.",
            ),
            Kind::VersionNeeded => (
                "version-needed",
                StatusCode::PRECONDITION_REQUIRED,
                "Say which version you saw",
                "Changing something needs the If-Match header, so that nobody overwrites what he has not seen.",
                "Read the thing, and send the ETag of that answer as If-Match.",
            ),
            Kind::TooMany => (
                "too-many",
                StatusCode::TOO_MANY_REQUESTS,
                "That is too much at once",
                "The key or the address has used up what it may do in a minute, or has too many connections open.",
                "Wait as many seconds as Retry-After says; the field RateLimit of every answer tells what is left.",
            ),
            Kind::Internal => (
                "internal",
                StatusCode::INTERNAL_SERVER_ERROR,
                "The service failed",
                "A fault of the service; it is logged with the request's X-Request-Id.",
                "Try again; if it stays, tell whoever runs the service the X-Request-Id.",
            ),
            Kind::Unavailable => (
                "unavailable",
                StatusCode::SERVICE_UNAVAILABLE,
                "The service cannot do it now",
                "The database cannot be reached, is too busy or has no room left, or the service itself is too busy.",
                "Wait as many seconds as Retry-After says, and try again.",
            ),
        };
        Row { slug, status, title, cause, mend }
    }
}

/// A fault in a query parameter.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ParameterFault {
    /// Name of the query parameter.
    pub parameter: String,
    /// What was met, what was expected, and what to do.
    pub message: String,
}

/// One fault that a problem lists: in the body by its pointer, or in the query by its parameter.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(untagged)]
pub enum Listed {
    /// In the body.
    Body(Fault),
    /// In the query.
    Query(ParameterFault),
}

/// What a limit that refused says.
struct Limited {
    /// Seconds to wait.
    wait_s: u64,
    /// Header fields that tell what is left.
    fields: Vec<(HeaderName, String)>,
}

/// One occurrence of a problem.
pub struct Problem {
    kind: Kind,
    detail: String,
    errors: Vec<Listed>,
    import: Option<Box<serde_json::Value>>,
    would_do: Option<Box<NoConductor>>,
    allow: Option<String>,
    key_sent: bool,
    trouble: Option<Trouble>,
    limit: Option<Box<Limited>>,
    cause: Option<Box<dyn StdError + Send + Sync>>,
}

/// A problem as it is written (RFC 9457).
#[derive(Serialize, ToSchema)]
#[schema(as = Problem)]
pub struct ProblemBody<'a> {
    /// Address of a page that explains this kind of problem, relative to the service. Expect new values.
    #[serde(rename = "type")]
    #[schema(format = "uri-reference", example = "/problems/invalid")]
    pub problem_type: String,
    /// The kind of problem in a few words.
    #[schema(example = "What was sent does not make sense")]
    pub title: &'a str,
    /// The HTTP status.
    #[schema(minimum = 400, maximum = 599, example = 422)]
    pub status: u16,
    /// What happened this time, and what to do.
    pub detail: &'a str,
    /// All faults that were found, each with its place.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    pub errors: &'a [Listed],
    /// How many more faults were found than are listed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub more_errors: Option<usize>,
    /// The import, when one was refused: its report names every bad row.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Import>)]
    pub import: Option<&'a serde_json::Value>,
    /// What would do, when no single conductor is enough.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub would_do: Option<&'a NoConductor>,
}

impl Problem {
    /// A problem of a kind; the detail says what happened this time.
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        Problem {
            kind,
            detail: detail.into(),
            errors: Vec::new(),
            import: None,
            would_do: None,
            allow: None,
            key_sent: false,
            trouble: None,
            limit: None,
            cause: None,
        }
    }

    /// No key, or none that is valid; whether one was sent stands in the challenge (RFC 6750, section 3).
    pub fn no_key(detail: &str, sent: bool) -> Self {
        Problem { key_sent: sent, ..Problem::new(Kind::NoKey, detail) }
    }

    /// Faults in the body: sorted by place, each once.
    pub fn faults(mut faults: Vec<Fault>) -> Self {
        faults.sort();
        faults.dedup();
        let detail = match faults.len() {
            1 => "One thing has to be mended.".to_owned(),
            count => format!("{count} things have to be mended."),
        };
        let errors = faults.into_iter().map(Listed::Body).collect();
        Problem { errors, ..Problem::new(Kind::Invalid, detail) }
    }

    /// Faults in the query.
    pub fn query(faults: Vec<ParameterFault>) -> Self {
        let named: Vec<&str> = faults.iter().map(|fault| fault.parameter.as_str()).collect();
        let detail = format!("The query has to be mended at: {}.", named.join(", "));
        let errors = faults.into_iter().map(Listed::Query).collect();
        Problem { errors, ..Problem::new(Kind::BadQuery, detail) }
    }

    /// A wrong method, with the methods that the address takes.
    pub fn method_not_allowed(method: &str, allow: String) -> Self {
        let detail = format!("{method} is not possible here; possible: {allow}.");
        Problem { allow: Some(allow), ..Problem::new(Kind::MethodNotAllowed, detail) }
    }

    /// An import that was refused, with the import and its report.
    pub fn import_refused(import: serde_json::Value, detail: String) -> Self {
        Problem { import: Some(Box::new(import)), ..Problem::new(Kind::ImportRefused, detail) }
    }

    /// No single conductor is enough; what would do goes with it.
    pub fn no_conductor(none: NoConductor) -> Self {
        let detail = none.to_string();
        Problem { would_do: Some(Box::new(none)), ..Problem::new(Kind::NoConductor, detail) }
    }

    /// Too much at once: how long to wait, seconds, and the fields that tell what is left.
    pub fn too_many(detail: String, wait_s: u64, fields: impl Into<Vec<(HeaderName, String)>>) -> Self {
        let limit = Some(Box::new(Limited { wait_s, fields: fields.into() }));
        Problem { limit, ..Problem::new(Kind::TooMany, detail) }
    }

    /// A fault of the service, kept for the log and not told to the client.
    pub fn internal(cause: impl Into<Box<dyn StdError + Send + Sync>>) -> Self {
        let detail = "The service could not answer; nothing was changed by this request.";
        Problem { cause: Some(cause.into()), ..Problem::new(Kind::Internal, detail) }
    }

    /// Its kind.
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// Why the service cannot do it now, in a word for counters.
    pub fn unavailable(&self) -> Option<&'static str> {
        let other = (self.kind == Kind::Unavailable).then_some("other");
        self.trouble.map(Trouble::as_str).or(other)
    }

    /// Seconds after which it may be tried again.
    fn retry_after_s(&self) -> Option<u64> {
        match (self.kind, self.trouble) {
            (Kind::TooMany, _) => Some(self.limit.as_ref().map_or(5, |limit| limit.wait_s)),
            (_, Some(Trouble::Full)) => Some(30),
            (_, Some(Trouble::NoConnection)) => Some(5),
            (Kind::Unavailable, _) => Some(2),
            _ => None,
        }
    }

    /// What the log is told of a fault of the service: each cause once.
    pub fn causes(&self) -> Option<String> {
        let first = self.cause.as_deref()?;
        let mut text = first.to_string();
        let mut next = first.source();
        while let Some(cause) = next {
            text.push_str(": ");
            text.push_str(&cause.to_string());
            next = cause.source();
        }
        Some(text)
    }
}

impl fmt::Display for Problem {
    // The log gets the kind only: a detail may hold what a customer sent.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.kind.row().slug)
    }
}

impl fmt::Debug for Problem {
    // Whoever logs an error takes this form of it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Problem({self})")
    }
}

impl StdError for Problem {}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.kind.row().status
    }

    fn error_response(&self) -> HttpResponse {
        let row = self.kind.row();
        let listed = &self.errors[..self.errors.len().min(FAULTS_MAX)];
        let mut response = HttpResponse::build(row.status);
        if let Some(allow) = &self.allow {
            response.insert_header((ALLOW, allow.as_str()));
        }
        if self.kind == Kind::NoKey {
            let challenge = if self.key_sent {
                "Bearer realm=\"rigbill\", error=\"invalid_token\""
            } else {
                "Bearer realm=\"rigbill\""
            };
            response.insert_header((WWW_AUTHENTICATE, challenge));
        }
        if let Some(seconds) = self.retry_after_s() {
            response.insert_header((RETRY_AFTER, seconds.to_string()));
        }
        for (name, value) in self.limit.iter().flat_map(|limit| &limit.fields) {
            response.insert_header((name.clone(), value.as_str()));
        }
        let body = ProblemBody {
            problem_type: format!("/problems/{}", row.slug),
            title: row.title,
            status: row.status.as_u16(),
            detail: &self.detail,
            errors: listed,
            more_errors: (self.errors.len() > FAULTS_MAX).then(|| self.errors.len() - FAULTS_MAX),
            import: self.import.as_deref(),
            would_do: self.would_do.as_deref(),
        };
        let text = serde_json::to_vec(&body).expect("a problem is plain values");
        response.content_type(MEDIA_TYPE).body(text)
    }
}

impl From<service::Error> for Problem {
    fn from(error: service::Error) -> Self {
        let detail = error.to_string();
        match error {
            service::Error::NotFound { .. } => Problem::new(Kind::NotFound, sentence(&detail)),
            service::Error::AlreadyThere { .. } => Problem::new(Kind::AlreadyThere, sentence(&detail)),
            service::Error::Stale { .. } => Problem::new(Kind::Stale, sentence(&detail)),
            service::Error::NotAllowed(_) => Problem::new(Kind::NotAllowed, sentence(&detail)),
            service::Error::KeyReused => Problem::new(Kind::KeyReused, sentence(&detail)),
            service::Error::ShownOnce { location } => {
                let at = location.map(|address| format!(" What was made then is at {address}.")).unwrap_or_default();
                Problem::new(Kind::ShownOnce, format!("{}{at}", sentence(&detail)))
            }
            service::Error::Faults(faults) => Problem::faults(faults),
            service::Error::Randomness(cause) => Problem::internal(cause),
            service::Error::Store(cause) => cause.into(),
        }
    }
}

impl From<StoreError> for Problem {
    fn from(cause: StoreError) -> Self {
        let Some(trouble) = cause.trouble() else { return Problem::internal(cause) };
        let detail = match (&cause, trouble) {
            (StoreError::InDoubt(_), _) => {
                "The database broke off while it was storing this: it is stored whole or not at all. Send it again with \
                 the same Idempotency-Key, or look first whether it is there."
            }
            (_, Trouble::NoConnection) => "The database cannot be reached; nothing was stored by this request.",
            (_, Trouble::Busy) => "The database is too busy; nothing was stored by this request.",
            (_, Trouble::Full) => {
                "The disk takes nothing more, most likely because it is full; nothing was stored by this request. Reading \
                 still works."
            }
        };
        Problem { trouble: Some(trouble), cause: Some(cause.into()), ..Problem::new(Kind::Unavailable, detail) }
    }
}

impl From<NotReady> for Problem {
    fn from(not_ready: NotReady) -> Self {
        let detail = sentence(&not_ready.to_string());
        let trouble = match &not_ready {
            NotReady::Database(cause) => cause.trouble(),
            NotReady::Silent => Some(Trouble::NoConnection),
            NotReady::Schema(_) => None,
        };
        Problem { trouble, cause: Some(not_ready.into()), ..Problem::new(Kind::Unavailable, detail) }
    }
}

/// A message with a capital at its beginning and a stop at its end.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().map(|c| c.to_uppercase().collect()).unwrap_or_default();
    let stop = if text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{stop}", letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_own_address_and_an_error_status() {
        let slugs: std::collections::BTreeSet<_> = ALL.iter().map(|kind| kind.row().slug).collect();
        assert_eq!(slugs.len(), ALL.len());
        for kind in ALL {
            let row = kind.row();
            assert!(row.status.is_client_error() || row.status.is_server_error(), "{}", row.slug);
            assert!(row.slug.bytes().all(|b| b.is_ascii_lowercase() || b == b'-'), "{}", row.slug);
        }
    }

    #[test]
    fn faults_are_sorted_and_each_is_listed_once() {
        let fault = |place: &str| Fault::new(place, "wrong");
        let problem = Problem::faults(vec![fault("/b"), fault("/a"), fault("/b")]);
        assert_eq!(problem.errors, [Listed::Body(fault("/a")), Listed::Body(fault("/b"))]);
    }
}
