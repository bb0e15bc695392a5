//! `/v1/quotes`: priced quotes. The envelope tells state, totals and links; its documents never change.

use actix_web::http::StatusCode;
use actix_web::http::header::ACCEPT;
use actix_web::{HttpRequest, HttpResponse, delete, get, post, put};
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::Id;
use super::quote_forms::{QuoteByRole, QuotePageByRole, address};
use crate::calc::findings::Fault;
use crate::calc::quote::{CostingDocument, QuoteDocument};
use crate::calc::units::Name;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::paging::{self, Filters, Paging, PagingParameters};
use crate::http::problem::{Kind, ParameterFault, Problem};
use crate::http::query::{FromQuery, NoParameters, Query, Reader};
use crate::service::quotes::{Document, DocumentKind, QuoteFilter, QuoteRequest, QuoteState, QuoteSummary};
use crate::service::{self, Service, Stored};

pub(super) const PATH: &str = "/v1/quotes";

pub(super) fn routes(config: &mut ServiceConfig) {
    config
        .service(create_quote)
        .service(list_quotes)
        .service(read_quote)
        .service(replace_quote)
        .service(delete_quote)
        .service(read_quote_document)
        .service(read_quote_costing)
        .service(read_quote_request);
}

impl RequestBody for QuoteRequest {
    async fn more_faults(self, service: &Service) -> Vec<Fault> {
        service.spec_faults(&self).await.unwrap_or_default()
    }
}

/// Which choice of a quote is read.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `ChoiceQuery` reads")]
pub(super) struct ChoiceParameters {
    /// Identifiers of options with commas between them: what is read is the quote with these chosen. Without it, the quote
    /// without any.
    #[param(min_length = 1, max_length = 250, example = "radar,autopilot")]
    options: Option<String>,
}

pub(super) struct ChoiceQuery {
    options: Vec<Name>,
}

impl FromQuery for ChoiceQuery {
    fn read(reader: &mut Reader) -> Self {
        let options = reader.text("options", 250).unwrap_or_default();
        ChoiceQuery { options: options.split(',').filter(|id| !id.is_empty()).map(Name::from).collect() }
    }
}

/// A document of the choice that is asked for.
async fn choice(
    request: &HttpRequest,
    service: &Service,
    id: Uuid,
    query: &ChoiceQuery,
    kind: DocumentKind,
) -> Result<HttpResponse, Problem> {
    must_accept_json(request)?;
    let document = choice_of(service, id, query, kind).await?;
    Ok(etag::document(request, &document.hash, document.bytes))
}

/// The document itself.
pub(super) async fn choice_of(
    service: &Service,
    id: Uuid,
    query: &ChoiceQuery,
    kind: DocumentKind,
) -> Result<Document, Problem> {
    match service.choice_document(id, &query.options, kind).await {
        // They speak of the options that were named, which stand in the query here.
        Err(service::Error::Faults(faults)) => {
            let fault = |fault: Fault| ParameterFault { parameter: "options".to_owned(), message: fault.message };
            Err(Problem::query(faults.into_iter().map(fault).collect()))
        }
        other => Ok(other?),
    }
}

/// Which quotes a list shows.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `QuoteQuery` reads")]
struct QuoteParameters {
    /// State.
    #[param(inline)]
    state: Option<QuoteState>,
    /// Text that the name, the customer or the number holds, in any case.
    #[param(min_length = 1, max_length = 100)]
    text: Option<String>,
}

struct QuoteQuery {
    filter: QuoteFilter,
    paging: Paging,
}

impl FromQuery for QuoteQuery {
    fn read(reader: &mut Reader) -> Self {
        let filter = QuoteFilter {
            state: reader.one_of("state", &QuoteState::ALL.map(QuoteState::as_str)),
            text: reader.text("text", 100),
        };
        QuoteQuery { filter, paging: Paging::read(reader) }
    }
}

/// Make a quote
///
/// Takes off the quantities of the job, prices them with the shop's catalogue, and keeps the quote as a draft. What
/// cannot be met is a gap: the quote is then incomplete and has no total.
#[utoipa::path(tag = "quotes", operation_id = "create_quote", params(IdempotencyKeyHeader),
    request_body(content = QuoteRequest, description = "The boat spec, and for whom."),
    responses((status = 201, description = "The quote.", body = QuoteByRole,
        headers(("Location" = String, description = "Its address."), ("ETag" = String, description = "Its version.")))))]
#[post("/v1/quotes")]
async fn create_quote(
    _: Query<NoParameters>,
    service: Acting,
    creation: Creation<QuoteRequest>,
) -> Result<HttpResponse, Problem> {
    let role = service.role();
    let answer = |stored: &Stored<QuoteSummary>| {
        once::created(&QuoteByRole::new(stored.clone(), role), &address(stored.value.id))
    };
    creation.once(&service, async |request, once| service.create_quote_once(request, once).await, answer).await
}

/// List quotes
///
/// Newest first, in pages.
#[utoipa::path(tag = "quotes", operation_id = "list_quotes", params(QuoteParameters, PagingParameters),
    responses((status = 200, description = "A page of quotes.", body = QuotePageByRole,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/quotes")]
async fn list_quotes(request: HttpRequest, service: Acting, query: Query<QuoteQuery>) -> Result<HttpResponse, Problem> {
    let QuoteQuery { filter, paging } = query.0;
    let filters: &Filters = &[("state", filter.state.map(|state| state.to_string())), ("text", filter.text.clone())];
    let after = paging.after(PATH, filters)?;
    if after.as_deref().is_some_and(|id| Uuid::try_parse(id).is_err()) {
        return Err(paging::unknown_cursor());
    }
    let page = service.list_quotes(&filter, after.as_deref(), paging.limit).await?;
    let (rows, role) = (page.rows, service.role());
    Ok(paging::answer(&request, &paging, filters, page.next_after, |next| QuotePageByRole::new(rows, next, role)))
}

/// Read a quote
///
/// Its state, its totals, and where the rest is.
#[utoipa::path(tag = "quotes", operation_id = "read_quote",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfNoneMatchHeader),
    responses((status = 200, description = "The quote.", body = QuoteByRole, headers(("ETag" = String, description = "Its version."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}")]
async fn read_quote(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    let quote = QuoteByRole::new(service.quote(id.0).await?, service.role());
    Ok(etag::read(&request, &quote))
}

/// Replace a draft
///
/// Calculates it anew, with the shop as it stands now. Only a draft can be replaced.
#[utoipa::path(tag = "quotes", operation_id = "replace_quote",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfMatchHeader),
    request_body(content = QuoteRequest, description = "The boat spec, and for whom."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The quote as it stands now.", body = QuoteByRole, headers(("ETag" = String, description = "Its version.")))))]
#[put("/v1/quotes/{id}")]
async fn replace_quote(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    request: Body<QuoteRequest>,
) -> Result<HttpResponse, Problem> {
    let stored = service.replace_quote(id.0, request.0, seen.0).await?;
    Ok(etag::written(StatusCode::OK, &QuoteByRole::new(stored, service.role())))
}

/// Delete a draft
///
/// Only a draft can be deleted.
#[utoipa::path(tag = "quotes", operation_id = "delete_quote",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfMatchHeader),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 204, description = "It is gone.")))]
#[delete("/v1/quotes/{id}")]
async fn delete_quote(_: Query<NoParameters>, service: Acting, id: Id, seen: IfMatch) -> Result<HttpResponse, Problem> {
    service.delete_quote(id.0, seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Read the document of a quote
///
/// Take-off, priced lines, totals, gaps: the bytes that were written when the quote was made or, since that makes them
/// final, issued. Its ETag is its hash. With `options` it is the document of that choice: the quote with these options in
/// it. Those of an issued quote are frozen with it; those of a draft are calculated, as long as the draft is what the shop
/// would still promise.
#[utoipa::path(tag = "quotes", operation_id = "read_quote_document",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), ChoiceParameters, IfNoneMatchHeader),
    extensions(("x-problems" = json!(["not-acceptable", "moved"]))),
    responses((status = 200, description = "The document.", body = QuoteDocument, headers(("ETag" = String, description = "Its hash."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}/document")]
async fn read_quote_document(
    request: HttpRequest,
    query: Query<ChoiceQuery>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    choice(&request, &service, id.0, &query.0, DocumentKind::Quote).await
}

/// Read the costing of a quote
///
/// For the owner: cost, margin and what is bought. Never for the customer. With `options` it is that of the quote with
/// these options in it.
#[utoipa::path(tag = "quotes", operation_id = "read_quote_costing",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), ChoiceParameters, IfNoneMatchHeader),
    extensions(("x-problems" = json!(["not-acceptable", "moved"]))),
    responses((status = 200, description = "The costing.", body = CostingDocument, headers(("ETag" = String, description = "Its hash."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}/costing")]
async fn read_quote_costing(
    request: HttpRequest,
    query: Query<ChoiceQuery>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    choice(&request, &service, id.0, &query.0, DocumentKind::Costing).await
}

/// Read what a quote was made from
///
/// To be changed and sent back to the quote, with the same ETag.
#[utoipa::path(tag = "quotes", operation_id = "read_quote_request",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfNoneMatchHeader),
    responses((status = 200, description = "The request.", body = QuoteRequest, headers(("ETag" = String, description = "The version of the quote."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}/request")]
async fn read_quote_request(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.quote_request(id.0).await?))
}

/// Refuses a client that takes no JSON: there is no other form of the documents.
fn must_accept_json(request: &HttpRequest) -> Result<(), Problem> {
    let ranges: Vec<&str> =
        request.headers().get_all(ACCEPT).filter_map(|value| value.to_str().ok()).flat_map(|v| v.split(',')).collect();
    let takes = |range: &&str| {
        let mut parts = range.split(';').map(str::trim);
        let kind = parts.next().unwrap_or_default().to_ascii_lowercase();
        let refused = parts.filter_map(|part| part.strip_prefix("q=")).any(|q| q.parse() == Ok(0.0));
        ["*/*", "application/*", "application/json"].contains(&kind.as_str()) && !refused
    };
    if ranges.is_empty() || ranges.iter().any(takes) {
        return Ok(());
    }
    let detail = "The document is given as application/json, which the Accept header leaves out.";
    Err(Problem::new(Kind::NotAcceptable, detail))
}

#[cfg(test)]
mod tests {
    use actix_web::test::TestRequest;

    use super::*;

    #[test]
    fn json_is_given_to_whoever_does_not_rule_it_out() {
        let accepts = |value: &str| {
            must_accept_json(&TestRequest::default().insert_header((ACCEPT, value)).to_http_request()).is_ok()
        };
        assert!(accepts("application/json"));
        assert!(accepts("text/html, */*;q=0.1"));
        assert!(!accepts("application/pdf"));
        assert!(!accepts("application/json;q=0, text/html"));
        assert!(must_accept_json(&TestRequest::default().to_http_request()).is_ok());
    }
}
