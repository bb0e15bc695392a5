//! The table of problems: each kind with its address, status, title, cause and mend.

use actix_web::http::StatusCode;

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
    /// A draft is no longer what was seen.
    Moved,
    /// Gaps stand that nothing was decided about.
    GapsStand,
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
pub const ALL: [Kind; 29] = [
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
    Kind::Moved,
    Kind::GapsStand,
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
                "The detail says what is allowed now; of a quote `allowed` lists it.",
            ),
            Kind::Moved => (
                "moved",
                StatusCode::CONFLICT,
                "It is no longer what you saw",
                "Prices, settings or the catalogue changed since the draft was calculated, so that it would not be issued as \
                 it was seen. Nothing was changed.",
                "Read what the difference says, replace the draft with its own request, look it over, and issue what then \
                 stands.",
            ),
            Kind::GapsStand => (
                "gaps-stand",
                StatusCode::CONFLICT,
                "Gaps stand in the quote",
                "Something that the job needs is neither in the price nor said to be left out. Nothing was changed.",
                "Settle each gap that the answer lists, in the draft's request under `settlements`: by a line with a price of \
                 your own, or by an exclusion. Replace the draft with it, and issue what then stands.",
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
