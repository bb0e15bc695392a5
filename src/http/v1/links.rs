//! `/v1/quotes/{id}/link`: the address by which a customer reads an issued quote and answers it. Its secret is in the
//! answer that makes it, and nowhere else.

use actix_web::http::StatusCode;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse, delete, get, post};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::Id;
use super::quote_forms::address;
use crate::http::access::Acting;
use crate::http::body::RequestBody;
use crate::http::customer::Site;
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::problem::Problem;
use crate::http::query::{NoParameters, Query};
use crate::service::links::{LinkRequest, LinkState, NewLink, QuoteLink};
use crate::service::once::Answer;
use crate::service::{Service, Stored};

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(read_quote_link).service(make_quote_link).service(revoke_quote_link);
}

impl RequestBody for LinkRequest {}

/// A customer's link with its new address.
#[derive(Serialize, ToSchema)]
struct IssuedLink {
    /// The address to be sent to the customer. It is shown this once: what is kept of its secret is a hash. A path unless
    /// the service was told under what name customers find it.
    #[schema(format = "uri-reference", pattern = "/q/[0-9a-f]{32}/[A-Za-z0-9_-]{43}$")]
    address: String,
    /// Whether the customer can open it. Expect new values.
    state: LinkState,
    /// Identifier: it stands in the address before the secret.
    id: Uuid,
    /// When it was made.
    made_at: Option<DateTime<Utc>>,
    /// Name of the key that made it, or `command line`.
    made_by: Option<String>,
    /// When it ends by itself: 90 days after the quote's last day, or after it was made if that is later.
    expires_at: Option<DateTime<Utc>>,
}

impl IssuedLink {
    fn new(made: &NewLink, site: &Site) -> Self {
        let NewLink { link, id, secret: _ } = made;
        // What was just made is not revoked.
        let QuoteLink { state, id: _, made_at, made_by, expires_at, revoked_at: _ } = link.clone();
        IssuedLink { address: site.address(made), state, id: *id, made_at, made_by, expires_at }
    }
}

/// Read a quote's link
///
/// Whether the customer can open the quote, since when and until when; never the address itself.
#[utoipa::path(tag = "quotes", operation_id = "read_quote_link",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfNoneMatchHeader),
    responses((status = 200, description = "Its link.", body = QuoteLink, headers(("ETag" = String, description = "The version of the quote."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}/link")]
async fn read_quote_link(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.quote_link(id.0).await?))
}

/// Give a quote a new link
///
/// Makes an address by which the customer reads the quote and answers it, without a key. The one that the quote had, from
/// its issue or from here, ends at once. The address is in this answer and is never shown again, not even to the same
/// Idempotency-Key: make another if it was lost. A draft has nothing to show, and neither has a quote that another has
/// superseded.
#[utoipa::path(tag = "quotes", operation_id = "make_quote_link",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfMatchHeader, IdempotencyKeyHeader),
    request_body(content = LinkRequest, description = "Nothing needs to be said."),
    extensions(("x-problems" = json!(["not-allowed", "shown-once"]))),
    responses((status = 201, description = "The link and its address.", body = IssuedLink,
        headers(("Location" = String, description = "Where the link is found, without its secret."), ("ETag" = String, description = "The version that the quote has now.")))))]
#[post("/v1/quotes/{id}/link")]
async fn make_quote_link(
    _: Query<NoParameters>,
    service: Acting,
    site: Data<Site>,
    id: Id,
    seen: IfMatch,
    creation: Creation<LinkRequest>,
) -> Result<HttpResponse, Problem> {
    let at = format!("{}/link", address(id.0));
    let answer = |made: &Stored<NewLink>| Answer {
        shows_secret: true,
        ..once::created(&made.clone().map(|made| IssuedLink::new(&made, &site)), &at)
    };
    let service: &Service = &service;
    creation.once(service, async |request, once| service.make_link(id.0, request, seen.0, once).await, answer).await
}

/// Revoke a quote's link
///
/// The customer can open the quote no longer, whatever he was sent; what he answered stands. A new link can be made.
#[utoipa::path(tag = "quotes", operation_id = "revoke_quote_link",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IfMatchHeader),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The link, revoked.", body = QuoteLink, headers(("ETag" = String, description = "The version that the quote has now.")))))]
#[delete("/v1/quotes/{id}/link")]
async fn revoke_quote_link(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.revoke_link(id.0, seen.0).await?))
}
