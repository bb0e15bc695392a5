//! `/v1/quotes/{id}/…`: the life of a quote after it was made. Each move needs the version that was seen, and can be
//! sent again.

use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse, get, post};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use super::Id;
use super::quote_forms::{QuoteByRole, address};
use crate::calc::difference::Difference;
use crate::calc::units::Name;
use crate::http::access::Acting;
use crate::http::body::RequestBody;
use crate::http::customer::Site;
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::problem::{Kind, Problem};
use crate::http::query::{NoParameters, Query};
use crate::service::life::{AcceptRequest, Move, MoveRequest};
use crate::service::links::Issued;
use crate::service::once::{Answer, Once};
use crate::service::quotes::{QuoteRequest, QuoteState, QuoteSummary};
use crate::service::{Seen, Service, Stored};

pub(super) fn routes(config: &mut ServiceConfig) {
    config
        .service(issue_quote)
        .service(accept_quote)
        .service(decline_quote)
        .service(withdraw_quote)
        .service(revise_quote)
        .service(list_quote_moves)
        .service(read_quote_changes);
}

impl RequestBody for MoveRequest {}

impl RequestBody for AcceptRequest {}

/// One move of a quote from state to state.
#[derive(Serialize, ToSchema)]
struct QuoteMove {
    /// State that it left.
    from: QuoteState,
    /// State that it came to.
    to: QuoteState,
    /// When.
    at: DateTime<Utc>,
    /// Name of the key that moved it, `command line`, or `customer link`; absent when nobody did: its last day was over.
    #[serde(skip_serializing_if = "Option::is_none")]
    by: Option<String>,
    /// What whoever moved it had to say.
    #[serde(skip_serializing_if = "Option::is_none")]
    remark: Option<String>,
    /// Address of the revision that stands in its place, when it was superseded.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(format = "uri-reference")]
    superseded_by: Option<String>,
    /// Identifiers of the options that the customer chose, when it was accepted.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    options: Vec<Name>,
    /// Name that the customer typed, when he accepted by his link.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "R. Calder")]
    signed_name: Option<String>,
    /// Version that the quote had from then on.
    version: i64,
}

/// The moves of a quote from state to state.
#[derive(Serialize, ToSchema)]
struct QuoteMoves {
    /// All of them, in their order; none while it is a draft.
    moves: Vec<QuoteMove>,
}

impl From<Vec<Move>> for QuoteMoves {
    fn from(moves: Vec<Move>) -> Self {
        let of = |made: Move| {
            let Move { quote: _, version, from, to, at, by, remark, superseded_by, options, signed_name } = made;
            let superseded_by = superseded_by.map(address);
            QuoteMove { from, to, at, by, remark, superseded_by, options, signed_name, version }
        };
        QuoteMoves { moves: moves.into_iter().map(of).collect() }
    }
}

/// What a quote promises differently from the one that it revises.
#[derive(Serialize, ToSchema)]
struct QuoteChanges {
    /// Address of the quote that it revises; absent when it revises none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(format = "uri-reference")]
    revises: Option<String>,
    /// Which revision it is, counted from 1.
    revision: u32,
    /// What differs, line by line and in money; absent when it revises none.
    #[serde(skip_serializing_if = "Option::is_none")]
    difference: Option<Difference>,
}

impl From<(QuoteSummary, Option<Difference>)> for QuoteChanges {
    fn from((quote, difference): (QuoteSummary, Option<Difference>)) -> Self {
        QuoteChanges { revises: quote.revises.map(address), revision: quote.revision, difference }
    }
}

/// Answers a move with the quote as it then stands.
macro_rules! move_on {
    ($service:ident, $id:ident, $seen:ident, $request:ident, $step:ident) => {{
        let role = $service.role();
        let answer = |stored: &Stored<QuoteSummary>| once::moved(&QuoteByRole::new(stored.clone(), role));
        let service: &Service = &$service;
        $request.once(service, async |request, once| service.$step($id.0, request, $seen.0, once).await, answer).await
    }};
}

/// Issue a quote
///
/// Gives a draft its number and freezes it: from here on its document's bytes never change. What is issued is what was
/// seen: with the shop as it stands the draft is calculated once more, and when that promises anything else, nothing is
/// changed and the answer says what moved. While a gap stands that nothing was decided about it is refused too. A
/// revision takes the place of the quote that it revises, which is then superseded. The address for the customer is in
/// this answer and never shown again: a repeat with the same Idempotency-Key gets the answer without it.
#[utoipa::path(tag = "quotes", operation_id = "issue_quote",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfMatchHeader, IdempotencyKeyHeader),
    request_body(content = MoveRequest, description = "A remark, if there is one."),
    extensions(("x-problems" = json!(["not-allowed", "moved", "gaps-stand"]))),
    responses((status = 200, description = "The quote, issued.", body = QuoteByRole, headers(("ETag" = String, description = "Its version.")))))]
#[post("/v1/quotes/{id}/issue")]
async fn issue_quote(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    site: Data<Site>,
    request: Creation<MoveRequest>,
) -> Result<HttpResponse, Problem> {
    if seen.0 == Seen::Any {
        let detail = "What is issued is what was seen: send the ETag of the draft that you looked at, and no '*'.";
        return Err(Problem::new(Kind::VersionNeeded, detail));
    }
    let role = service.role();
    let kept = |issued: &Issued| once::moved(&QuoteByRole::new(issued.quote.clone(), role));
    let shown = |issued: &Issued| {
        let address = Some(site.address(&issued.link));
        let form = QuoteByRole::with_address(issued.quote.clone(), role, address);
        Answer { shows_secret: true, ..once::moved(&form) }
    };
    let service: &Service = &service;
    let work = async |request, once: Once<'_, Issued>| service.issue_quote(id.0, request, seen.0, once).await;
    request.once_showing(service, work, kept, shown).await
}

/// Accept a quote
///
/// The customer said yes to an issued quote, with the options that he chose. It then stands for good, with the totals of
/// that choice: what is wanted beside it is another quote.
#[utoipa::path(tag = "quotes", operation_id = "accept_quote",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfMatchHeader, IdempotencyKeyHeader),
    request_body(content = AcceptRequest, description = "The options that were chosen, and a remark, if there are any."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The quote, accepted.", body = QuoteByRole, headers(("ETag" = String, description = "Its version.")))))]
#[post("/v1/quotes/{id}/accept")]
async fn accept_quote(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    request: Creation<AcceptRequest>,
) -> Result<HttpResponse, Problem> {
    move_on!(service, id, seen, request, accept_quote)
}

/// Decline a quote
///
/// The customer said no to an issued quote. It can be revised.
#[utoipa::path(tag = "quotes", operation_id = "decline_quote",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfMatchHeader, IdempotencyKeyHeader),
    request_body(content = MoveRequest, description = "A remark, if there is one."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The quote, declined.", body = QuoteByRole, headers(("ETag" = String, description = "Its version.")))))]
#[post("/v1/quotes/{id}/decline")]
async fn decline_quote(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    request: Creation<MoveRequest>,
) -> Result<HttpResponse, Problem> {
    move_on!(service, id, seen, request, decline_quote)
}

/// Withdraw a quote
///
/// The shop takes an issued quote back before the customer answered. It can be revised.
#[utoipa::path(tag = "quotes", operation_id = "withdraw_quote",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfMatchHeader, IdempotencyKeyHeader),
    request_body(content = MoveRequest, description = "A remark, if there is one."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The quote, withdrawn.", body = QuoteByRole, headers(("ETag" = String, description = "Its version.")))))]
#[post("/v1/quotes/{id}/withdraw")]
async fn withdraw_quote(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    request: Creation<MoveRequest>,
) -> Result<HttpResponse, Problem> {
    move_on!(service, id, seen, request, withdraw_quote)
}

/// Revise a quote
///
/// Begins a revision of a quote that was issued and not accepted: a draft of its own with the same number and the next
/// revision, from the request that is sent (that of the quote, changed as needed). The quote stands until its revision
/// is issued. One revision is worked on at a time.
#[utoipa::path(tag = "quotes", operation_id = "revise_quote",
    params(("id" = Uuid, Path, description = "Identifier of the quote that is revised."), IfMatchHeader, IdempotencyKeyHeader),
    request_body(content = QuoteRequest, description = "The boat spec, and for whom."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 201, description = "The revision.", body = QuoteByRole,
        headers(("Location" = String, description = "Its address."), ("ETag" = String, description = "Its version.")))))]
#[post("/v1/quotes/{id}/revisions")]
async fn revise_quote(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    creation: Creation<QuoteRequest>,
) -> Result<HttpResponse, Problem> {
    let role = service.role();
    let answer = |stored: &Stored<QuoteSummary>| {
        once::created(&QuoteByRole::new(stored.clone(), role), &address(stored.value.id))
    };
    creation.once(&service, async |request, once| service.revise_quote(id.0, request, seen.0, once).await, answer).await
}

/// List the moves of a quote
///
/// Who moved it when from which state to which, and what was said. Nothing of it is ever changed or taken away.
#[utoipa::path(tag = "quotes", operation_id = "list_quote_moves",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfNoneMatchHeader),
    responses((status = 200, description = "Its moves.", body = QuoteMoves, headers(("ETag" = String, description = "The version of the quote."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}/moves")]
async fn list_quote_moves(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.quote_moves(id.0).await?.map(QuoteMoves::from)))
}

/// Read what a revision changes
///
/// Line by line and in money, what a quote promises differently from the one that it revises.
#[utoipa::path(tag = "quotes", operation_id = "read_quote_changes",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfNoneMatchHeader),
    responses((status = 200, description = "What it changes.", body = QuoteChanges, headers(("ETag" = String, description = "The version of the quote."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}/changes")]
async fn read_quote_changes(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.quote_changes(id.0).await?.map(QuoteChanges::from)))
}
