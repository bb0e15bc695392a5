//! Everything that goes wrong, as RFC 9457 problems: one table of kinds ([`kinds`]), one type that every extractor and
//! handler answers with.

mod kinds;

use std::error::Error as StdError;
use std::fmt;

use actix_web::http::StatusCode;
use actix_web::http::header::{ALLOW, HeaderName, RETRY_AFTER, WWW_AUTHENTICATE, X_CONTENT_TYPE_OPTIONS};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use utoipa::ToSchema;

pub use kinds::{ALL, Kind, Row};

use crate::calc::circuits::conductor::NoConductor;
use crate::calc::difference::Difference;
use crate::calc::findings::{Fault, Gap};
use crate::service;
use crate::service::imports::Import;
use crate::service::life::Step;
use crate::service::readiness::NotReady;
use crate::service::{StoreError, Trouble};

/// Media type of a problem (RFC 9457).
pub const MEDIA_TYPE: &str = "application/problem+json";

/// Most faults that one answer lists; the rest is counted.
const FAULTS_MAX: usize = 200;

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

/// What only a few kinds say beside their detail.
#[derive(Default)]
struct More {
    import: Option<serde_json::Value>,
    would_do: Option<NoConductor>,
    allowed: Option<Vec<Step>>,
    difference: Option<Box<Difference>>,
    gaps: Vec<Gap>,
}

/// One occurrence of a problem.
pub struct Problem {
    kind: Kind,
    detail: String,
    errors: Vec<Listed>,
    more: Option<Box<More>>,
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
    /// What can be done with the quote now, when it was asked for something else.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub allowed: Option<&'a [Step]>,
    /// The draft that was to be issued against what it would be now.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub difference: Option<&'a Difference>,
    /// The gaps that stand in the quote that was to be issued.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    pub gaps: &'a [Gap],
}

impl Problem {
    /// A problem of a kind; the detail says what happened this time.
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        Problem {
            kind,
            detail: detail.into(),
            errors: Vec::new(),
            more: None,
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
        Problem::with(Kind::ImportRefused, detail, More { import: Some(import), ..More::default() })
    }

    /// No single conductor is enough; what would do goes with it.
    pub fn no_conductor(none: NoConductor) -> Self {
        let detail = none.to_string();
        Problem::with(Kind::NoConductor, detail, More { would_do: Some(none), ..More::default() })
    }

    /// A problem that says more than its detail.
    fn with(kind: Kind, detail: String, more: More) -> Self {
        Problem { more: Some(Box::new(more)), ..Problem::new(kind, detail) }
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
        // Here and not only around all routes, since a limit refuses before these are met.
        response.insert_header((X_CONTENT_TYPE_OPTIONS, "nosniff"));
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
        let more = self.more.as_deref();
        let body = ProblemBody {
            problem_type: format!("/problems/{}", row.slug),
            title: row.title,
            status: row.status.as_u16(),
            detail: &self.detail,
            errors: listed,
            more_errors: (self.errors.len() > FAULTS_MAX).then(|| self.errors.len() - FAULTS_MAX),
            import: more.and_then(|more| more.import.as_ref()),
            would_do: more.and_then(|more| more.would_do.as_ref()),
            allowed: more.and_then(|more| more.allowed.as_deref()),
            difference: more.and_then(|more| more.difference.as_deref()),
            gaps: more.map_or(&[], |more| &more.gaps),
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
            service::Error::WrongMove { allowed, .. } => {
                let more = More { allowed: Some(allowed), ..More::default() };
                Problem::with(Kind::NotAllowed, sentence(&detail), more)
            }
            service::Error::Moved { difference, .. } => {
                Problem::with(Kind::Moved, sentence(&detail), More { difference, ..More::default() })
            }
            service::Error::GapsStand(gaps) => {
                Problem::with(Kind::GapsStand, sentence(&detail), More { gaps, ..More::default() })
            }
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
