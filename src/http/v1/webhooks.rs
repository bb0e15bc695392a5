//! `/v1/webhooks`: who is told of events. A secret is in the answer that makes it, and nowhere else.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, delete, get, post, put};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::Id;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::paging::{self, Filters, Paging, PagingParameters, page_of};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, NoParameters, Query, Reader};
use crate::service::Stored;
use crate::service::events::EventType;
use crate::service::once::Answer;
use crate::service::webhooks::{
    Attempt, DisabledReason, Replay, ReplayRequest, RotationRequest, Webhook, WebhookEntry, WebhookSecret,
};

const PATH: &str = "/v1/webhooks";

pub(super) fn routes(config: &mut ServiceConfig) {
    config
        .service(create_webhook)
        .service(list_webhooks)
        .service(read_webhook)
        .service(replace_webhook)
        .service(delete_webhook)
        .service(rotate_webhook)
        .service(replay_events)
        .service(list_webhook_attempts);
}

impl RequestBody for WebhookEntry {}
impl RequestBody for ReplayRequest {}

page_of!(WebhookPage, WebhookRow, webhook: Webhook);

/// A webhook with its new secret.
#[derive(Serialize, ToSchema)]
struct IssuedWebhook {
    /// The secret that signs, as Standard Webhooks libraries take it. It is shown this once.
    #[schema(pattern = "^whsec_[A-Za-z0-9+/]{43}=$")]
    secret: String,
    /// Identifier.
    id: Uuid,
    /// Address that events are sent to.
    #[schema(format = "uri")]
    url: String,
    /// What it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    description: Option<String>,
    /// Types of events that it is told of; none for all. Expect new values.
    event_types: Vec<EventType>,
    /// Whether it is told.
    enabled: bool,
    /// When it was disabled; absent while it is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    disabled_at: Option<DateTime<Utc>>,
    /// Why it was disabled; absent while it is not. Expect new values.
    #[serde(skip_serializing_if = "Option::is_none")]
    disabled_reason: Option<DisabledReason>,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// Name of the key that made it, or `command line`.
    created_by: String,
    /// When it was last changed, rotated or disabled.
    updated_at: DateTime<Utc>,
    /// Name of the key that did so, `command line`, or `webhook delivery`.
    changed_by: String,
    /// Until when the secret before signs too; absent when there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    earlier_secret_until: Option<DateTime<Utc>>,
    /// Position of the last event that it was told of, that waits for it, or that it is not told of.
    position: i64,
}

impl IssuedWebhook {
    fn new(webhook: Webhook, secret: &WebhookSecret) -> Self {
        let Webhook {
            id,
            url,
            description,
            event_types,
            enabled,
            disabled_at,
            disabled_reason,
            created_at,
            created_by,
            updated_at,
            changed_by,
            earlier_secret_until,
            position,
            // How telling it goes has nothing to do with its secret.
            failing_since: _,
            held_until: _,
            waiting: _,
            given_up: _,
        } = webhook;
        IssuedWebhook {
            secret: secret.expose().to_owned(),
            id,
            url,
            description,
            event_types,
            enabled,
            disabled_at,
            disabled_reason,
            created_at,
            created_by,
            updated_at,
            changed_by,
            earlier_secret_until,
            position,
        }
    }
}

fn issued((stored, secret): &(Stored<Webhook>, WebhookSecret)) -> Stored<IssuedWebhook> {
    stored.clone().map(|webhook| IssuedWebhook::new(webhook, secret))
}

/// One row of the list of tries.
#[derive(Serialize, ToSchema)]
struct AttemptRow {
    /// The try.
    attempt: Attempt,
}

/// One page of the list of tries.
#[derive(Serialize, ToSchema)]
struct AttemptPage {
    /// The rows of this page.
    rows: Vec<AttemptRow>,
    /// Cursor of the next page, to be sent as `cursor` with the same filters; absent on the last page.
    #[serde(skip_serializing_if = "Option::is_none")]
    next: Option<String>,
}

/// Which tries a list shows.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `AttemptQuery` reads")]
struct AttemptParameters {
    /// Those of one event.
    event: Option<Uuid>,
}

struct AttemptQuery {
    event: Option<Uuid>,
    paging: Paging,
}

impl FromQuery for AttemptQuery {
    fn read(reader: &mut Reader) -> Self {
        AttemptQuery { event: reader.id("event"), paging: Paging::read(reader) }
    }
}

/// Make a webhook
///
/// Events that happen from now on are sent to its address, each as the CloudEvent that `/v1/events` has, by POST with the
/// headers of Standard Webhooks: `webhook-id` (the event's identifier, the same however often it is sent),
/// `webhook-timestamp` and `webhook-signature`. Any 2xx within 15 seconds takes it. Anything else is tried again with growing
/// pauses for three days. Its secret is in this answer and is never shown again, not even to the same Idempotency-Key.
#[utoipa::path(tag = "webhooks", operation_id = "create_webhook", params(IdempotencyKeyHeader),
    request_body(content = WebhookEntry, description = "Where events are sent to, and which."),
    extensions(("x-problems" = json!(["not-allowed", "shown-once"]))),
    responses((status = 201, description = "The webhook and its secret.", body = IssuedWebhook,
        headers(("Location" = String, description = "Its address."), ("ETag" = String, description = "Its version.")))))]
#[post("/v1/webhooks")]
async fn create_webhook(
    _: Query<NoParameters>,
    service: Acting,
    creation: Creation<WebhookEntry>,
) -> Result<HttpResponse, Problem> {
    let answer = |made: &(Stored<Webhook>, WebhookSecret)| Answer {
        shows_secret: true,
        ..once::created(&issued(made), &format!("{PATH}/{}", made.0.value.id))
    };
    creation.once(&service, async |entry, once| service.create_webhook(entry, once).await, answer).await
}

/// List webhooks
///
/// Newest first, in pages, each with how telling it goes.
#[utoipa::path(tag = "webhooks", operation_id = "list_webhooks", params(PagingParameters),
    responses((status = 200, description = "A page of webhooks.", body = WebhookPage,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/webhooks")]
async fn list_webhooks(request: HttpRequest, service: Acting, query: Query<Paging>) -> Result<HttpResponse, Problem> {
    let paging = query.0;
    let after = paging.after(PATH, &[])?;
    let after = after.map(|id| Uuid::try_parse(&id).map_err(|_| paging::unknown_cursor())).transpose()?;
    let page = service.list_webhooks(after, paging.limit).await?;
    let row = |stored: Stored<Webhook>| {
        let id = stored.value.id.to_string();
        WebhookRow::new(PATH, &id, stored)
    };
    let rows = page.rows.into_iter().map(row).collect();
    Ok(paging::answer(&request, &paging, &[], page.next_after, |next| WebhookPage { rows, next }))
}

/// Read a webhook
///
/// Everything but its secret. Its ETag changes with what is said of it; that it was told something is no change.
#[utoipa::path(tag = "webhooks", operation_id = "read_webhook",
    params(("id" = Uuid, Path, description = "Identifier of the webhook.")),
    responses((status = 200, description = "The webhook.", body = Webhook, headers(("ETag" = String, description = "Its version.")))))]
#[get("/v1/webhooks/{id}")]
async fn read_webhook(_: Query<NoParameters>, service: Acting, id: Id) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.webhook(id.0).await?))
}

/// Replace a webhook
///
/// Another address, other types, or enabled again: then all that waits for it is tried at once. What happened while it was
/// disabled is sent too.
#[utoipa::path(tag = "webhooks", operation_id = "replace_webhook",
    params(("id" = Uuid, Path, description = "Identifier of the webhook."), IfMatchHeader),
    request_body(content = WebhookEntry, description = "Where events are sent to, and which."),
    responses((status = 200, description = "The webhook as it stands now.", body = Webhook, headers(("ETag" = String, description = "Its version.")))))]
#[put("/v1/webhooks/{id}")]
async fn replace_webhook(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    entry: Body<WebhookEntry>,
) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.replace_webhook(id.0, entry.0, seen.0).await?))
}

/// Delete a webhook
///
/// With all that was still to be sent, and the list of what was tried.
#[utoipa::path(tag = "webhooks", operation_id = "delete_webhook",
    params(("id" = Uuid, Path, description = "Identifier of the webhook."), IfMatchHeader),
    responses((status = 204, description = "It is gone.")))]
#[delete("/v1/webhooks/{id}")]
async fn delete_webhook(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    service.delete_webhook(id.0, seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Rotate a webhook's secret
///
/// Gives it a new secret, shown in this answer only. For the stated overlap each event is signed with both, so that the
/// target can change over in peace; a secret from a rotation before that ends at once.
#[utoipa::path(tag = "webhooks", operation_id = "rotate_webhook",
    params(("id" = Uuid, Path, description = "Identifier of the webhook."), IfMatchHeader),
    request_body(content = RotationRequest, description = "How long both secrets sign."),
    responses((status = 200, description = "The webhook and its new secret.", body = IssuedWebhook,
        headers(("ETag" = String, description = "Its version.")))))]
#[post("/v1/webhooks/{id}/rotations")]
async fn rotate_webhook(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    request: Body<RotationRequest>,
) -> Result<HttpResponse, Problem> {
    let rotated = service.rotate_webhook(id.0, request.0, seen.0).await?;
    Ok(once::not_kept(etag::written(StatusCode::OK, &issued(&rotated))))
}

/// Have events sent once more
///
/// One event, or all from one position to another that the webhook is told of, up to 10,000; with the same identifiers, so
/// that who has met them knows. What was given up comes again so. Sent twice, this asks for the same.
#[utoipa::path(tag = "webhooks", operation_id = "replay_events",
    params(("id" = Uuid, Path, description = "Identifier of the webhook.")),
    request_body(content = ReplayRequest, description = "Which events."),
    responses((status = 200, description = "How many will be sent.", body = Replay)))]
#[post("/v1/webhooks/{id}/replays")]
async fn replay_events(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    request: Body<ReplayRequest>,
) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(service.replay(id.0, &request.0).await?))
}

/// List what was tried
///
/// Newest first, in pages: every try to send an event to this webhook, what came of it and when it is tried again. Tries are
/// kept for 30 days, and the last 10,000 of a webhook.
#[utoipa::path(tag = "webhooks", operation_id = "list_webhook_attempts",
    params(("id" = Uuid, Path, description = "Identifier of the webhook."), AttemptParameters, PagingParameters),
    responses((status = 200, description = "A page of tries.", body = AttemptPage,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/webhooks/{id}/attempts")]
async fn list_webhook_attempts(
    request: HttpRequest,
    service: Acting,
    id: Id,
    query: Query<AttemptQuery>,
) -> Result<HttpResponse, Problem> {
    let AttemptQuery { event, paging } = query.0;
    let filters: &Filters = &[("event", event.map(|id| id.to_string()))];
    let after = paging.after(request.path(), filters)?;
    let after = after.map(|id| Uuid::try_parse(&id).map_err(|_| paging::unknown_cursor())).transpose()?;
    let page = service.list_attempts(id.0, event, after, paging.limit).await?;
    let rows = page.rows.into_iter().map(|attempt| AttemptRow { attempt }).collect();
    Ok(paging::answer(&request, &paging, filters, page.next_after, |next| AttemptPage { rows, next }))
}
